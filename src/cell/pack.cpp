#include "cell/pack.hpp"

#include <algorithm>

#include "quantity/maths.hpp"

namespace tillwrap::cell {

PackState rested(const PackParams&, double charge, double temperature_k) {
  PackState state;
  state.cell.charge = charge;
  state.cell.temperature_k = temperature_k;
  state.weak_charge = charge;
  return state;
}

PackPoint evaluate(const PackParams& params, const CellRates& rates, const PackState& state, double current_a) {
  const double cell_a = current_a / params.parallel;
  const CellPoint cell = evaluate(params.cell, rates, state.cell, cell_a);
  const double electronics_v = current_a * params.electronics_ohm;
  PackPoint point;
  if (params.weak_fraction == 1.0) {
    const double n = params.series;
    point.volts = n * cell.volts - electronics_v;
    point.slope_ohm = n * cell.slope_ohm / params.parallel - params.electronics_ohm;
    point.open_v = n * cell.open_v;
    point.lost_v = n * cell.lost_v + electronics_v;
    point.lowest_cell_v = cell.volts;
    return point;
  }
  const CellPoint weak =
      evaluate_scaled(params.cell, rates, state.cell, state.weak_charge, cell_a, params.weak_fraction);
  const double n = params.series - 1;
  point.volts = n * cell.volts + weak.volts - electronics_v;
  point.slope_ohm = (n * cell.slope_ohm + weak.slope_ohm) / params.parallel - params.electronics_ohm;
  point.open_v = n * cell.open_v + weak.open_v;
  point.lost_v = n * cell.lost_v + weak.lost_v + electronics_v;
  point.lowest_cell_v = params.series == 1 ? weak.volts : std::min(cell.volts, weak.volts);
  return point;
}

void follow_tangent(const PackParams& params, PackPoint& point, double change_a) {
  const double change_v = point.slope_ohm * change_a;
  point.volts += change_v;
  point.lost_v -= change_v;
  point.lowest_cell_v += change_v / params.series;
}

PackState advance(const PackParams& params, const CellRates& rates, const PackState& state, double step_s,
                  double start_a, double end_a) {
  return advance(params, rates, lags_over(params, rates, state, step_s, start_a, end_a), state, start_a, end_a);
}

StepLags lags_over(const PackParams& params, const CellRates& rates, const PackState& state, double step_s,
                   double start_a, double end_a) {
  return lags_over(params.cell, rates, state.cell, step_s, start_a / params.parallel, end_a / params.parallel);
}

StepLags lags_over(const PackParams& params, const CellRates& start, const CellRates& middle, const CellRates& end,
                   const PackState& state, double step_s, double start_a, double end_a) {
  return lags_over(params.cell, start, middle, end, state.cell, step_s, start_a / params.parallel,
                   end_a / params.parallel);
}

PackState advance(const PackParams& params, const CellRates& rates, const StepLags& lags, const PackState& state,
                  double start_a, double end_a) {
  PackState next;
  next.cell = advance(params.cell, rates, lags, state.cell, start_a / params.parallel, end_a / params.parallel);
  next.weak_charge = state.weak_charge + (next.cell.charge - state.cell.charge) / params.weak_fraction;
  return next;
}

void let_transfer_follow(const PackParams& params, const StepLags& lags, PackState& state, double end_a) {
  let_transfer_follow(lags, state.cell, end_a / params.parallel);
}

double warmed_k(const PackParams& params, double temperature_k, double step_s, double heat_w, double surround_k) {
  return warmed_k(params, temperature_k, step_s, cooling_decay(params, step_s), heat_w, surround_k);
}

double cooling_decay(const PackParams& params, double step_s) {
  if (params.cooling_w_k <= 0.0) return 1.0;
  if (params.heat_capacity_j_k <= 0.0) return 0.0;
  return maths::exp(-step_s * params.cooling_w_k / params.heat_capacity_j_k);
}

double warmed_k(const PackParams& params, double temperature_k, double step_s, double decay, double heat_w,
                double surround_k) {
  if (params.cooling_w_k <= 0.0) return temperature_k + heat_w * step_s / params.heat_capacity_j_k;
  const double settled_k = surround_k + heat_w / params.cooling_w_k;
  return settled_k + (temperature_k - settled_k) * decay;
}

double energy_left_j(const PackParams& params, double charge) {
  return params.series * params.parallel * params.cell.capacity_as * params.cell.ocv.integral(0.0, charge);
}

double gauge_fraction(const PackParams& params, const PackState& state) {
  const double shown = 1.0 - (1.0 - state.cell.charge) / params.gauge.learned_capacity_factor;
  return std::clamp(shown, 0.0, 1.0);
}

}  // namespace tillwrap::cell
