#include "cell/cell.hpp"

#include <cmath>

#include "quantity/maths.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::cell {

namespace {

// 2R/F, V/K: molar gas constant and Faraday constant, both exact in the SI of 2019.
constexpr double kTwiceGasOverFaraday = 2.0 * 8.31446261815324 / 96485.33212331002;

// 4 zs (1 - zs) is kept positive by a smooth floor of this size: past either end of the charge scale the exchange
// current goes on falling slowly instead of reaching zero, so volts and slope stay finite. Below zs = 0 the falling
// open-circuit curve decides the volts, not this number.
constexpr double kExchangeFloor = 0.01;

constexpr double kFreezingA = 1.0 / kZeroCelsiusK - 1.0 / kReferenceK;

double shape_at(const Curve& shape, double charge) { return shape.empty() ? 1.0 : shape.value(charge); }

// Where on the open-circuit curve the surface stands once the part of the tail the cold puts out of reach is taken
// away: zs - k(T) (1 - zs/w)^2 below w, going on in a straight line below zero.
struct Reach {
  double charge;
  double slope;
};

Reach reach_at(const CellParams& params, const CellRates& rates, double surface) {
  if (rates.cold_tail == 0.0 || surface >= params.cold_tail_width) return {surface, 1.0};
  const double u = 1.0 - surface / params.cold_tail_width;
  const double per = 2.0 * rates.cold_tail / params.cold_tail_width;
  if (surface < 0.0) return {surface - rates.cold_tail * (2.0 * u - 1.0), 1.0 + per};
  return {surface - rates.cold_tail * u * u, 1.0 + per * u};
}

// How i0 depends on the surface charge, and d ln i0 / d zs.
struct Share {
  double value;
  double log_slope;
};

Share exchange_share(const CellParams& params, double surface) {
  if (!params.exchange_shape.empty()) {
    const ValueSlope at = params.exchange_shape.at(surface);
    return {at.value, at.slope / at.value};
  }
  // p = smooth floor of q = 4 zs (1 - zs), share = p^alpha; p'/p = q'/root.
  const double q = 4.0 * surface * (1.0 - surface);
  const double root = std::sqrt(q * q + kExchangeFloor * kExchangeFloor);
  // The two forms are equal; each is free of cancellation on its side.
  const double p = q >= 0.0 ? 0.5 * (q + root) : 0.5 * kExchangeFloor * kExchangeFloor / (root - q);
  const double log_slope = params.exchange_alpha * 4.0 * (1.0 - 2.0 * surface) / root;
  if (params.exchange_alpha == 0.5) return {std::sqrt(p), log_slope};
  return {params.exchange_alpha == 0.0 ? 1.0 : maths::pow(p, params.exchange_alpha), log_slope};
}

// The integrals of a first-order lag driven by a straight line, over y = step / tau:
//   decay = e^-y,  flat = (1 - e^-y) / y,  ramp = (1 - flat) / y.
// With constant input u the lag goes to x decay + u step flat; an input rising by du adds du step ramp.
Lag lag_over(double y) {
  if (y < 0.03) {
    // ramp = 1/2 - y/6 + y^2/24 - ...; the first term left out is below 1e-18.
    const double y2 = y * y;
    const double ramp = (1.0 / 2.0 - y * (1.0 / 6.0)) + y2 * (1.0 / 24.0 - y * (1.0 / 120.0)) +
                        y2 * y2 * ((1.0 / 720.0 - y * (1.0 / 5040.0)) + y2 * (1.0 / 40320.0 - y * (1.0 / 362880.0)));
    const double flat = 1.0 - y * ramp;
    return {1.0 - y * flat, flat, ramp};
  }
  // Below 1e-17 what is left of the start is nothing.
  const double decay = y < 40.0 ? maths::exp(-y) : 0.0;
  const double flat = (1.0 - decay) / y;
  return {decay, flat, (1.0 - flat) / y};
}

double lagged(double x, const Lag& lag, double step_s, double start_in, double end_in) {
  return x * lag.decay + step_s * (start_in * lag.flat + (end_in - start_in) * lag.ramp);
}

double per_as(const CellParams& params, double start_a, double end_a) {
  return (start_a + end_a < 0.0 ? params.charge_efficiency : 1.0) / params.capacity_as;
}

// One stretch in which the current keeps its sign.
CellState advance_one_way(const CellParams& params, const CellRates& rates, const StepLags& lags,
                          const CellState& state, double start_a, double end_a) {
  const double share_per_as = per_as(params, start_a, end_a);
  const double step_s = lags.step_s;
  CellState next = state;
  next.charge -= 0.5 * step_s * (start_a + end_a) * share_per_as;
  for (std::size_t n = 0; n < next.lag.size(); ++n) {
    if (params.lag_gain[n] == 0.0) continue;
    const double drive = params.lag_gain[n] * share_per_as;
    next.lag[n] =
        lagged(state.lag[n], lags.lag[n], step_s, drive * lags.start_share * start_a, drive * lags.end_share * end_a);
  }
  if (rates.rc_ohm > 0.0) {
    const double drive = rates.rc_ohm / params.rc_s;
    next.rc_v =
        lagged(state.rc_v, lags.rc, step_s, drive * lags.rc_start_share * start_a, drive * lags.rc_end_share * end_a);
  }
  if (rates.exchange_s > 0.0) {
    const double drive = 1.0 / rates.exchange_s;
    next.transfer_a = lagged(state.transfer_a, lags.transfer, step_s, drive * start_a, drive * end_a);
  }
  return next;
}

}  // namespace

CellParams aged(const CellParams& fresh, const Ageing& age) {
  CellParams old = fresh;
  old.capacity_as *= age.capacity_fraction;
  old.electrolyte_ohm *= age.resistance_factor;
  old.rc_ohm *= age.resistance_factor;
  old.exchange_a /= age.resistance_factor;
  old.exchange_s *= age.resistance_factor;  // the same double layer behind more resistance
  return old;
}

double prior_resistance_factor(double capacity_fraction) { return 1.0 + 4.0 * (1.0 - capacity_fraction); }

CellParams scaled_to(const CellParams& params, double rated_ah) {
  const double s = rated_ah / params.rated_ah;
  CellParams other = params;
  other.rated_ah = rated_ah;
  other.capacity_as *= s;
  other.series_ohm /= s;
  other.electrolyte_ohm /= s;
  other.rc_ohm /= s;
  other.exchange_a *= s;
  other.heat_capacity_j_k *= s;
  other.cooling_w_k *= s;
  return other;
}

CellRates rates_at(const CellParams& params, double temperature_k) {
  const double a = 1.0 / temperature_k - 1.0 / kReferenceK;
  const double electrolyte = maths::exp(params.electrolyte_activation_k * a);
  CellRates rates;
  rates.diffusion_s = params.diffusion_s * maths::exp(params.diffusion_activation_k * a);
  for (std::size_t n = 0; n < rates.tau_s.size(); ++n) {
    rates.tau_s[n] = params.lag_rate[n] > 0.0 ? rates.diffusion_s / params.lag_rate[n] : 0.0;
  }
  rates.cold_tail = a > 0.0 ? params.cold_tail * a / kFreezingA : 0.0;
  rates.electrolyte_ohm = params.electrolyte_ohm * electrolyte;
  rates.rc_ohm = params.rc_ohm * electrolyte;
  if (params.exchange_a > 0.0) {
    const double exchange = maths::exp(-params.exchange_activation_k * a);
    rates.exchange_a = params.exchange_a * exchange;
    rates.exchange_s = params.exchange_s / exchange;
  }
  rates.thermal_v = params.exchange_electrodes * kTwiceGasOverFaraday * temperature_k;
  return rates;
}

CellRates between(const CellParams& params, const CellRates& a, const CellRates& b) {
  CellRates rates;
  rates.diffusion_s = std::sqrt(a.diffusion_s * b.diffusion_s);
  for (std::size_t n = 0; n < rates.tau_s.size(); ++n) {
    rates.tau_s[n] = params.lag_rate[n] > 0.0 ? rates.diffusion_s / params.lag_rate[n] : 0.0;
  }
  rates.cold_tail = 0.5 * (a.cold_tail + b.cold_tail);
  rates.electrolyte_ohm = std::sqrt(a.electrolyte_ohm * b.electrolyte_ohm);
  rates.rc_ohm = std::sqrt(a.rc_ohm * b.rc_ohm);
  rates.exchange_a = std::sqrt(a.exchange_a * b.exchange_a);
  rates.exchange_s = std::sqrt(a.exchange_s * b.exchange_s);
  rates.thermal_v = 0.5 * (a.thermal_v + b.thermal_v);
  return rates;
}

CellPoint evaluate(const CellParams& params, const CellRates& rates, const CellState& state, double current_a) {
  return evaluate_scaled(params, rates, state, state.charge, current_a, 1.0);
}

CellPoint evaluate_scaled(const CellParams& params, const CellRates& rates, const CellState& state, double charge,
                          double current_a, double capacity_fraction) {
  const double per_as = 1.0 / (capacity_fraction * params.capacity_as);
  const double diffusion_s = rates.diffusion_s * shape_at(params.diffusion_shape, charge);
  const double surface_per_a = params.surface_gain * diffusion_s * per_as;
  const double lag = (state.lag[0] + state.lag[1]) * (params.capacity_as * per_as);
  const double surface = charge - lag - surface_per_a * current_a;
  const Reach reach = reach_at(params, rates, surface);
  ValueSlope at_surface = params.ocv.at(reach.charge);
  at_surface.slope *= reach.slope;

  CellPoint point;
  point.open_v = params.ocv.value(charge);

  const double ohm = params.series_ohm + rates.electrolyte_ohm * shape_at(params.resistance_shape, charge);

  double transfer_v = 0.0;
  double transfer_slope = 0.0;
  if (rates.exchange_a > 0.0) {
    const Share share = exchange_share(params, surface);
    const double per_exchange_a = 0.5 / (rates.exchange_a * share.value);
    const double follows = rates.exchange_s > 0.0 ? state.transfer_follows : 1.0;
    const double transfer_a = rates.exchange_s > 0.0 ? state.transfer_a + follows * current_a : current_a;
    const double w = transfer_a * per_exchange_a;  // It / 2 i0, i0 = i00 share(zs)
    const double root = std::sqrt(1.0 + w * w);
    transfer_v = rates.thermal_v * maths::asinh(w, root);
    transfer_slope = rates.thermal_v / root * (follows * per_exchange_a + w * share.log_slope * surface_per_a);
  }

  point.lost_v = (point.open_v - at_surface.value) + current_a * ohm + state.rc_v + transfer_v;
  point.volts = at_surface.value - current_a * ohm - state.rc_v - transfer_v;
  point.slope_ohm = -(at_surface.slope * surface_per_a + ohm + transfer_slope);
  return point;
}

StepLags lags_over(const CellParams& params, const CellRates& rates, const CellState& state, double step_s,
                   double start_a, double end_a) {
  StepLags lags;
  lags.step_s = step_s;
  double slower = 1.0;
  if (!params.diffusion_shape.empty()) {
    const double moved = 0.5 * step_s * (start_a + end_a) * per_as(params, start_a, end_a);
    slower = params.diffusion_shape.value(state.charge - 0.5 * moved);
    lags.start_share = params.diffusion_shape.value(state.charge) / slower;
    lags.end_share = params.diffusion_shape.value(state.charge - moved) / slower;
  }
  for (std::size_t n = 0; n < lags.lag.size(); ++n) {
    if (params.lag_gain[n] != 0.0) lags.lag[n] = lag_over(step_s / (rates.tau_s[n] * slower));
  }
  if (rates.rc_ohm > 0.0) lags.rc = lag_over(step_s / params.rc_s);
  if (rates.exchange_s > 0.0) lags.transfer = lag_over(step_s / rates.exchange_s);
  return lags;
}

StepLags lags_over(const CellParams& params, const CellRates& start, const CellRates& middle, const CellRates& end,
                   const CellState& state, double step_s, double start_a, double end_a) {
  StepLags lags = lags_over(params, middle, state, step_s, start_a, end_a);
  if (middle.diffusion_s > 0.0) {
    lags.start_share *= start.diffusion_s / middle.diffusion_s;
    lags.end_share *= end.diffusion_s / middle.diffusion_s;
  }
  if (middle.rc_ohm > 0.0) {
    lags.rc_start_share = start.rc_ohm / middle.rc_ohm;
    lags.rc_end_share = end.rc_ohm / middle.rc_ohm;
  }
  return lags;
}

CellState advance(const CellParams& params, const CellRates& rates, const StepLags& lags, const CellState& state,
                  double start_a, double end_a) {
  if (params.charge_efficiency != 1.0 && start_a * end_a < 0.0) {
    const double turn_s = lags.step_s * start_a / (start_a - end_a);
    const CellState at_turn =
        advance_one_way(params, rates, lags_over(params, rates, state, turn_s, start_a, 0.0), state, start_a, 0.0);
    return advance_one_way(params, rates, lags_over(params, rates, at_turn, lags.step_s - turn_s, 0.0, end_a), at_turn,
                           0.0, end_a);
  }
  return advance_one_way(params, rates, lags, state, start_a, end_a);
}

CellState advance(const CellParams& params, const CellRates& rates, const CellState& state, double step_s,
                  double start_a, double end_a) {
  return advance(params, rates, lags_over(params, rates, state, step_s, start_a, end_a), state, start_a, end_a);
}

void let_transfer_follow(const StepLags& lags, CellState& state, double end_a) {
  // d It / d I(end) = (step/tau) ramp = 1 - flat.
  state.transfer_follows = 1.0 - lags.transfer.flat;
  state.transfer_a -= state.transfer_follows * end_a;
}

double charge_at_rest(const CellParams& params, double open_v) { return params.ocv.inverse(open_v); }

}  // namespace tillwrap::cell
