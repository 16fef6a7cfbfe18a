#include "forecast/bench_run.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "quantity/maths.hpp"

namespace tillwrap::forecast {

namespace {

using cell::CellRates;
using cell::PackParams;
using cell::PackPoint;
using cell::PackState;

constexpr double kNever = 1e300;
constexpr double kShortest_s = 1e-3;
constexpr double kEvent_s = 0.02;   // events are located to this
constexpr double kEmptiest = -0.5;  // a run with no other end stops here
constexpr double kTenPercent = 0.10;

void check(const BenchLoad& load) {
  const bool profile = load.kind == BenchLoad::Kind::power_profile || load.kind == BenchLoad::Kind::current_profile;
  if (!profile) {
    if (!std::isfinite(load.value)) throw std::invalid_argument("the load is not a finite number");
    if (load.kind == BenchLoad::Kind::resistance && !(load.value > 0.0)) {
      throw std::invalid_argument("a resistance must be above 0 ohm");
    }
    for (const Duty& duty : load.duty) {
      if (!(duty.on_s >= kShortest_s) || !(duty.period_s >= duty.on_s)) {
        throw std::invalid_argument("a duty needs a time on of at least 1 ms and a period at least as long");
      }
    }
    return;
  }
  const std::size_t n = load.profile_t_s.size();
  if (n < 2) throw std::invalid_argument("a profile needs at least two lines");
  if (load.profile_value.size() != n) throw std::invalid_argument("a profile needs one value a time");
  if (!load.measured_v.empty() && load.measured_v.size() != n) {
    throw std::invalid_argument("a profile needs one measured voltage a time, or none");
  }
  if (!load.duty.empty()) throw std::invalid_argument("a profile has its own rests: no duty with it");
  for (std::size_t k = 0; k < n; ++k) {
    if (!std::isfinite(load.profile_t_s[k]) || !std::isfinite(load.profile_value[k])) {
      throw std::invalid_argument("profile line " + std::to_string(k + 1) + " is not a finite number");
    }
    if (k > 0 && !(load.profile_t_s[k] > load.profile_t_s[k - 1])) {
      throw std::invalid_argument("profile line " + std::to_string(k + 1) + " does not lie after the line before it");
    }
  }
}

// What the load asks for just now.
struct Demand {
  enum class Kind { power, current, resistance } kind = Kind::current;
  double value = 0.0;
};

// Everything that moves while the run goes on.
struct Moment {
  PackState state{};
  CellRates rates{};
  PackPoint point{};
  double load_a = 0.0;
  bool possible = true;  // false: no current delivers the power
};

class Run {
 public:
  Run(const PackParams& source, const BenchLoad& load, const BenchStart& start, const BenchLimits& limits)
      : source_(source), load_(load), limits_(limits), ambient_k_(start.ambient_k) {
    check(load);
    double charge = start.charge.value_or(1.0);
    if (!start.charge && start.rested_v) charge = cell::charge_at_rest(source.cell, *start.rested_v / source.series);
    now_.state = cell::rested(source, charge, start.start_k);
    now_.rates = cell::rates_at(source.cell, start.start_k);
    result_.warmest_k = start.start_k;
    profile_ = load.kind == BenchLoad::Kind::power_profile || load.kind == BenchLoad::Kind::current_profile;
    if (profile_) at_s_ = load.profile_t_s.front();
    zero_s_ = std::max(0.0, at_s_);
  }

  BenchResult go() {
    if (profile_) {
      follow_profile();
    } else {
      follow_steady();
    }
    result_.duration_s = at_s_ - zero_s_;
    result_.mean_v = result_.charge_ah != 0.0 ? result_.energy_wh / result_.charge_ah : 0.0;
    if (measured_ > 0) result_.rms_error_v = std::sqrt(squares_ / static_cast<double>(measured_));
    return std::move(result_);
  }

 private:
  // Current into the load at this state, from the source's curve: V(I) I = P, V(I) = I R, or given.
  Moment settle(const PackState& state, const CellRates& rates, const Demand& demand, double guess_a) const {
    Moment m{.state = state, .rates = rates};
    const double idle = source_.idle_a;
    const auto at = [&](double a) { return cell::evaluate(source_, rates, state, a + idle); };
    if (demand.kind == Demand::Kind::current) {
      m.load_a = demand.value;
      m.point = at(m.load_a);
      return m;
    }
    if (demand.kind == Demand::Kind::resistance) {
      // g(I) = I R - V(I) rises: Newton, held in a bracket.
      // V(0) > 0 bounds the root: below it lies 0, above it the current of the open-circuit volts.
      double lo = 0.0;
      double hi = kNever;
      double a = std::max(guess_a, 0.0);
      for (int k = 0; k < 60; ++k) {
        m.point = at(a);
        const double g = a * demand.value - m.point.volts;
        (g > 0.0 ? hi : lo) = a;
        double next = a - g / (demand.value - m.point.slope_ohm);
        if (std::fabs(next - a) <= 1e-12 * (1.0 + std::fabs(a))) break;
        if (!(next > lo && next < hi)) next = 0.5 * (lo + hi);
        a = next;
      }
      m.load_a = a;
      m.point = at(a);
      return m;
    }
    if (demand.value == 0.0) {
      m.point = at(0.0);
      return m;
    }
    // f(I) = I V(I) - P. Its lower root is the operating point; right of the peak of I V there is nothing to find.
    double a = guess_a * demand.value > 0.0 ? guess_a : 0.0;
    double lo = demand.value > 0.0 ? 0.0 : -kNever;  // f(lo) < 0
    double hi = demand.value > 0.0 ? kNever : 0.0;   // f(hi) > 0, or past the peak
    for (int k = 0; k < 200; ++k) {
      m.point = at(a);
      const double f = a * m.point.volts - demand.value;
      const double rise = m.point.volts + a * m.point.slope_ohm;
      if (f >= 0.0 || rise <= 0.0) {
        hi = std::min(hi, a);
      } else {
        lo = std::max(lo, a);
      }
      double next = a - f / rise;
      const bool close = rise > 0.0 && std::fabs(next - a) <= 1e-12 * (1.0 + std::fabs(a));
      if (!close && (rise <= 0.0 || !(next > lo && next < hi))) {
        next = hi == kNever || lo == -kNever ? 2.0 * a + demand.value / m.point.open_v : 0.5 * (lo + hi);
      }
      if (close || hi - lo <= 1e-12 * (1.0 + std::fabs(a))) {
        m.possible = std::fabs(f) <= 1e-6 * std::fabs(demand.value);
        m.load_a = a;
        return m;
      }
      a = next;
    }
    m.possible = false;
    m.load_a = a;
    return m;
  }

  // One step without error control: current straight from start to end, rates at the middle temperature, heat as the
  // mean of both ends; repeated until the end current is the one the state was advanced with.
  Moment step(const Moment& from, double h, const Demand& end) const {
    const double idle = source_.idle_a;
    const double start_a = from.load_a + idle;
    const double start_heat = from.point.lost_v * start_a;
    const double t0 = from.state.cell.temperature_k;
    double t1 = cell::warmed_k(source_, t0, h, start_heat, ambient_k_);
    Moment to = from;
    double end_a = from.load_a;
    for (int pass = 0; pass < 8; ++pass) {
      const CellRates middle = cell::rates_at(source_.cell, 0.5 * (t0 + t1));
      PackState next = cell::advance(source_, middle, from.state, h, start_a, end_a + idle);
      next.cell.temperature_k = t1;
      to = settle(next, cell::rates_at(source_.cell, t1), end, end_a);
      if (!to.possible) return to;
      const bool settled = std::fabs(to.load_a - end_a) <= 1e-9 * (1.0 + std::fabs(end_a));
      end_a = to.load_a;
      t1 = cell::warmed_k(source_, t0, h, 0.5 * (start_heat + to.point.lost_v * (end_a + idle)), ambient_k_);
      if (pass > 0 && settled) break;
    }
    to.state.cell.temperature_k = t1;
    return to;
  }

  // Two half steps against one whole; the halves are kept. `volts_off` is their difference a cell.
  Moment careful(const Moment& from, double h, const Demand& middle, const Demand& end, Moment& half,
                 double& volts_off) const {
    half = step(from, 0.5 * h, middle);
    if (!half.possible) {
      volts_off = kNever;
      return half;
    }
    const Moment fine = step(half, 0.5 * h, end);
    const Moment coarse = step(from, h, end);
    volts_off =
        fine.possible && coarse.possible ? std::fabs(fine.point.volts - coarse.point.volts) / source_.series : kNever;
    return fine;
  }

  std::optional<BenchEnd> over(const Moment& m, bool on) const {
    if (!m.possible) return BenchEnd::collapse;
    const cell::Protection& p = source_.protection;
    if (p.under_v > 0.0 && m.point.volts <= p.under_v) return BenchEnd::cell_protection;
    if (p.under_cell_v > 0.0 && m.point.lowest_cell_v <= p.under_cell_v) return BenchEnd::cell_protection;
    if (p.coldest_k > 0.0 && m.state.cell.temperature_k < p.coldest_k) return BenchEnd::too_cold;
    if (p.hottest_k > 0.0 && m.state.cell.temperature_k > p.hottest_k) return BenchEnd::too_hot;
    if (on && limits_.stop_v > 0.0 && m.point.volts <= limits_.stop_v) return BenchEnd::stop_volts;
    if (m.state.cell.charge < kEmptiest || m.point.volts <= 0.0) return BenchEnd::flat;
    return std::nullopt;
  }

  // Simpson over a careful step: charge, energy and losses at both ends and the middle.
  void account(const Moment& from, const Moment& half, const Moment& to, double h, bool on) {
    const auto mean = [&](auto&& f) { return (f(from) + 4.0 * f(half) + f(to)) / 6.0; };
    const double hours = h / 3600.0;
    const double idle = source_.idle_a;
    // Charge follows the straight lines the state was advanced by.
    result_.charge_ah += hours * 0.25 * (from.load_a + 2.0 * half.load_a + to.load_a);
    result_.energy_wh += hours * mean([](const Moment& m) { return m.point.volts * m.load_a; });
    result_.idle_wh += hours * idle * mean([](const Moment& m) { return m.point.volts; });
    result_.open_circuit_wh += hours * mean([&](const Moment& m) { return m.point.open_v * (m.load_a + idle); });
    result_.heat_wh += hours * mean([&](const Moment& m) { return m.point.lost_v * (m.load_a + idle); });
    if (on) result_.on_s += h;
    result_.warmest_k = std::max({result_.warmest_k, half.state.cell.temperature_k, to.state.cell.temperature_k});
  }

  BenchPoint point_at(double t_s, const Moment& m) const {
    return {t_s, m.point.volts, m.load_a, m.state.cell.temperature_k, m.state.cell.charge};
  }

  void note(bool always) {
    if (!always && at_s_ - noted_s_ < spacing_s_) return;
    if (!result_.curve.empty() && result_.curve.back().t_s >= at_s_) result_.curve.pop_back();
    result_.curve.push_back(point_at(at_s_, now_));
    noted_s_ = at_s_;
    if (profile_ || result_.curve.size() < limits_.curve_points) return;
    std::size_t kept = 0;
    for (std::size_t k = 0; k < result_.curve.size(); k += 2) result_.curve[kept++] = result_.curve[k];
    result_.curve.resize(kept);
    spacing_s_ = 2.0 * (at_s_ - result_.curve.front().t_s) / static_cast<double>(limits_.curve_points);
  }

  // Goes on for up to `span` with the demand going straight from `first` to `last`. True: the run has ended.
  bool stretch(double span, const Demand& first, const Demand& last, bool on, bool note_steps) {
    const double from_s = at_s_;
    const auto demand_at = [&](double s) {
      const double u = span > 0.0 ? (s - from_s) / span : 1.0;
      return Demand{first.kind, first.value + u * (last.value - first.value)};
    };
    double h = std::min(h_, span);
    while (at_s_ < from_s + span) {
      const double left = from_s + span - at_s_;
      // Two steps rather than a sliver at the end.
      if (h > left)
        h = left;
      else if (h > 0.5 * left)
        h = 0.5 * left;
      Moment half{};
      double off = 0.0;
      Moment to = careful(now_, h, demand_at(at_s_ + 0.5 * h), demand_at(at_s_ + h), half, off);
      if (off > limits_.volts_error && h > kShortest_s) {
        h = std::max(kShortest_s, h * std::clamp(0.9 * maths::pow(limits_.volts_error / off, 1.0 / 3.0), 0.2, 0.8));
        continue;
      }
      if (auto end = over(to, on)) {
        // The step crosses the end: halve until the last good moment and the first bad one are close.
        double good = 0.0;
        double bad = h;
        while (bad - good > kEvent_s && bad > kShortest_s) {
          const double middle = 0.5 * (good + bad);
          Moment tried_half{};
          const Moment tried =
              careful(now_, middle, demand_at(at_s_ + 0.5 * middle), demand_at(at_s_ + middle), tried_half, off);
          if (const auto found = over(tried, on)) {
            bad = middle;
            end = found;
            to = tried;
            half = tried_half;
          } else {
            good = middle;
          }
        }
        if (to.possible) {
          account(now_, half, to, bad, on);
          now_ = to;
        }
        at_s_ += bad;
        note(true);
        return finish(*end);
      }
      account(now_, half, to, h, on);
      now_ = to;
      at_s_ = h >= left ? from_s + span : at_s_ + h;
      if (note_steps) note(false);
      if (const auto end = slow_protection(h)) return finish(*end);
      const double wish = off > 0.0 ? 0.9 * maths::pow(limits_.volts_error / off, 1.0 / 3.0) : 4.0;
      h *= std::clamp(wish, 0.5, 4.0);
      h_ = h;
    }
    return false;
  }

  // Limits that a pack tolerates for a while.
  std::optional<BenchEnd> slow_protection(double h) {
    const cell::Protection& p = source_.protection;
    over_s_ = p.over_current_a > 0.0 && now_.load_a > p.over_current_a ? over_s_ + h : 0.0;
    if (p.over_current_a > 0.0 && over_s_ > p.over_current_s) return BenchEnd::over_current;
    low_s_ = p.low_load_s > 0.0 && now_.load_a < p.low_load_a ? low_s_ + h : 0.0;
    if (p.low_load_s > 0.0 && low_s_ > p.low_load_s) return BenchEnd::low_load;
    return std::nullopt;
  }

  bool finish(BenchEnd end) {
    result_.end_reason = end;
    return true;
  }

  void follow_steady() {
    const Demand::Kind kind = load_.kind == BenchLoad::Kind::power     ? Demand::Kind::power
                              : load_.kind == BenchLoad::Kind::current ? Demand::Kind::current
                                                                       : Demand::Kind::resistance;
    const Demand wanted{kind, load_.value};
    const Demand nothing{};
    while (at_s_ < limits_.longest_s) {
      bool on = true;
      double span = limits_.longest_s - at_s_;
      for (const Duty& duty : load_.duty) {
        const double cycles = std::floor(at_s_ / duty.period_s + 1e-9);
        const double in = std::max(0.0, at_s_ - cycles * duty.period_s);
        const bool here = in < duty.on_s - 1e-6;
        on = on && here;
        span = std::min(span, (here ? duty.on_s : duty.period_s) - in);
      }
      const Demand& demand = on ? wanted : nothing;
      now_ = settle(now_.state, now_.rates, demand, now_.load_a);
      if (const auto end = over(now_, on)) {
        note(true);
        finish(*end);
        return;
      }
      note(load_.duty.empty());
      if (!load_.duty.empty()) h_ = std::min(h_, 5.0);
      if (stretch(std::max(span, kShortest_s), demand, demand, on, true)) return;
    }
    note(true);
    finish(BenchEnd::time_limit);
  }

  void follow_profile() {
    const auto kind = load_.kind == BenchLoad::Kind::power_profile ? Demand::Kind::power : Demand::Kind::current;
    const std::vector<double>& t = load_.profile_t_s;
    const std::vector<double>& y = load_.profile_value;
    // One sample spacing lies between the last line and the first of the next round.
    const double round_s = t.back() - t.front() + (t.back() - t.front()) / static_cast<double>(t.size() - 1);
    for (double shift_s = 0.0;; shift_s += round_s) {
      for (std::size_t k = 0; k < t.size(); ++k) {
        const bool first_of_all = k == 0 && shift_s == 0.0;
        if (first_of_all) {
          now_ = settle(now_.state, now_.rates, {kind, y[0]}, 0.0);
          if (const auto end = over(now_, true)) {
            finish(*end);
            note(true);
            return;
          }
        } else {
          const double before = k == 0 ? y.back() : y[k - 1];
          const double span = t[k] + shift_s - at_s_;
          if (stretch(span, {kind, before}, {kind, y[k]}, true, false)) return;
        }
        note(true);
        if (!load_.measured_v.empty() && shift_s == 0.0 && now_.state.cell.charge > kTenPercent) {
          const double off = now_.point.volts - load_.measured_v[k];
          squares_ += off * off;
          ++measured_;
        }
        if (at_s_ - zero_s_ >= limits_.longest_s) {
          finish(BenchEnd::time_limit);
          return;
        }
      }
      if (!load_.repeat) break;
    }
    finish(BenchEnd::profile_over);
  }

  const PackParams& source_;
  const BenchLoad& load_;
  const BenchLimits& limits_;
  double ambient_k_;
  bool profile_ = false;
  double at_s_ = 0.0;
  double zero_s_ = 0.0;
  double h_ = 1.0;
  double noted_s_ = -kNever;
  double spacing_s_ = 0.0;
  double over_s_ = 0.0;
  double low_s_ = 0.0;
  double squares_ = 0.0;
  std::size_t measured_ = 0;
  Moment now_{};
  BenchResult result_{};
};

}  // namespace

const char* words(BenchEnd end) {
  switch (end) {
    case BenchEnd::stop_volts:
      return "volts fell to the limit";
    case BenchEnd::cell_protection:
      return "the pack's protection switched off (low volts)";
    case BenchEnd::over_current:
      return "the pack's protection switched off (too much current)";
    case BenchEnd::too_cold:
      return "the pack's protection switched off (too cold)";
    case BenchEnd::too_hot:
      return "the pack's protection switched off (too hot)";
    case BenchEnd::low_load:
      return "the pack switched itself off (load too small)";
    case BenchEnd::collapse:
      return "no current delivers the power asked: the volts collapse";
    case BenchEnd::flat:
      return "flat";
    case BenchEnd::profile_over:
      return "the profile ended";
    case BenchEnd::time_limit:
      return "time limit";
  }
  return "";
}

BenchResult bench_run(const cell::PackParams& source, const BenchLoad& load, const BenchStart& start,
                      const BenchLimits& limits) {
  return Run(source, load, start, limits).go();
}

cell::PackParams single_cell(const cell::CellParams& cell, int series) {
  cell::PackParams source;
  source.kind = cell.name;
  source.cell = cell;
  source.series = series;
  source.heat_capacity_j_k = series * cell.heat_capacity_j_k;
  source.cooling_w_k = series * cell.cooling_w_k;
  source.rated_wh = series * cell.rated_ah * cell.ocv.value(0.5);
  return source;
}

}  // namespace tillwrap::forecast
