// The sample points against Boost's Sobol engine and normal distribution, and against what defines them.
#include "odds/samples.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/random/sobol.hpp>
#include <vector>

namespace tillwrap::odds {
namespace {

// Boost's engine (direction numbers of Joe and Kuo) visits the same points in Gray-code order, without the origin.
TEST(Sobol, SamePointsAsBoost) {
  constexpr std::uint32_t kPoints = 4096;
  boost::random::sobol_engine<std::uint32_t, 32> boost_points(kDimensions);
  std::vector<std::vector<std::uint32_t>> theirs(1, std::vector<std::uint32_t>(kDimensions, 0));
  for (std::uint32_t i = 1; i < kPoints; ++i) {
    std::vector<std::uint32_t> point;
    for (int d = 0; d < kDimensions; ++d) point.push_back(boost_points());
    theirs.push_back(point);
  }
  std::vector<std::vector<std::uint32_t>> ours;
  for (std::uint32_t i = 0; i < kPoints; ++i) {
    std::vector<std::uint32_t> point;
    for (int d = 0; d < kDimensions; ++d) point.push_back(sobol_bits(i, d));
    ours.push_back(point);
  }
  std::sort(theirs.begin(), theirs.end());
  std::sort(ours.begin(), ours.end());
  EXPECT_EQ(ours, theirs);
}

// A scrambled net keeps its strata: of the first 2^m points exactly one lies in each of 2^m equal slices, in every
// dimension (Owen, SIAM J. Numer. Anal. 34(5) 1884, 1997).
TEST(Sobol, ScramblingKeepsTheStrata) {
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    for (int d = 0; d < kDimensions; ++d) {
      std::vector<int> hit(1024, 0);
      for (std::uint32_t i = 0; i < 1024; ++i) ++hit[static_cast<std::size_t>(1024.0 * scrambled_sobol(i, d, seed))];
      EXPECT_EQ(std::count(hit.begin(), hit.end(), 1), 1024) << d << " seed " << seed;
    }
  }
}

TEST(Sobol, SeedsDiffer) {
  int same = 0;
  for (std::uint32_t i = 0; i < 1000; ++i) same += scrambled_sobol(i, 3, 1) == scrambled_sobol(i, 3, 2) ? 1 : 0;
  EXPECT_LT(same, 3);
}

TEST(NormalQuantile, AgreesWithBoost) {
  const boost::math::normal normal;
  for (double p = 0.0005; p < 1.0; p += 0.0005) {
    const double exact = boost::math::quantile(normal, p);
    EXPECT_NEAR(normal_quantile(p), exact, 1e-13 * std::max(1.0, std::fabs(exact))) << p;
  }
  for (const double p : {1e-12, 1e-9, 1e-6, 1e-4}) {
    EXPECT_NEAR(normal_quantile(p), boost::math::quantile(normal, p), 1e-12) << p;
    EXPECT_NEAR(normal_quantile(1.0 - p), -normal_quantile(p), 2e-5) << p;
  }
}

TEST(HashedUniform, MeanAndSpreadOfAUniform) {
  double sum = 0.0;
  double square = 0.0;
  constexpr int kPoints = 100000;
  for (std::uint32_t i = 0; i < kPoints; ++i) {
    const double u = hashed_uniform(i, 7, 42);
    ASSERT_GT(u, 0.0);
    ASSERT_LT(u, 1.0);
    sum += u;
    square += u * u;
  }
  EXPECT_NEAR(sum / kPoints, 0.5, 4.0 * std::sqrt(1.0 / 12.0 / kPoints));
  EXPECT_NEAR(square / kPoints, 1.0 / 3.0, 4.0 * std::sqrt(4.0 / 45.0 / kPoints));
}

}  // namespace
}  // namespace tillwrap::odds
