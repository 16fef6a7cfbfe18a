// The line through test results against SciPy and least squares by another route, and its bands by drawing.
#include "health/trend.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <random>

namespace tillwrap::health {
namespace {

const std::vector<Result> kResults{
    {-2.9, 0.97, 0.02}, {-2.1, 0.955, 0.03}, {-1.4, 0.92, 0.015}, {-0.8, 0.90, 0.02}, {-0.1, 0.875, 0.025}};
constexpr Prior kNoPrior{.new_at_years = 0.0, .new_value = 1.0, .new_sd = 1e6, .rate = 0.0, .rate_sd = 1e6};

// scipy.optimize.curve_fit(a + b t, sigma=sd, absolute_sigma=True), SciPy 1.10.1.
TEST(Trend, WeightedLineOfSciPy) {
  const Trend t = trend(kResults, kNoPrior);
  EXPECT_NEAR(t.value, 0.8723918072984104, 1e-7);
  EXPECT_NEAR(t.rate, -0.034543486186863155, 1e-7);
  EXPECT_NEAR(t.value_var, 0.00030747308276212284, 1e-9);
  EXPECT_NEAR(t.rate_var, 0.00010309761474096063, 1e-9);
  EXPECT_NEAR(t.covariance, 0.00015237525802263096, 1e-9);
}

// The prior as two more equations, scipy.linalg.lstsq; where the band's edges meet 0.8 by scipy.optimize.brentq.
TEST(Trend, WithItsPriorAndTheDateOfSciPy) {
  const Trend t = trend(kResults, capacity_prior(-3.5));
  EXPECT_NEAR(t.value, 0.8695452394917667, 1e-9);
  EXPECT_NEAR(t.rate, -0.03661242770188119, 1e-9);
  EXPECT_NEAR(t.value_var, 0.0002566131113536694, 1e-12);
  const Crossing at = falls_to(t, 0.8, 50.0);
  ASSERT_TRUE(at.low && at.middle && at.high);
  EXPECT_NEAR(*at.middle, 1.899498171988013, 1e-6);
  EXPECT_NEAR(*at.low, 0.8896724600271206, 1e-6);
  EXPECT_NEAR(*at.high, 4.014517703745721, 1e-6);
}

// Any results: the same line by Eigen's QR on the stacked equations.
RC_GTEST_PROP(Trend, IsTheLeastSquaresSolution, ()) {
  std::vector<Result> results;
  const int n = *rc::gen::inRange(0, 8);
  for (int k = 0; k < n; ++k) {
    results.push_back(
        {-*rc::gen::inRange(0, 600) / 100.0, *rc::gen::inRange(40, 110) / 100.0, *rc::gen::inRange(10, 100) / 1000.0});
  }
  const Prior prior = capacity_prior(-*rc::gen::inRange(0, 800) / 100.0);
  const Trend t = trend(results, prior);
  Eigen::MatrixXd a(n + 2, 2);
  Eigen::VectorXd b(n + 2);
  for (int k = 0; k < n; ++k) {
    const Result& r = results[static_cast<std::size_t>(k)];
    const double w = 1.0 / (r.sd * t.scatter);
    a.row(k) << w, w * r.at_years;
    b(k) = w * r.value;
  }
  a.row(n) << 1.0 / prior.new_sd, prior.new_at_years / prior.new_sd;
  b(n) = prior.new_value / prior.new_sd;
  a.row(n + 1) << 0.0, 1.0 / prior.rate_sd;
  b(n + 1) = prior.rate / prior.rate_sd;
  const Eigen::VectorXd x = a.colPivHouseholderQr().solve(b);
  RC_ASSERT(std::fabs(t.value - x(0)) < 1e-9);
  RC_ASSERT(std::fabs(t.rate - x(1)) < 1e-9);
}

// Packs drawn from the prior, tested with the stated doubt: the bands hold the truth nine times in ten (binomial, 4000
// draws: one standard deviation is 0.5 %).
TEST(Trend, BandsHoldNineTimesInTen) {
  std::mt19937 random(11);
  std::normal_distribution<double> normal;
  for (const int tests : {0, 1, 2, 5}) {
    int now = 0;
    int date = 0;
    constexpr int kDraws = 4000;
    for (int k = 0; k < kDraws; ++k) {
      const double rate = -0.05 + 0.03 * normal(random);
      const double at_new = 1.0 + 0.03 * normal(random);
      const double born = -3.0;
      const auto truth = [&](double t) { return at_new + rate * (t - born); };
      std::vector<Result> results;
      for (int j = 0; j < tests; ++j) {
        const double t = -2.5 + 2.5 * j / std::max(1, tests - 1);
        results.push_back({t, truth(t) + 0.02 * normal(random), 0.02});
      }
      const Trend t = trend(results, capacity_prior(born));
      const Band band = value_at(t, 0.0);
      now += truth(0.0) >= band.low && truth(0.0) <= band.high ? 1 : 0;
      const Crossing at = falls_to(t, 0.8, 1e9);
      const double truly = rate < 0.0 ? born + (0.8 - at_new) / rate : 1e12;
      date += truly >= at.low.value_or(1e9) && truly <= at.high.value_or(1e13) ? 1 : 0;
    }
    // The scatter is only ever widened, so five tests cover a little more.
    EXPECT_NEAR(now, 0.9 * kDraws, 0.03 * kDraws) << tests << " tests";
    EXPECT_NEAR(date, 0.9 * kDraws, 0.04 * kDraws) << tests << " tests";
  }
}

TEST(Trend, FewResultsAreAWideBand) {
  const auto width = [](int n) {
    std::vector<Result> results;
    for (int k = 0; k < n; ++k) results.push_back({-1.0 + k, 0.9 - 0.04 * k, 0.02});
    const Crossing at = falls_to(trend(results, capacity_prior(-2.0)), 0.8, 100.0);
    return at.high.value_or(200.0) - at.low.value_or(0.0);
  };
  EXPECT_GT(width(0), 6.0);  // years: told by its age alone
  EXPECT_GT(width(0), width(1));
  EXPECT_GT(width(1), width(2));
}

TEST(Trend, ScatterBeyondTheStatedSpreadWidens) {
  const std::vector<Result> wild{{-2.0, 0.95, 0.01}, {-1.5, 0.80, 0.01}, {-1.0, 0.95, 0.01}, {-0.5, 0.78, 0.01}};
  const Trend t = trend(wild, capacity_prior(-2.5));
  EXPECT_GT(t.scatter, 3.0);
  const Band band = value_at(t, 0.0);
  EXPECT_GT(band.high - band.low, 0.08);
}

TEST(Trend, ARateThatMayBeZeroHasAnOpenEnd) {
  const Crossing at = falls_to({.value = 0.95, .rate = -0.01, .value_var = 1e-4, .rate_var = 1e-3}, 0.8, 50.0);
  EXPECT_TRUE(at.low);
  EXPECT_TRUE(at.middle);
  EXPECT_FALSE(at.high);
  const Crossing rising = falls_to({.value = 0.95, .rate = 0.01, .value_var = 1e-4, .rate_var = 1e-8}, 0.8, 50.0);
  EXPECT_FALSE(rising.low || rising.middle || rising.high);
}

TEST(Twins, WeakerByMoreThanChance) {
  const auto band = [](double middle, double sd) { return Band{middle - kBand * sd, middle, middle + kBand * sd}; };
  EXPECT_TRUE(compared(band(0.80, 0.01), band(0.90, 0.01)).weak);
  EXPECT_FALSE(compared(band(0.90, 0.01), band(0.80, 0.01)).weak);
  EXPECT_FALSE(compared(band(0.80, 0.06), band(0.90, 0.06)).weak);    // 10 % +- 8.5 %
  EXPECT_FALSE(compared(band(0.86, 0.001), band(0.90, 0.001)).weak);  // packs differ by as much from new
}

}  // namespace
}  // namespace tillwrap::health
