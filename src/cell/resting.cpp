#include "cell/resting.hpp"

#include <algorithm>

#include "quantity/maths.hpp"

namespace tillwrap::cell {

namespace {

constexpr double kAsleepPerMonth = 0.02;
constexpr double kReference_k = 293.15;
constexpr double kDoubling_k = 10.0;  // twice as fast every 10 K: common practice, no source
constexpr double kLn2 = 0.69314718055994530942;

}  // namespace

double resting_a(const PackParams& params, bool in_holder) {
  if (in_holder) return params.idle_a;
  return std::min(params.idle_a, kAsleepPerMonth * params.cell.capacity_as * params.parallel / kMonth_s);
}

double charge_after_rest(const PackParams& params, double charge, const Rest& rest) {
  const double lost = std::clamp(params.cell.self_discharge_per_month, 0.0, 0.99);
  const double warm = maths::exp(kLn2 * (rest.temperature_k - kReference_k) / kDoubling_k);
  const double k = -maths::log(1.0 - lost) / kMonth_s * warm * rest.rate_factor;
  const double drain =
      rest.rate_factor * resting_a(params, rest.in_holder) / (params.cell.capacity_as * params.parallel);
  const double kept = maths::exp(-k * rest.for_s);
  // (1 - e^-kt)/k goes to t where k does.
  const double effective_s = k * rest.for_s > 1e-9 ? (1.0 - kept) / k : rest.for_s;
  return std::max(0.0, charge * kept - drain * effective_s);
}

}  // namespace tillwrap::cell
