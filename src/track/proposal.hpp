// Where to look: a multivariate t over the unknowns, fitted to weighted points, drawn by a quasi-random sequence.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

namespace tillwrap::track {

inline constexpr int kUnknowns = 6;  // load, capacity, resistance, start charge, air, bag: odds::Dimension
using Point =
    std::array<double, kUnknowns>;  // in standard deviations; the start charge is how far short, never negative

// Multivariate t with eight degrees of freedom: mean, and a lower triangular factor of its scale matrix. The start
// charge's coordinate is folded: what falls below zero counts as its size.
class Proposal {
 public:
  // Mean and covariance of weighted points; the diagonal is kept above `least` squared so that nothing collapses.
  static Proposal fitted(const std::vector<Point>& points, const std::vector<double>& weights, double least = 0.05);

  [[nodiscard]] Point draw(std::uint32_t index, std::uint64_t seed) const;
  [[nodiscard]] double log_density(const Point& point) const;

 private:
  [[nodiscard]] double log_at(const Point& point) const;
  Point mean_{};
  std::array<std::array<double, kUnknowns>, kUnknowns> factor_{};
};

// log of the prior's density: standard normal, the start charge's folded.
double log_prior(const Point& point);
// The prior's own points.
Point prior_draw(std::uint32_t index, std::uint64_t seed);

// (sum w)^2 / sum w^2 (Kong, Liu and Wong, J. Am. Stat. Assoc. 89(425) 278, 1994).
double effective(const std::vector<double>& weights);

}  // namespace tillwrap::track
