#include "fit/trace.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/maths.hpp"

namespace tillwrap::fit {

namespace {

constexpr double kMostStep_s = 20.0;
constexpr double kStrongRate_c = 1.1;  // of a pulse test, pulses up to this rate are compared; harder ones meet the
                                       // tester's cut-off in the cold

class Walk {
 public:
  Walk(const cell::CellParams& params, double charge, double start_k, double ambient_k, double first_a)
      : params_(params), ambient_k_(ambient_k) {
    state_.charge = charge;
    state_.temperature_k = start_k;
    rates_ = cell::rates_at(params, start_k);
    point_ = cell::evaluate(params, rates_, state_, first_a);
  }

  void step(double h, double from_a, double to_a) {
    const double before_w = point_.lost_v * from_a;
    cell::CellState next = cell::advance(params_, rates_, state_, h, from_a, to_a);
    const double after_w = cell::evaluate(params_, rates_, next, to_a).lost_v * to_a;
    const double settled_k = ambient_k_ + 0.5 * (before_w + after_w) / params_.cooling_w_k;
    next.temperature_k = settled_k + (state_.temperature_k - settled_k) *
                                         maths::exp(-h * params_.cooling_w_k / params_.heat_capacity_j_k);
    state_ = next;
    rates_ = cell::rates_at(params_, state_.temperature_k);
    point_ = cell::evaluate(params_, rates_, state_, to_a);
  }

  const cell::CellPoint& point() const { return point_; }
  const cell::CellState& state() const { return state_; }
  double surface() const { return state_.charge - state_.lag[0] - state_.lag[1]; }

 private:
  const cell::CellParams& params_;
  double ambient_k_;
  cell::CellState state_{};
  cell::CellRates rates_{};
  cell::CellPoint point_{};
};

}  // namespace

double start_charge(const cell::CellParams& params, const Log& log) {
  return log.rested_v ? cell::charge_at_rest(params, *log.rested_v) : log.start_charge;
}

Trace trace(const cell::CellParams& params, const Log& log, double start_charge) {
  const std::size_t n = log.t_s.size();
  Trace out;
  out.volts.assign(n, 0.0);
  out.charge.assign(n, 0.0);
  out.kelvin.assign(n, 0.0);
  out.slope_v.assign(n, 0.0);
  out.counts.assign(n, 1);
  const auto note = [&](std::size_t k, const Walk& walk) {
    out.volts[k] = walk.point().volts;
    out.charge[k] = walk.state().charge;
    out.kelvin[k] = walk.state().temperature_k;
    out.slope_v[k] = params.ocv.at(walk.surface()).slope;
    out.warmest_k = std::max(out.warmest_k, walk.state().temperature_k);
  };
  const auto follow = [&](Walk& walk, std::size_t k, auto&& each) {
    const double gap_s = log.t_s[k] - log.t_s[k - 1];
    const double parts = std::max(1.0, std::ceil(gap_s / kMostStep_s));
    const double rise_a = (log.amps[k] - log.amps[k - 1]) / parts;
    for (double j = 0.0; j < parts; j += 1.0) {
      const double from_a = log.amps[k - 1] + rise_a * j;
      walk.step(gap_s / parts, from_a, from_a + rise_a);
      each(log.t_s[k - 1] + gap_s * (j + 1.0) / parts, gap_s / parts, walk.point().volts);
    }
  };
  if (!log.discharged_as.empty()) {
    std::fill(out.counts.begin(), out.counts.end(), char{0});
    const double strong_a = kStrongRate_c * params.rated_ah;
    for (const Level& level : levels(log)) {
      // At rest at each level: its own rest volts set the charge, as rested volts have hysteresis.
      Walk walk(params, cell::charge_at_rest(params, log.volts[level.first]),
                log.surface_k.empty() ? log.start_k : log.surface_k[level.first], log.ambient_k, log.amps[level.first]);
      note(level.first, walk);
      out.counts[level.first] = 1;
      for (std::size_t k = level.first + 1; k < level.last && log.amps[k] <= strong_a; ++k) {
        follow(walk, k, [](double, double, double) {});
        note(k, walk);
        out.counts[k] = 1;
      }
    }
    return out;
  }
  Walk walk(params, start_charge, log.start_k, log.ambient_k, log.amps[0]);
  const double lead_parts = std::ceil(log.lead_in_s / kMostStep_s);
  for (double j = 0.0; j < lead_parts; j += 1.0) walk.step(log.lead_in_s / lead_parts, log.amps[0], log.amps[0]);
  note(0, walk);
  const double from_s = first_load_s(log);
  double last_v = walk.point().volts;
  bool ended = log.cutoff_v <= 0.0;
  const auto watch = [&](double at_s, double h, double volts) {
    if (!ended && at_s > from_s && volts <= log.cutoff_v) {
      const double over_s = last_v > volts ? h * (log.cutoff_v - volts) / (last_v - volts) : 0.0;
      out.duration_s = at_s - over_s - from_s;
      ended = true;
    }
    last_v = volts;
  };
  for (std::size_t k = 1; k < n; ++k) {
    follow(walk, k, watch);
    note(k, walk);
  }
  const double last_a = log.amps.back();
  double at_s = log.t_s.back();
  for (int k = 0; k < 20000 && !ended && last_a > 0.0 && walk.state().charge > -0.2; ++k) {
    walk.step(kMostStep_s, last_a, last_a);
    at_s += kMostStep_s;
    watch(at_s, kMostStep_s, walk.point().volts);
  }
  if (!ended) out.duration_s = at_s - from_s;
  return out;
}

}  // namespace tillwrap::fit
