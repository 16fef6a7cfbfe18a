#include "fit/slow.hpp"

#include <algorithm>
#include <cmath>

#include "fit/trace.hpp"
#include "quantity/maths.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::fit {

namespace {

// Dense where the curve bends: at the empty end and just below full.
const std::vector<double> kKnots{0,    .004, .008, .012, .02,  .03, .045, .06, .08,  .10, .125, .15,
                                 .175, .2,   .225, .25,  .275, .3,  .35,  .4,  .45,  .5,  .55,  .6,
                                 .65,  .7,   .75,  .8,   .85,  .9,  .94,  .97, .985, 1.0};

}  // namespace

double curve_from_slow(cell::CellParams& cell, const Log& log, double full_v) {
  const double from_s = first_load_s(log);
  std::size_t first = 0;
  // The rest volts before the load are not volts under load.
  while (first + 2 < log.t_s.size() && (log.t_s[first] < from_s || log.amps[first] <= 0.05 * log.amps[first + 1]))
    ++first;
  std::vector<double> t_s(log.t_s.begin() + static_cast<std::ptrdiff_t>(first), log.t_s.end());
  double mean_a = 0.0;
  std::vector<double> drawn_as(t_s.size(), 0.0);
  for (std::size_t k = 1; k < t_s.size(); ++k)
    drawn_as[k] = drawn_as[k - 1] + 0.5 * (t_s[k] - t_s[k - 1]) * (log.amps[first + k] + log.amps[first + k - 1]);
  mean_a = drawn_as.back() / (t_s.back() - t_s.front());

  const auto shape = [](const Curve& curve, double z) { return curve.empty() ? 1.0 : curve.value(z); };
  const cell::CellRates rates = cell::rates_at(cell, log.start_k);
  double total_gain = cell.surface_gain;
  for (std::size_t n = 0; n < 2; ++n) {
    if (cell.lag_rate[n] > 0.0) total_gain += cell.lag_gain[n] / cell.lag_rate[n];
  }
  // Q such that the discharge ends at surface charge 0: what was drawn and the lag at its end.
  double capacity_as = drawn_as.back();
  for (int round = 0; round < 20; ++round) {
    const double end_z = 1.0 - drawn_as.back() / capacity_as;
    capacity_as = drawn_as.back() + total_gain * rates.diffusion_s * shape(cell.diffusion_shape, end_z) * mean_a;
  }

  std::vector<double> surface(t_s.size());
  std::vector<double> rested_v(t_s.size());
  for (std::size_t k = 0; k < t_s.size(); ++k) {
    const double z = 1.0 - drawn_as[k] / capacity_as;
    const double at_s = t_s[k] - t_s.front();
    const double slower = shape(cell.diffusion_shape, z);
    double zs = z - cell.surface_gain * rates.diffusion_s * slower * mean_a / capacity_as;
    for (std::size_t n = 0; n < 2; ++n) {
      if (!(rates.tau_s[n] > 0.0)) continue;
      const double tau_s = rates.tau_s[n] * slower;
      zs -= cell.lag_gain[n] * mean_a / capacity_as * tau_s * (1.0 - maths::exp(-at_s / tau_s));
    }
    const double ohm = cell.series_ohm + rates.electrolyte_ohm * shape(cell.resistance_shape, std::clamp(z, 0.0, 1.0)) +
                       rates.rc_ohm * (1.0 - maths::exp(-at_s / cell.rc_s));
    double transfer_v = 0.0;
    if (rates.exchange_a > 0.0) {
      const double share = cell.exchange_shape.empty()
                               ? maths::pow(std::max(4.0 * zs * (1.0 - zs), 0.01), cell.exchange_alpha)
                               : cell.exchange_shape.value(zs);
      transfer_v = rates.thermal_v * maths::asinh(mean_a / (2.0 * rates.exchange_a * share));
    }
    surface[k] = zs;
    rested_v[k] = log.volts[first + k] + mean_a * ohm + transfer_v;
  }
  // `surface` falls; a straight line between rows, the end rows beyond them.
  std::vector<double> u;
  for (const double z : kKnots) {
    const auto after = std::lower_bound(surface.rbegin(), surface.rend(), z);
    const auto j = static_cast<std::size_t>(surface.rend() - after);  // rows with a surface charge of at least z
    if (j == 0) {
      u.push_back(rested_v.front());
    } else if (j == surface.size()) {
      u.push_back(rested_v.back());
    } else {
      const double share = (z - surface[j]) / (surface[j - 1] - surface[j]);
      u.push_back(rested_v[j] + share * (rested_v[j - 1] - rested_v[j]));
    }
  }
  u.back() = std::max(u.back(), full_v);
  if (full_v <= 0.0 && first > 0) u.back() = std::max(u.back(), log.volts[first - 1]);
  for (std::size_t k = 1; k < u.size(); ++k) u[k] = std::max(u[k], u[k - 1] + 1e-6);
  cell.ocv = Curve(kKnots, u);
  return capacity_as;
}

}  // namespace tillwrap::fit
