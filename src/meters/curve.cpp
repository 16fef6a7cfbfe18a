#include "meters/curve.hpp"

#include <algorithm>

namespace tillwrap::meters {

namespace {

// Straight lines between rows; `x` rises.
double between(const std::vector<double>& x, const std::vector<double>& y, double at) {
  if (at <= x.front()) return y.front();
  if (at >= x.back()) return y.back();
  const auto high = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
  const double span = x[high] - x[high - 1];
  const double part = span > 0.0 ? (at - x[high - 1]) / span : 1.0;
  return y[high - 1] + part * (y[high] - y[high - 1]);
}

}  // namespace

double Curve::volts_at(double time_s) const { return between(at_s, volts, time_s); }

double Curve::left_at(double time_s) const { return between(at_s, left, time_s); }

double Curve::time_when_left(double share) const {
  for (std::size_t k = 1; k < left.size(); ++k) {
    if (left[k] > share) continue;
    const double span = left[k - 1] - left[k];
    const double part = span > 0.0 ? (left[k - 1] - share) / span : 0.0;
    return at_s[k - 1] + std::clamp(part, 0.0, 1.0) * (at_s[k] - at_s[k - 1]);
  }
  return end_s();
}

double Curve::falls_below_s(double limit_v) const {
  std::size_t k = volts.size();
  while (k > 0 && volts[k - 1] < limit_v) --k;
  if (k == 0) return at_s.front();
  if (k == volts.size()) return end_s();
  const double span = volts[k - 1] - volts[k];
  const double part = span > 0.0 ? (volts[k - 1] - limit_v) / span : 0.0;
  return at_s[k - 1] + std::clamp(part, 0.0, 1.0) * (at_s[k] - at_s[k - 1]);
}

}  // namespace tillwrap::meters
