#include "learn/packs_of_day.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <tuple>
#include <utility>

#include "fit/least_squares.hpp"
#include "forecast/changes.hpp"
#include "forecast/simulator.hpp"
#include "learn/moments.hpp"
#include "quantity/maths.hpp"
#include "quantity/order.hpp"

namespace tillwrap::learn {

namespace {

constexpr double kUsualStart_sd = 0.02;
constexpr double kTolerance = 0.3;  // of the stepping: a few tens of microvolts a cell
constexpr double kNudge = 0.02;
constexpr double kTenths_sd = 0.05, kHundredths_sd = 0.02;  // of displays; from memory
constexpr double kAmps_sd = 0.04;                           // of a clamp meter on an ampere or two; from memory
// The pairs that might be read.
constexpr int kPairs = 3;
constexpr double kPairShare = 1.0 / 3.0, kPairApart_s = 80.0;
constexpr double kOffShare = 0.5;  // of a device's cut-off
constexpr double kNoAmps = 0.1;    // from memory: what a clamp meter shows with nothing on
constexpr int kMostRounds = 12;
constexpr double kMostOff = 4.0;  // standard deviations: such a reading is left aside, the farthest first
constexpr std::size_t kMostAside = 3;
constexpr double kMostMisfit = 2.5;  // root mean square of what is missed and strayed, over the readings
// Two packs are named together where their sum is known to less than the first of what was believed of it and their
// difference to more than the second.
constexpr double kSumKnown = 0.6, kDifferenceUnknown = 0.8;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// One piece of the day and its unknowns, all in units of their doubt before.
class Piece {
 public:
  Piece(const forecast::Piece& piece, const std::vector<track::Reading>& readings, std::vector<std::size_t> which,
        const std::vector<Told>& told, const Options& options)
      : piece_(piece), readings_(readings), which_(std::move(which)), options_(options), day_(piece.day) {
    const forecast::Model as_planned(piece.day);
    for (const forecast::PlannedChange& change : forecast::plan_changes(as_planned, options.until_s)) {
      if (change.at_s > options.until_s) continue;
      plan_.push_back(change);
      if (piece.day.holders[at(change.holder)].charger_supply < 0) use(change.pack);
    }
    for (const Told& one : told) {
      const auto local = std::find(piece.packs.begin(), piece.packs.end(), one.pack);
      if (local == piece.packs.end() || one.at_s > options.until_s) continue;
      told_.push_back(one);
      told_.back().pack = static_cast<int>(local - piece.packs.begin());
    }
    const std::vector<Moment> when = moments(readings_, which_);
    for (const Moment& moment : when) {
      moment_share_.push_back(moment.share);
      moment_sd_.push_back(moment.share < 1.0 ? options.on_purpose : options.moment);
    }
    loads_.emplace(day_, when);
    fresh_ = day_;
    for (const std::size_t r : which_) {
      probe_s_.push_back(readings_[r].at_s);
      group_.push_back(groups_.try_emplace(group_of(readings_[r]), groups_.size()).first->second);
    }
    for (const Told& one : told_) probe_s_.push_back(one.at_s);
    std::sort(probe_s_.begin(), probe_s_.end());
    probe_s_.erase(std::unique(probe_s_.begin(), probe_s_.end()), probe_s_.end());
    model_.emplace(day_);
    simulator_.emplace(*model_);
    run_.search_until_s = options.until_s;
    run_.tolerance = kTolerance;
    run_.loss_only = true;
    run_.probe_s = probe_s_;
    run_.stop_s = probe_s_.back();
    left_out_.assign(which_.size(), false);
  }

  [[nodiscard]] const std::vector<int>& packs() const { return packs_; }
  [[nodiscard]] int whole(std::size_t p) const { return piece_.packs[at(packs_[p])]; }
  [[nodiscard]] const day::Pack& pack(std::size_t p) const { return fresh_.packs[at(packs_[p])]; }
  [[nodiscard]] Eigen::Index capacity(std::size_t p) const { return kCommon + 3 * static_cast<Eigen::Index>(p); }
  [[nodiscard]] Eigen::Index resistance(std::size_t p) const { return capacity(p) + 1; }
  [[nodiscard]] Eigen::Index unknowns() const { return bias(groups_.size()); }
  [[nodiscard]] std::size_t equations() const {
    return told_.size() + static_cast<std::size_t>(std::count(left_out_.begin(), left_out_.end(), false));
  }

  // Everything as believed, the load at each moment as its amps have it.
  [[nodiscard]] Eigen::VectorXd believed() const {
    Eigen::VectorXd x = Eigen::VectorXd::Zero(unknowns());
    for (std::size_t m = 0; m < moment_sd_.size(); ++m) {
      if (moment_sd_[m] > 0.0) x[moment(m)] = maths::log(moment_share_[m]) / moment_sd_[m];
    }
    return x;
  }

  // What was believed first, then what is missed of each reading and told charge.
  [[nodiscard]] Eigen::VectorXd residuals(const Eigen::VectorXd& x) {
    put(x);
    simulator_->run(plan_, run_, result_);
    Eigen::VectorXd out(x.size() + static_cast<Eigen::Index>(which_.size() + told_.size()));
    out.head(x.size()) = x;
    Eigen::Index row = x.size();
    for (std::size_t k = 0; k < which_.size(); ++k) {
      const track::Reading& reading = readings_[which_[k]];
      const double computed =
          track::value_of(day_, probe(reading.at_s), reading, track::inside(piece_, reading, reading.index)) +
          reading.model * x[bias(group_[k])];
      out[row++] = left_out_[k] ? 0.0 : (computed - reading.value) / reading.noise;
    }
    for (const Told& one : told_) out[row++] = (probe(one.at_s).charge[at(one.pack)] - one.charge) / one.sd;
    return out;
  }

  // The reading farthest off, where it is off by more than `kMostOff`; as of `which`.
  [[nodiscard]] std::optional<std::size_t> leave_out_the_worst(const Eigen::VectorXd& residuals) {
    const auto n = static_cast<Eigen::Index>(which_.size());
    if (n == 0) return std::nullopt;
    Eigen::Index worst = 0;
    const double off = residuals.segment(unknowns(), n).cwiseAbs().maxCoeff(&worst);
    if (!(off > kMostOff)) return std::nullopt;
    left_out_[static_cast<std::size_t>(worst)] = true;
    return which_[static_cast<std::size_t>(worst)];
  }
  [[nodiscard]] std::vector<std::size_t> weighed() const {
    std::vector<std::size_t> out;
    for (std::size_t k = 0; k < which_.size(); ++k) {
      if (!left_out_[k]) out.push_back(which_[k]);
    }
    return out;
  }

 private:
  enum Common : Eigen::Index { kLoad, kAir, kBag, kLeads, kCommon };

  void use(int pack) {
    if (std::find(packs_.begin(), packs_.end(), pack) == packs_.end()) packs_.push_back(pack);
  }
  // Volts are off alike wherever they are read: it is the model's cells. Amps by their instrument, a gauge by itself, a
  // meter by its scale.
  static std::pair<int, int> group_of(const track::Reading& reading) {
    switch (reading.where) {
      case track::Where::device_v:
        return {0, 0};
      case track::Where::device_a:
      case track::Where::holder_a:
      case track::Where::supply_a:
        return {1, 0};
      case track::Where::gauge:
        return {2, reading.index};
      case track::Where::device_meter:
        break;
    }
    return {3, reading.index};
  }
  [[nodiscard]] Eigen::Index moment(std::size_t m) const {
    return capacity(packs_.size()) + static_cast<Eigen::Index>(m);
  }
  [[nodiscard]] Eigen::Index bias(std::size_t group) const {
    return moment(moment_sd_.size()) + static_cast<Eigen::Index>(group);
  }

  void put(const Eigen::VectorXd& x) {
    const odds::Spread& s = options_.spread;
    const double devices = std::max(1.0, static_cast<double>(fresh_.devices.size()));
    const double load = maths::exp(std::sqrt(s.load * s.load + s.load_each * s.load_each / devices) * x[kLoad]);
    for (std::size_t d = 0; d < day_.devices.size(); ++d) day_.devices[d].scale = fresh_.devices[d].scale * load;
    for (std::size_t k = 0; k < day_.periods.size(); ++k)
      day_.periods[k].air_k = fresh_.periods[k].air_k + s.air_k * x[kAir];
    for (std::size_t k = 0; k < day_.places.size(); ++k)
      day_.places[k].cooling_w_k = fresh_.places[k].cooling_w_k * maths::exp(s.bag * x[kBag]);
    const double leads = maths::exp(options_.leads * x[kLeads]);
    for (std::size_t k = 0; k < day_.leads.size(); ++k) {
      day_.leads[k].cable_ohm = fresh_.leads[k].cable_ohm * leads;
      day_.leads[k].contact_ohm = fresh_.leads[k].contact_ohm * leads;
    }
    for (std::size_t k = 0; k < day_.holders.size(); ++k)
      day_.holders[k].contact_ohm = fresh_.holders[k].contact_ohm * leads;
    for (std::size_t p = 0; p < packs_.size(); ++p) {
      const day::Pack& from = pack(p);
      day::Pack& to = day_.packs[at(packs_[p])];
      to.params.cell =
          cell::aged(from.params.cell, {.capacity_fraction = maths::exp(options_.capacity * x[capacity(p)]),
                                        .resistance_factor = fit::resistance_at(x[resistance(p)])});
      const auto whole_pack = static_cast<std::size_t>(whole(p));
      const double sd = whole_pack < options_.start_sd.size() ? options_.start_sd[whole_pack] : kUsualStart_sd;
      to.start_charge = std::clamp(from.start_charge + sd * x[capacity(p) + 2], 0.0, 1.05);
    }
    std::vector<double> factors(moment_sd_.size());
    for (std::size_t m = 0; m < factors.size(); ++m) factors[m] = maths::exp(moment_sd_[m] * x[moment(m)]);
    loads_->put(day_, factors);
  }
  [[nodiscard]] const forecast::Probe& probe(double at_s) const {
    const auto found = std::lower_bound(probe_s_.begin(), probe_s_.end(), at_s);
    return result_.probes[static_cast<std::size_t>(found - probe_s_.begin())];
  }

  const forecast::Piece& piece_;
  const std::vector<track::Reading>& readings_;
  std::vector<std::size_t> which_;
  const Options& options_;
  day::Scenario day_, fresh_;
  forecast::ChangePlan plan_;
  std::vector<int> packs_;  // local
  std::vector<Told> told_;  // local
  std::vector<double> moment_sd_, moment_share_;
  std::optional<MomentLoads> loads_;
  std::map<std::pair<int, int>, std::size_t> groups_;
  std::vector<std::size_t> group_;  // of each reading
  std::vector<double> probe_s_;
  std::optional<forecast::Model> model_;
  std::optional<forecast::Simulator> simulator_;
  forecast::RunOptions run_;
  forecast::DayRun result_;
  std::vector<bool> left_out_;
};

// `believed`: how sure the readings make one, seen from what was believed. By that it is decided what they tell: how
// sure they make one at the answer goes with the answer, and those told would be those that came out on one side.
void tell(const Piece& piece, const fit::Solution& found, const fit::Solution& believed, const Options& options,
          Found& out) {
  const auto variance = [&](Eigen::Index i) { return found.covariance(i, i); };
  for (std::size_t p = 0; p < piece.packs().size(); ++p) {
    const Eigen::Index c = piece.capacity(p), r = piece.resistance(p);
    out.packs.push_back({.pack = piece.whole(p),
                         .capacity = fit::alone(found.x[c], variance(c), options.capacity, fit::kTellsCapacity),
                         .resistance = fit::resistance_sd_alone(believed.covariance(r, r)) <= fit::kTellsResistance
                                           ? fit::resistance_alone(found.x[r], variance(r))
                                           : std::nullopt,
                         .capacity_left = std::sqrt(variance(c)),
                         .resistance_left = std::sqrt(variance(r))});
  }
  for (std::size_t p = 0; p < piece.packs().size(); ++p) {
    for (std::size_t q = p + 1; q < piece.packs().size(); ++q) {
      const Eigen::Index a = piece.capacity(p), b = piece.capacity(q);
      // Of the sum and the difference over root two, each of variance 1 before.
      const double sum = 0.5 * (variance(a) + variance(b)) + found.covariance(a, b);
      const double difference = 0.5 * (variance(a) + variance(b)) - found.covariance(a, b);
      if (!(sum < kSumKnown * kSumKnown && difference > kDifferenceUnknown * kDifferenceUnknown)) continue;
      const auto together = fit::alone(std::sqrt(0.5) * (found.x[a] + found.x[b]), sum,
                                       std::sqrt(0.5) * options.capacity, fit::kTellsCapacity);
      if (together) out.inseparable.push_back({piece.whole(p), piece.whole(q), *together});
    }
  }
}

fit::Solution as_believed(Piece& day) {
  return fit::least_squares([&](const Eigen::VectorXd& x) { return day.residuals(x); }, day.believed(), 0, {}, kNudge);
}

// Each pair: a minute before and a minute after most was switched off. What it would show does not matter for how sure
// it makes one, but that the second is the lighter does.
void add_pairs(std::vector<track::Reading>& readings, std::vector<std::size_t>& which, const track::Reading& volts,
               const std::vector<int>& holders, double from_s, double until_s) {
  for (int k = 0; k < kPairs; ++k) {
    const double at_s = from_s + (until_s - from_s) * (k + 0.5) / kPairs;
    for (const double share : {1.0, kPairShare}) {
      const double read_s = at_s + (share < 1.0 ? kPairApart_s : 0.0);
      const auto add = [&](track::Where where, int index, double value, double noise, double model) {
        which.push_back(readings.size());
        readings.push_back(
            {.where = where, .index = index, .at_s = read_s, .value = value, .noise = noise, .model = model});
      };
      add(track::Where::device_v, volts.index, 0.0, kHundredths_sd, volts.model);
      for (const int holder : holders) add(track::Where::holder_a, holder, share, kAmps_sd, kAmps_sd);
    }
  }
}

// Volts at which no device of the catalogue works: it was off, or the number was mistyped.
bool reads_off(const day::Scenario& day, const track::Reading& reading) {
  if (reading.where != track::Where::device_v) return false;
  const day::Device& device = day.devices[at(reading.index)];
  double cutoff_v = device.cutoff_v;
  if (device.inputs.size() > 1) {
    cutoff_v = device.inputs.front().cutoff_v;
    for (const day::DeviceInput& input : device.inputs) cutoff_v = std::min(cutoff_v, input.cutoff_v);
  }
  return reading.value < kOffShare * cutoff_v;
}

// Takes out what was read of a kit that was off, and returns it: volts below any that run a device, and amps of next to
// nothing read with them. A computed day goes dark in a jump that no search by slopes crosses, and why a kit is dark
// (a flat pack, a switch, a plug) nothing here tells.
std::vector<std::size_t> take_out_off(const day::Scenario& day, const std::vector<track::Reading>& readings,
                                      std::vector<std::size_t>& which) {
  std::vector<double> off_s;
  for (const std::size_t r : which) {
    if (reads_off(day, readings[r])) off_s.push_back(readings[r].at_s);
  }
  const auto is_off = [&](std::size_t r) {
    const track::Reading& reading = readings[r];
    if (reads_off(day, reading)) return true;
    return of_amps(reading.where) && std::fabs(reading.value) <= kNoAmps &&
           std::any_of(off_s.begin(), off_s.end(),
                       [&](double at_s) { return std::fabs(at_s - reading.at_s) <= kTogether_s; });
  };
  std::vector<std::size_t> off;
  std::copy_if(which.begin(), which.end(), std::back_inserter(off), is_off);
  std::erase_if(which, is_off);
  return off;
}

}  // namespace

double volts_scatter(const std::vector<double>& volts) {
  const bool tenths = std::all_of(volts.begin(), volts.end(),
                                  [](double v) { return std::fabs(10.0 * v - std::round(10.0 * v)) < 1e-6; });
  return tenths ? kTenths_sd : kHundredths_sd;
}

Found packs_of_day(const day::Scenario& scenario, const std::vector<track::Reading>& readings,
                   const std::vector<Told>& told, const Options& options) {
  Found out;
  for (const forecast::Piece& piece : forecast::split(scenario)) {
    std::vector<std::size_t> which;
    for (std::size_t r = 0; r < readings.size(); ++r) {
      if (readings[r].at_s <= options.until_s && track::inside(piece, readings[r], readings[r].index) >= 0)
        which.push_back(r);
    }
    const std::vector<std::size_t> off = take_out_off(scenario, readings, which);
    out.off.insert(out.off.end(), off.begin(), off.end());
    const bool any_told = std::any_of(told.begin(), told.end(), [&](const Told& one) {
      return std::find(piece.packs.begin(), piece.packs.end(), one.pack) != piece.packs.end();
    });
    if (piece.packs.empty() || (which.empty() && !any_told)) continue;
    sort_stably(which, [&](std::size_t a, std::size_t b) { return readings[a].at_s < readings[b].at_s; });
    Piece day(piece, readings, which, told, options);
    if (day.packs().empty()) continue;
    const auto missed = [&](const Eigen::VectorXd& x) { return day.residuals(x); };
    fit::Solution found = fit::least_squares(missed, day.believed(), kMostRounds, {}, kNudge);
    std::size_t aside = 0;
    for (; aside < kMostAside; ++aside) {
      const auto worst = day.leave_out_the_worst(missed(found.x));
      if (!worst) break;
      out.aside.push_back(*worst);
      found = fit::least_squares(missed, found.x, kMostRounds, {}, kNudge);
    }
    const double misfit = std::sqrt(2.0 * found.cost / static_cast<double>(std::max<std::size_t>(1, day.equations())));
    if (misfit > kMostMisfit || 2 * aside > which.size()) {
      out.fits = false;
      continue;
    }
    for (const std::size_t r : day.weighed()) out.weighed.push_back(r);
    const std::size_t first = out.packs.size();
    tell(day, found, as_believed(day), options, out);
    const auto volts = std::find_if(which.begin(), which.end(),
                                    [&](std::size_t r) { return readings[r].where == track::Where::device_v; });
    if (volts == which.end()) continue;
    std::vector<track::Reading> more = readings;
    std::vector<std::size_t> with_pairs = which;
    add_pairs(more, with_pairs, readings[*volts], piece.holders, piece.day.periods.front().from_s, options.until_s);
    sort_stably(with_pairs, [&](std::size_t a, std::size_t b) { return more[a].at_s < more[b].at_s; });
    Piece better(piece, more, with_pairs, told, options);
    const fit::Solution there = as_believed(better);
    for (std::size_t p = 0; p < better.packs().size(); ++p) {
      const Eigen::Index r = better.resistance(p);
      if (!out.packs[first + p].resistance)
        out.packs[first + p].with_pairs_sd = fit::resistance_sd_alone(there.covariance(r, r));
    }
  }
  return out;
}

}  // namespace tillwrap::learn
