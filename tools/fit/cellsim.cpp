// A C door to the cell equations for the fitting scripts: one cell through a logged current, self-heating predicted.
// Built by fit.py into a shared library; no part of the program.
#include <cmath>

#include "cell/cell.hpp"
#include "forecast/bench_run.hpp"

using namespace tillwrap;
using namespace tillwrap::cell;

namespace {

CellParams params_from(const double* p, int ocv_points, const double* ocv_z, const double* ocv_v,
                       const int* shape_points, const double* shape_x, const double* shape_y) {
  CellParams c;
  c.capacity_as = p[0];
  c.lag_gain = {p[1], p[2]};
  c.lag_rate = {p[3], p[4]};
  c.surface_gain = p[5];
  c.diffusion_s = p[6];
  c.diffusion_activation_k = p[7];
  c.series_ohm = p[8];
  c.electrolyte_ohm = p[9];
  c.electrolyte_activation_k = p[10];
  c.exchange_a = p[11];
  c.exchange_activation_k = p[12];
  c.exchange_alpha = p[13];
  c.rc_ohm = p[14];
  c.rc_s = p[15];
  c.heat_capacity_j_k = p[16];
  c.cooling_w_k = p[17];
  c.cold_tail = p[18];
  c.cold_tail_width = p[19];
  c.ocv = Curve({ocv_z, ocv_z + ocv_points}, {ocv_v, ocv_v + ocv_points});
  // Three shapes one after the other: diffusion, resistance, exchange; no points means none.
  Curve* const shapes[] = {&c.diffusion_shape, &c.resistance_shape, &c.exchange_shape};
  for (int k = 0; k < 3; ++k) {
    const int n = shape_points[k];
    if (n > 0) *shapes[k] = Curve({shape_x, shape_x + n}, {shape_y, shape_y + n});
    shape_x += n;
    shape_y += n;
  }
  return c;
}

}  // namespace

extern "C" {

// Volts, temperature and charge at each sample. With `cutoff_v` > 0 the time at which the volts first fall to it is put
// in *end_s; if the log ends before, its last current goes on. Steps longer than `most_s` are divided.
void simulate(const double* p, int ocv_points, const double* ocv_z, const double* ocv_v, const int* shape_points,
              const double* shape_x, const double* shape_y, int n, const double* t_s, const double* current_a,
              double start_charge, double start_k, double ambient_k, double cutoff_v, double most_s, double* volts,
              double* temperature_k, double* charge, double* end_s) {
  const CellParams c = params_from(p, ocv_points, ocv_z, ocv_v, shape_points, shape_x, shape_y);
  CellState s;
  s.charge = start_charge;
  s.temperature_k = start_k;
  CellRates rates = rates_at(c, s.temperature_k);
  *end_s = -1.0;
  double last_v = 0.0;
  double at_s = t_s[0];
  const auto step = [&](double h, double from_a, double to_a) {
    const CellPoint before = evaluate(c, rates, s, from_a);
    CellState next = advance(c, rates, s, h, from_a, to_a);
    const CellPoint after = evaluate(c, rates, next, to_a);
    const double heat_w = 0.5 * (before.lost_v * from_a + after.lost_v * to_a);
    const double settled = ambient_k + heat_w / c.cooling_w_k;
    next.temperature_k = settled + (s.temperature_k - settled) * std::exp(-h * c.cooling_w_k / c.heat_capacity_j_k);
    s = next;
    rates = rates_at(c, s.temperature_k);
    const double v = evaluate(c, rates, s, to_a).volts;
    if (cutoff_v > 0.0 && *end_s < 0.0 && v <= cutoff_v && at_s > t_s[0]) {
      *end_s = at_s + (last_v > v ? h * (last_v - cutoff_v) / (last_v - v) : 0.0);
    }
    last_v = v;
    at_s += h;
  };
  for (int k = 0; k < n; ++k) {
    if (k > 0) {
      const double gap = t_s[k] - t_s[k - 1];
      const int parts = gap > most_s ? static_cast<int>(std::ceil(gap / most_s)) : 1;
      const double rise = (current_a[k] - current_a[k - 1]) / parts;
      for (int j = 0; j < parts; ++j) step(gap / parts, current_a[k - 1] + rise * j, current_a[k - 1] + rise * (j + 1));
    }
    const CellPoint now = evaluate(c, rates, s, current_a[k]);
    if (k == 0) last_v = now.volts;
    volts[k] = now.volts;
    temperature_k[k] = s.temperature_k;
    charge[k] = s.charge;
  }
  if (cutoff_v > 0.0) {
    const double a = current_a[n - 1];
    for (int j = 0; j < 20000 && *end_s < 0.0 && a > 0.0 && s.charge > -0.2; ++j) step(most_s, a, a);
  }
}

// A steady or pulsed load on one cell to a cut-off. kind 0 = W, 1 = A, 2 = ohm. out: duration, on time (s), Ah, Wh.
void bench(const double* p, int ocv_points, const double* ocv_z, const double* ocv_v, const int* shape_points,
           const double* shape_x, const double* shape_y, int kind, double value, int duties, const double* on_s,
           const double* period_s, double temperature_k, double stop_v, double* out) {
  const CellParams c = params_from(p, ocv_points, ocv_z, ocv_v, shape_points, shape_x, shape_y);
  forecast::BenchLoad load;
  load.kind = static_cast<forecast::BenchLoad::Kind>(kind);
  load.value = value;
  for (int k = 0; k < duties; ++k) load.duty.push_back({on_s[k], period_s[k]});
  forecast::BenchStart start;
  start.ambient_k = start.start_k = temperature_k;
  forecast::BenchLimits limits;
  limits.stop_v = stop_v;
  limits.volts_error = 1e-3;
  limits.longest_s = 3e7;
  const auto r = forecast::bench_run(forecast::single_cell(c), load, start, limits);
  out[0] = r.duration_s;
  out[1] = r.on_s;
  out[2] = r.charge_ah;
  out[3] = r.energy_wh;
}

}  // extern "C"
