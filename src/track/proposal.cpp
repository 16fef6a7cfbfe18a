#include "track/proposal.hpp"

#include <algorithm>
#include <cmath>

#include "odds/draw.hpp"
#include "odds/samples.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::track {

namespace {

constexpr int kFreedom = 8;
constexpr double kLogTwoPi = 1.8378770664093454836;
constexpr double kLogTwo = 0.69314718055994530942;
constexpr int kFolded = odds::kStartCharge;
static_assert(kUnknowns == odds::kCommonDimensions);

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

double log_prior(const Point& point) {
  double sum = kLogTwo;
  for (const double x : point) sum -= 0.5 * (x * x + kLogTwoPi);
  return sum;
}

Point prior_draw(std::uint32_t index, std::uint64_t seed) {
  Point out{};
  for (int d = 0; d < kUnknowns; ++d) out[at(d)] = odds::normal_quantile(odds::scrambled_sobol(index, d, seed));
  out[kFolded] = std::fabs(out[kFolded]);
  return out;
}

double effective(const std::vector<double>& weights) {
  double sum = 0.0;
  double squares = 0.0;
  for (const double w : weights) {
    sum += w;
    squares += w * w;
  }
  return squares > 0.0 ? sum * sum / squares : 0.0;
}

Proposal Proposal::fitted(const std::vector<Point>& points, const std::vector<double>& weights, double least) {
  Proposal out;
  double sum = 0.0;
  for (std::size_t k = 0; k < points.size(); ++k) {
    sum += weights[k];
    for (int d = 0; d < kUnknowns; ++d) out.mean_[at(d)] += weights[k] * points[k][at(d)];
  }
  for (double& m : out.mean_) m /= sum;
  std::array<std::array<double, kUnknowns>, kUnknowns> covariance{};
  for (std::size_t k = 0; k < points.size(); ++k) {
    for (int i = 0; i < kUnknowns; ++i) {
      for (int j = 0; j <= i; ++j)
        covariance[at(i)][at(j)] +=
            weights[k] / sum * (points[k][at(i)] - out.mean_[at(i)]) * (points[k][at(j)] - out.mean_[at(j)]);
    }
  }
  // Cholesky; the floor on the diagonal keeps it positive.
  for (int i = 0; i < kUnknowns; ++i) {
    covariance[at(i)][at(i)] += least * least;
    for (int j = 0; j <= i; ++j) {
      double rest = covariance[at(i)][at(j)];
      for (int k = 0; k < j; ++k) rest -= out.factor_[at(i)][at(k)] * out.factor_[at(j)][at(k)];
      out.factor_[at(i)][at(j)] = i == j ? std::sqrt(std::max(rest, least * least)) : rest / out.factor_[at(j)][at(j)];
    }
  }
  return out;
}

Point Proposal::draw(std::uint32_t index, std::uint64_t seed) const {
  Point z{};
  for (int d = 0; d < kUnknowns; ++d) z[at(d)] = odds::normal_quantile(odds::scrambled_sobol(index, d, seed));
  // Chi-squared of eight degrees: twice the sum of four exponentials.
  double chi = 0.0;
  for (int k = 0; k < kFreedom / 2; ++k) chi -= 2.0 * maths::log(odds::scrambled_sobol(index, kUnknowns + k, seed));
  const double stretch = std::sqrt(kFreedom / std::max(chi, 1e-12));
  Point out = mean_;
  for (int i = 0; i < kUnknowns; ++i) {
    for (int k = 0; k <= i; ++k) out[at(i)] += stretch * factor_[at(i)][at(k)] * z[at(k)];
  }
  out[kFolded] = std::fabs(out[kFolded]);
  return out;
}

// Gamma((v+d)/2) / (Gamma(v/2) (v pi)^(d/2) |L|) (1 + y'y/v)^(-(v+d)/2) with v = 8, d = 6: Gamma(7) / Gamma(4) = 120.
double Proposal::log_at(const Point& point) const {
  Point y{};
  double square = 0.0;
  double log_factor = 0.0;
  for (int i = 0; i < kUnknowns; ++i) {
    double rest = point[at(i)] - mean_[at(i)];
    for (int k = 0; k < i; ++k) rest -= factor_[at(i)][at(k)] * y[at(k)];
    y[at(i)] = rest / factor_[at(i)][at(i)];
    square += y[at(i)] * y[at(i)];
    log_factor += maths::log(factor_[at(i)][at(i)]);
  }
  const double log_eight_pi = kLogTwoPi + 2.0 * kLogTwo;
  return maths::log(120.0) - 0.5 * kUnknowns * log_eight_pi - log_factor -
         0.5 * (kFreedom + kUnknowns) * maths::log(1.0 + square / kFreedom);
}

double Proposal::log_density(const Point& point) const {
  Point other = point;
  other[kFolded] = -point[kFolded];
  const double a = log_at(point);
  const double b = log_at(other);
  const double high = std::max(a, b);
  return high + maths::log(maths::exp(a - high) + maths::exp(b - high));
}

}  // namespace tillwrap::track
