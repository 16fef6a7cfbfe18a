#include "wiring/fuse.hpp"

#include <limits>
#include <stdexcept>

#include "quantity/maths.hpp"

namespace tillwrap::wiring {

double seconds_to_open(const FuseLaw& law, double ratio) {
  if (law.points.empty()) throw std::invalid_argument("a fuse law needs at least one time-current point");
  if (ratio < law.points.front().ratio) return std::numeric_limits<double>::infinity();
  const auto& points = law.points;
  std::size_t k = 0;
  while (k + 1 < points.size() && points[k + 1].ratio <= ratio) ++k;
  // Past the last point: constant I²t, the melting limit with no time to lose heat.
  if (k + 1 == points.size()) {
    const double over = points[k].ratio / ratio;
    return points[k].within_s * over * over;
  }
  const double x0 = maths::log(points[k].ratio);
  const double x1 = maths::log(points[k + 1].ratio);
  const double y0 = maths::log(points[k].within_s);
  const double y1 = maths::log(points[k + 1].within_s);
  return maths::exp(y0 + (y1 - y0) * (maths::log(ratio) - x0) / (x1 - x0));
}

double hold_current_a(const FuseLaw& law, double rated_a, double ambient_k) {
  const double derating = law.resettable && !law.derating.empty() ? law.derating.value(ambient_k) : 1.0;
  return rated_a * law.holds_ratio * (derating > 0.0 ? derating : 0.0);
}

double opening_rate_per_s(const FuseLaw& law, double rated_a, double ambient_k, double current_a) {
  const double hold_a = hold_current_a(law, rated_a, ambient_k);
  if (hold_a <= 0.0) return 1.0;
  const double ratio = (current_a < 0.0 ? -current_a : current_a) / hold_a * law.holds_ratio;
  const double seconds = seconds_to_open(law, ratio);
  return seconds == std::numeric_limits<double>::infinity() ? 0.0 : 1.0 / seconds;
}

}  // namespace tillwrap::wiring
