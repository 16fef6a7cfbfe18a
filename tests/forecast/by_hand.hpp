// Closed forms for a straight pack (kit.hpp), to hold the simulated day against.
#pragma once

#include <cmath>

#include "forecast/kit.hpp"

namespace tillwrap::test {

// Terminal volts of a load of `watts` behind a source of `open_v` and `ohm`: V = (U + sqrt(U² - 4 P R)) / 2.
inline double load_v(double open_v, double ohm, double watts) {
  return 0.5 * (open_v + std::sqrt(open_v * open_v - 4.0 * watts * ohm));
}

// Open-circuit volts at which that load sees `volts`: U = V + R P / V.
inline double open_v_at(double volts, double ohm, double watts) { return volts + ohm * watts / volts; }

// Seconds at constant power for the rested volts to go from `from_v` to `to_v`, with dU/dt = -(slope/Q) I and
// I = 2 P / (U + sqrt(U² - a²)), a² = 4 P R:
//   t = Q / (2 P slope) [U²/2 + (U sqrt(U² - a²) - a² ln(U + sqrt(U² - a²))) / 2] from to_v to from_v.
inline double constant_power_s(const Straight& s, double ohm, double watts, double from_v, double to_v) {
  const double a2 = 4.0 * watts * ohm;
  const auto antiderivative = [a2](double u) {
    const double root = std::sqrt(std::max(u * u - a2, 0.0));
    return 0.5 * u * u + 0.5 * (u * root - (a2 > 0.0 ? a2 * std::log(u + root) : 0.0));
  };
  const double charge_per_v = s.capacity_ah * kSecondsPerHour / (s.full_v - s.empty_v);
  return charge_per_v / (2.0 * watts) * (antiderivative(from_v) - antiderivative(to_v));
}

// From full to the moment the load of `watts` sees `cutoff_v` behind `ohm` in all.
inline double lasts_s(const Straight& s, double ohm, double watts, double cutoff_v) {
  return constant_power_s(s, ohm, watts, s.full_v, open_v_at(cutoff_v, ohm, watts));
}

}  // namespace tillwrap::test
