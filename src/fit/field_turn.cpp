#include "fit/field_turn.hpp"

#include <algorithm>
#include <cmath>

#include "fit/least_squares.hpp"
#include "fit/trace.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::fit {

namespace {

// One reading of a kit's amps over their mean: takes, standby, a monitor switched on. From memory, as if four readings
// had shown it.
constexpr double kLoadScatter = 0.25;
constexpr double kLoadReadings = 4.0;
constexpr double kLoadLasts_s = 900.0;  // a load stays as it is about so long; from memory
constexpr double kClamp = 0.03;         // a clamp meter, each time alike; from memory
// A display of tenths of a volt; a finer one tells no more, as what flowed in the minutes before is only sampled. And
// volts a cell the model is off by, each time alike: docs/accuracy.md.
constexpr double kVolts_sd = 0.05;
constexpr double kModel_v = 0.02;
// Before any reading; ln where a factor. Two metres of lead with its contacts; where the kit was nobody said. From
// memory.
constexpr double kLead_ohm = 0.06;
constexpr double kLeadDoubt = 0.7;
constexpr double kAir_k = 288.15;
constexpr double kAirDoubt_k = 8.0;
constexpr double kUntoldCharge = 0.6;
constexpr double kUntoldDoubt = 0.3;
constexpr double kSameTime_s = 120.0;  // amps read so near to volts are those under which they were read
// Amps that differ by more than this share within so long were read at loads switched for it, which stood for about so
// long; from memory.
constexpr double kSwitchedShare = 0.25, kSwitchedWithin_s = 300.0, kSwitchedFor_s = 60.0;
constexpr double kStep_s = 0.5;  // in which a load is switched
constexpr int kMostRounds = 15;
constexpr double kLeastDepth = 0.02;

// Amps over the turn: straight between readings, their mean at its ends.
struct Course {
  std::vector<double> at_s, amps;
  double mean_a = 0.0;
  double one_share = 0.0;   // a single reading over the mean, one standard deviation
  double mean_share = 0.0;  // the mean

  [[nodiscard]] double at(double t_s) const {
    const auto after = std::upper_bound(at_s.begin(), at_s.end(), t_s);
    if (after == at_s.begin()) return amps.front();
    if (after == at_s.end()) return amps.back();
    const auto k = static_cast<std::size_t>(after - at_s.begin());
    return amps[k - 1] + (amps[k] - amps[k - 1]) * (t_s - at_s[k - 1]) / (at_s[k] - at_s[k - 1]);
  }
  [[nodiscard]] double drawn_as(double from_s, double to_s) const {
    double sum = 0.0;
    double t = from_s;
    double a = at(from_s);
    const auto to = [&](double next_s, double next_a) {
      sum += 0.5 * (a + next_a) * (next_s - t);
      t = next_s;
      a = next_a;
    };
    for (std::size_t k = 0; k < at_s.size(); ++k) {
      if (at_s[k] > from_s && at_s[k] < to_s) to(at_s[k], amps[k]);
    }
    to(to_s, at(to_s));
    return sum;
  }
};

// Which readings of amps were taken with something switched off for them: the lower of two within minutes that differ.
std::vector<bool> switched(const std::vector<FieldTurn::Read>& amps) {
  std::vector<bool> out(amps.size(), false);
  std::size_t usual = 0;
  for (std::size_t k = 1; k < amps.size(); ++k) {
    const double a = amps[usual].value, b = amps[k].value;
    const bool near = amps[k].at_s - amps[usual].at_s <= kSwitchedWithin_s;
    if (near && std::fabs(a - b) > kSwitchedShare * std::max(std::fabs(a), std::fabs(b))) {
      out[a < b ? usual : k] = true;
      if (b <= a) continue;
    }
    usual = k;
  }
  return out;
}

// The mean's scatter over one reading's: each stands for the time half way to its neighbours, w of the whole W, and is
// independent of them where that is long, so sqrt(sum w^2 min(1, w / kLoadLasts_s)) / W: 1/sqrt(n) of n evenly spaced.
double sampled_share(const FieldTurn& turn, const std::vector<bool>& apart) {
  std::vector<double> at_s;
  for (std::size_t k = 0; k < apart.size(); ++k) {
    if (!apart[k]) at_s.push_back(turn.amps[k].at_s);
  }
  const double whole_s = std::max(turn.until_s, 1.0);
  double sum = 0.0;
  for (std::size_t k = 0; k < at_s.size(); ++k) {
    const double from_s = k > 0 ? 0.5 * (at_s[k - 1] + at_s[k]) : 0.0;
    const double until_s = k + 1 < at_s.size() ? 0.5 * (at_s[k] + at_s[k + 1]) : whole_s;
    const double w = (until_s - from_s) / whole_s;
    sum += w * w * std::min(1.0, (until_s - from_s) / kLoadLasts_s);
  }
  return std::sqrt(sum);
}

Course course_of(const FieldTurn& turn) {
  Course out;
  const std::vector<bool> apart = switched(turn.amps);
  const auto n = static_cast<double>(std::count(apart.begin(), apart.end(), false));
  const auto each_usual = [&](const auto& visit) {
    for (std::size_t k = 0; k < turn.amps.size(); ++k) {
      if (!apart[k]) visit(turn.amps[k]);
    }
  };
  each_usual([&](const FieldTurn::Read& read) { out.mean_a += read.value / n; });
  double square = 0.0;
  each_usual([&](const FieldTurn::Read& read) {
    square += (read.value / out.mean_a - 1.0) * (read.value / out.mean_a - 1.0);
  });
  out.one_share = std::sqrt((kLoadReadings * kLoadScatter * kLoadScatter + square) / (kLoadReadings + n - 1.0));
  out.mean_share = std::hypot(out.one_share * sampled_share(turn, apart), kClamp);
  Course usual;
  const auto put = [](Course& into, double at_s, double amps) {
    if (!into.at_s.empty() && at_s <= into.at_s.back()) return;
    into.at_s.push_back(at_s);
    into.amps.push_back(amps);
  };
  if (apart.front() || turn.amps.front().at_s > 0.0) put(usual, 0.0, out.mean_a);
  each_usual([&](const FieldTurn::Read& read) { put(usual, read.at_s, read.value); });
  put(usual, turn.until_s, out.mean_a);
  // Switched ones step down and up again, at most half way to their neighbours.
  for (std::size_t k = 0; k < turn.amps.size(); ++k) {
    const double at_s = turn.amps[k].at_s;
    if (!apart[k]) {
      put(out, at_s, turn.amps[k].value);
      continue;
    }
    const double before_s = k > 0 ? 0.5 * (turn.amps[k - 1].at_s + at_s) : 0.0;
    const double after_s = k + 1 < turn.amps.size() ? 0.5 * (at_s + turn.amps[k + 1].at_s) : turn.until_s;
    const double from_s = std::max(at_s - kSwitchedFor_s, before_s);
    const double until_s = std::min(at_s + kSwitchedFor_s, after_s);
    put(out, from_s - kStep_s, usual.at(from_s));
    put(out, from_s, turn.amps[k].value);
    put(out, until_s, turn.amps[k].value);
    put(out, until_s + kStep_s, usual.at(until_s));
  }
  if (out.at_s.empty() || out.at_s.front() > 0.0) {
    out.at_s.insert(out.at_s.begin(), 0.0);
    out.amps.insert(out.amps.begin(), usual.at(0.0));
  }
  put(out, turn.until_s, usual.at(turn.until_s));
  return out;
}

struct Unknowns {
  double capacity, resistance, start_charge, load, lead_ohm, air_k, model_v;
};

class Day {
 public:
  Day(const cell::PackParams& pack, const FieldTurn& turn, const Course& course) : pack_(pack), turn_(turn) {
    const double cells = pack.series * pack.parallel;
    cell_ = pack.cell;
    cell_.heat_capacity_j_k = pack.heat_capacity_j_k / cells;
    cell_.cooling_w_k = pack.cooling_w_k / cells;
    std::vector<double> times = course.at_s;
    for (const auto& told : turn.told) times.push_back(told.at_s);
    for (const auto& read : turn.volts) times.push_back(read.at_s);
    std::sort(times.begin(), times.end());
    times.erase(std::unique(times.begin(), times.end()), times.end());
    for (const double t : times) {
      log_.t_s.push_back(t);
      log_.amps.push_back(course.at(t) / pack.parallel);
    }
    log_.volts.assign(times.size(), 0.0);
    const bool told_first = !turn.told.empty() && turn.told.front().at_s <= 0.0;
    start_ = told_first ? turn.told.front().charge : kUntoldCharge;
    start_sd_ = told_first ? turn.told.front().sd : kUntoldDoubt;
    first_told_ = told_first ? 1 : 0;
    load_sd_ = course.mean_share;
    // Volts read without amps are off by what the load may have been just then.
    const Trace as_believed = run(unknowns(Eigen::VectorXd::Zero(kUnknowns)));
    for (const auto& read : turn.volts) {
      const bool with_amps = std::any_of(turn.amps.begin(), turn.amps.end(), [&](const auto& amps) {
        return std::fabs(amps.at_s - read.at_s) <= kSameTime_s;
      });
      const std::size_t k = row(read.at_s);
      const double lost_v =
          std::fabs(cell_.ocv.value(std::clamp(as_believed.charge[k], 0.0, 1.0)) - as_believed.volts[k]) +
          log_.amps[k] * pack.parallel * (pack.electronics_ohm + kLead_ohm) / pack.series;
      volts_sd_.push_back(std::hypot(kVolts_sd / pack.series, with_amps ? 0.0 : course.one_share * lost_v));
    }
  }

  static constexpr Eigen::Index kUnknowns = 7;

  [[nodiscard]] Unknowns unknowns(const Eigen::VectorXd& x) const {
    return {.capacity = maths::exp(kCapacityDoubt * x[0]),
            .resistance = resistance_at(x[1]),
            .start_charge = start_ + start_sd_ * x[2],
            .load = maths::exp(load_sd_ * x[3]),
            .lead_ohm = kLead_ohm * maths::exp(kLeadDoubt * x[4]),
            .air_k = kAir_k + kAirDoubt_k * x[5],
            .model_v = kModel_v * x[6]};
  }

  [[nodiscard]] Eigen::VectorXd residuals(const Eigen::VectorXd& x) const {
    const Unknowns u = unknowns(x);
    const Trace trace = run(u);
    const auto told = static_cast<Eigen::Index>(turn_.told.size() - first_told_);
    Eigen::VectorXd out(kUnknowns + told + static_cast<Eigen::Index>(turn_.volts.size()));
    out.head(kUnknowns) = x;
    Eigen::Index at = kUnknowns;
    for (std::size_t k = first_told_; k < turn_.told.size(); ++k)
      out[at++] = (trace.charge[row(turn_.told[k].at_s)] - turn_.told[k].charge) / turn_.told[k].sd;
    for (std::size_t k = 0; k < turn_.volts.size(); ++k) {
      const std::size_t r = row(turn_.volts[k].at_s);
      const double lost_v =
          u.load * log_.amps[r] * pack_.parallel * (pack_.electronics_ohm + u.lead_ohm) / pack_.series;
      out[at++] = (trace.volts[r] + u.model_v - lost_v - turn_.volts[k].value / pack_.series) / volts_sd_[k];
    }
    return out;
  }

  // What the solution still misses and how far it strayed from what was believed, a reading (1 on the mean where the
  // readings are what they are taken for); and the unknown that strayed most, in standard deviations.
  [[nodiscard]] double misfit(const Solution& found) const {
    return std::sqrt(2.0 * found.cost / static_cast<double>(turn_.volts.size() + turn_.told.size() - first_told_));
  }
  static double strain(const Solution& found) { return found.x.cwiseAbs().maxCoeff(); }

 private:
  [[nodiscard]] std::size_t row(double at_s) const {
    return static_cast<std::size_t>(std::lower_bound(log_.t_s.begin(), log_.t_s.end(), at_s) - log_.t_s.begin());
  }
  [[nodiscard]] Trace run(const Unknowns& u) const {
    Log log = log_;
    for (double& a : log.amps) a *= u.load;
    log.ambient_k = log.start_k = u.air_k;
    return trace(cell::aged(cell_, {u.capacity, u.resistance}), log, u.start_charge);
  }

  const cell::PackParams& pack_;
  const FieldTurn& turn_;
  cell::CellParams cell_;
  Log log_;
  double start_ = 1.0, start_sd_ = 0.0, load_sd_ = 0.0;
  std::size_t first_told_ = 0;
  std::vector<double> volts_sd_;
};

}  // namespace

FieldFound field_turn(const cell::PackParams& as_new, const FieldTurn& turn) {
  FieldFound out;
  const Course course = course_of(turn);
  if (!(course.mean_a > 0.0)) return out;
  out.drawn_share = course.mean_share;
  out.drawn_ah = course.drawn_as(0.0, turn.until_s) / 3600.0;
  if (turn.told.size() > 1) {
    const FieldTurn::Told& first = turn.told.front();
    const FieldTurn::Told& last = turn.told.back();
    out.drawn_ah = course.drawn_as(first.at_s, last.at_s) / 3600.0;
    out.depth = first.charge - last.charge;
    if (out.depth > kLeastDepth && out.drawn_ah > 0.0) {
      const double of_depth = std::hypot(first.sd, last.sd) / out.depth;
      out.by_charge = Factor{3600.0 * out.drawn_ah / out.depth / (as_new.cell.capacity_as * as_new.parallel),
                             std::hypot(of_depth, out.drawn_share)};
      if (out.by_charge->ln_sd <= kTellsCapacity) out.capacity = out.by_charge;
    }
  }
  // Volts under a load switched for them tell how far they follow it, and not the charge; of a lead that nobody
  // measured they say as much.
  FieldTurn usual = turn;
  const std::vector<bool> apart = switched(turn.amps);
  std::erase_if(usual.volts, [&](const FieldTurn::Read& read) {
    for (std::size_t k = 0; k < apart.size(); ++k) {
      if (apart[k] && std::fabs(turn.amps[k].at_s - read.at_s) <= kSwitchedFor_s) return true;
    }
    return false;
  });
  if (usual.volts.empty()) return out;
  const Day day(as_new, usual, course);
  const Solution found = least_squares([&](const Eigen::VectorXd& x) { return day.residuals(x); },
                                       Eigen::VectorXd::Zero(Day::kUnknowns), kMostRounds);
  out.volts_fit = day.misfit(found) <= kMostMisfit && Day::strain(found) <= kMostStrain;
  if (!*out.volts_fit) return out;
  out.capacity = alone(found.x[0], found.covariance(0, 0), kCapacityDoubt, kTellsCapacity);
  // By how sure the readings make one seen from what was believed: how sure they do at the answer goes with the answer,
  // and those told would be those that came out on one side.
  const Solution believed = least_squares([&](const Eigen::VectorXd& x) { return day.residuals(x); },
                                          Eigen::VectorXd::Zero(Day::kUnknowns), 0);
  if (resistance_sd_alone(believed.covariance(1, 1)) <= kTellsResistance)
    out.resistance = resistance_alone(found.x[1], found.covariance(1, 1));
  return out;
}

}  // namespace tillwrap::fit
