// A smooth monotone-preserving curve through measured points: y(x) with its slope, in a fixed number of operations.
//
// Piecewise cubic Hermite with Fritsch-Butland slopes (SIAM J. Sci. Stat. Comput. 5(2) 300, 1984): no overshoot between
// knots, so an open-circuit curve never bends the wrong way. Outside the knots the end slope is continued in a straight
// line. A bucket table finds the interval without a search, so a lookup costs the same anywhere on the curve.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace tillwrap {

struct ValueSlope {
  double value = 0.0;
  double slope = 0.0;
};

class Curve {
 public:
  Curve() = default;

  // Knots with strictly increasing x, at least two, all finite; otherwise std::invalid_argument naming the knot.
  Curve(std::vector<double> x, std::vector<double> y);

  [[nodiscard]] bool empty() const { return x_.empty(); }
  [[nodiscard]] const std::vector<double>& knots_x() const { return x_; }
  [[nodiscard]] const std::vector<double>& knots_y() const { return y_; }

  [[nodiscard]] ValueSlope at(double x) const {
    if (!(x > x_.front())) return {y_.front() + d_.front() * (x - x_.front()), d_.front()};
    if (x >= x_.back()) return {y_.back() + d_.back() * (x - x_.back()), d_.back()};
    const Cubic& c = cubic_[interval(x)];
    const double t = (x - c.x) * c.per_x;
    return {c.y + t * (c.a1 + t * (c.a2 + t * c.a3)), c.per_x * (c.a1 + t * (2.0 * c.a2 + 3.0 * t * c.a3))};
  }
  [[nodiscard]] double value(double x) const { return at(x).value; }
  // Beyond the knots the value at the end, not the straight line.
  [[nodiscard]] double held(double x) const {
    return x <= x_.front() ? y_.front() : x >= x_.back() ? y_.back() : value(x);
  }

  // Exact integral of the curve (with its straight ends) from a to b.
  [[nodiscard]] double integral(double a, double b) const;

  // x with value(x) == y for a strictly increasing curve, by safeguarded Newton to 1e-13 of the x range.
  [[nodiscard]] double inverse(double y) const;

  friend bool operator==(const Curve&, const Curve&) = default;

 private:
  // y = y0 + t (a1 + t (a2 + t a3)) with t = (x - x0) / width of the interval.
  struct Cubic {
    double x = 0.0, per_x = 0.0, y = 0.0, a1 = 0.0, a2 = 0.0, a3 = 0.0;
    friend bool operator==(const Cubic&, const Cubic&) = default;
  };
  [[nodiscard]] std::size_t interval(double x) const {
    std::size_t k = bucket_[static_cast<std::size_t>((x - x_[0]) * bucket_per_x_)];
    while (k + 2 < x_.size() && x_[k + 1] <= x) ++k;
    return k;
  }
  [[nodiscard]] double integral_from_start(double x) const;

  std::vector<double> x_;
  std::vector<double> y_;
  std::vector<double> d_;              // slope at each knot
  std::vector<Cubic> cubic_;           // one an interval
  std::vector<double> area_;           // integral from the first knot to each knot
  std::vector<std::uint16_t> bucket_;  // first interval that can hold an x in this bucket
  double bucket_per_x_ = 0.0;
};

}  // namespace tillwrap
