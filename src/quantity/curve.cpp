#include "quantity/curve.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace tillwrap {

namespace {

// Slope at an end knot: the one-sided three-point formula, limited so that the curve stays monotone.
double end_slope(double h0, double h1, double s0, double s1) {
  double d = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1);
  if (d * s0 <= 0.0) return 0.0;
  if (s0 * s1 <= 0.0 && std::fabs(d) > 3.0 * std::fabs(s0)) d = 3.0 * s0;
  return d;
}

}  // namespace

Curve::Curve(std::vector<double> x, std::vector<double> y) : x_(std::move(x)), y_(std::move(y)) {
  const std::size_t n = x_.size();
  if (n != y_.size()) throw std::invalid_argument("a curve needs as many y values as x values");
  if (n < 2) throw std::invalid_argument("a curve needs at least two points");
  for (std::size_t i = 0; i < n; ++i) {
    if (!std::isfinite(x_[i]) || !std::isfinite(y_[i])) {
      throw std::invalid_argument("curve point " + std::to_string(i + 1) + " is not a finite number");
    }
    if (i > 0 && !(x_[i] > x_[i - 1])) {
      throw std::invalid_argument("curve point " + std::to_string(i + 1) + " does not lie after the point before it");
    }
  }
  std::vector<double> h(n - 1);
  std::vector<double> s(n - 1);
  for (std::size_t i = 0; i + 1 < n; ++i) {
    h[i] = x_[i + 1] - x_[i];
    s[i] = (y_[i + 1] - y_[i]) / h[i];
  }
  d_.assign(n, s[0]);
  if (n > 2) {
    d_[0] = end_slope(h[0], h[1], s[0], s[1]);
    d_[n - 1] = end_slope(h[n - 2], h[n - 3], s[n - 2], s[n - 3]);
    for (std::size_t i = 1; i + 1 < n; ++i) {
      if (s[i - 1] * s[i] <= 0.0) {
        d_[i] = 0.0;
        continue;
      }
      const double w1 = 2.0 * h[i] + h[i - 1];
      const double w2 = h[i] + 2.0 * h[i - 1];
      d_[i] = (w1 + w2) / (w1 / s[i - 1] + w2 / s[i]);
    }
  }
  for (std::size_t i = 0; i + 1 < n; ++i) {
    cubic_.push_back({.x = x_[i],
                      .per_x = 1.0 / h[i],
                      .y = y_[i],
                      .a1 = h[i] * d_[i],
                      .a2 = h[i] * (3.0 * s[i] - 2.0 * d_[i] - d_[i + 1]),
                      .a3 = h[i] * (d_[i] + d_[i + 1] - 2.0 * s[i])});
  }
  area_.assign(n, 0.0);
  for (std::size_t i = 0; i + 1 < n; ++i) {
    area_[i + 1] = area_[i] + h[i] * (y_[i] + y_[i + 1]) / 2.0 + h[i] * h[i] * (d_[i] - d_[i + 1]) / 12.0;
  }
  const std::size_t buckets = std::max<std::size_t>(64, 8 * n);
  bucket_per_x_ = static_cast<double>(buckets) / (x_[n - 1] - x_[0]);
  bucket_.assign(buckets + 1, 0);
  std::size_t k = 0;
  for (std::size_t b = 0; b <= buckets; ++b) {
    const double left = x_[0] + static_cast<double>(b) / bucket_per_x_;
    while (k + 2 < n && x_[k + 1] <= left) ++k;
    // One earlier, so that rounding in the bucket index can never skip past the right interval.
    bucket_[b] = static_cast<std::uint16_t>(k > 0 && x_[k] >= left ? k - 1 : k);
  }
}

double Curve::integral_from_start(double x) const {
  if (!(x > x_.front())) {
    const double dx = x - x_.front();
    return dx * (y_.front() + 0.5 * d_.front() * dx);
  }
  if (x >= x_.back()) {
    const double dx = x - x_.back();
    return area_.back() + dx * (y_.back() + 0.5 * d_.back() * dx);
  }
  const std::size_t k = interval(x);
  const double h = x_[k + 1] - x_[k];
  const double t = (x - x_[k]) / h;
  const double s = (y_[k + 1] - y_[k]) / h;
  const double c2 = 3.0 * s - 2.0 * d_[k] - d_[k + 1];
  const double c3 = d_[k] + d_[k + 1] - 2.0 * s;
  return area_[k] + h * t * (y_[k] + h * t * (d_[k] / 2.0 + t * (c2 / 3.0 + t * c3 / 4.0)));
}

double Curve::integral(double a, double b) const { return integral_from_start(b) - integral_from_start(a); }

double Curve::inverse(double y) const {
  if (y <= y_.front()) return d_.front() > 0.0 ? x_.front() + (y - y_.front()) / d_.front() : x_.front();
  if (y >= y_.back()) return d_.back() > 0.0 ? x_.back() + (y - y_.back()) / d_.back() : x_.back();
  double lo = x_.front();
  double hi = x_.back();
  double x = lo + (hi - lo) * (y - y_.front()) / (y_.back() - y_.front());
  for (int i = 0; i < 200; ++i) {
    const ValueSlope v = at(x);
    if (v.value < y) {
      lo = x;
    } else {
      hi = x;
    }
    double next = v.slope > 0.0 ? x - (v.value - y) / v.slope : lo;
    if (!(next > lo && next < hi)) next = 0.5 * (lo + hi);
    if (std::fabs(next - x) <= 1e-13 * (x_.back() - x_.front()) || hi - lo <= 1e-13 * (x_.back() - x_.front())) {
      return next;
    }
    x = next;
  }
  return x;
}

}  // namespace tillwrap
