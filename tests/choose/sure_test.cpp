#include "choose/sure.hpp"

#include <gtest/gtest.h>

#include <boost/math/distributions/beta.hpp>
#include <boost/math/special_functions/beta.hpp>

namespace tillwrap::choose {
namespace {

TEST(Sure, TailIsTheIncompleteBetaFunction) {
  // P(X >= k | n, p) = I_p(k, n - k + 1) (Abramowitz and Stegun 26.5.24), by Boost.Math.
  for (const int n : {1, 7, 64, 512, 4096}) {
    for (const double p : {0.001, 0.2, 0.5, 0.9, 0.95, 0.9995}) {
      for (const double share : {0.01, 0.3, 0.9, 0.96, 1.0}) {
        const int k = std::max(1, static_cast<int>(share * n));
        EXPECT_NEAR(binomial_tail(n, k, p), boost::math::ibeta(k, n - k + 1.0, p), 1e-11) << n << " " << p << " " << k;
      }
    }
  }
}

TEST(Sure, LowerLimitIsClopperPearson) {
  // Lower limit = quantile of Beta(k, n - k + 1) at 1 - confidence; Boost has it under the same name.
  for (const int k : {1, 100, 490, 495, 511, 512}) {
    const double expected = boost::math::quantile(boost::math::beta_distribution<>(k, 512 - k + 1.0), 0.05);
    EXPECT_NEAR(lower_limit(512, k), expected, 1e-9) << k;
  }
  EXPECT_NEAR(lower_limit(10, 10), 0.741134, 1e-6);  // closed form: 0.05^(1/10)
  EXPECT_EQ(lower_limit(10, 0), 0.0);
}

TEST(Sure, DaysNeeded) {
  // 512 days, 95 %: scipy.stats.beta.ppf(0.05, 495, 18) = 0.95067 and ppf(0.05, 494, 19) = 0.94835.
  EXPECT_EQ(days_needed(512, 0.95), 495);
  EXPECT_EQ(days_needed(512, 0.999), 513);  // 0.999^512 = 0.599: not even all of them show it
  EXPECT_EQ(days_needed(59, 0.95), 59);     // the handbook's "59 without a failure" for 95/95
  EXPECT_EQ(days_needed(58, 0.95), 59);
  for (const double sure : {0.5, 0.8, 0.9, 0.95, 0.99}) {
    const int need = days_needed(512, sure);
    EXPECT_GE(lower_limit(512, need), sure);
    EXPECT_LT(lower_limit(512, need - 1), sure);
  }
}

}  // namespace
}  // namespace tillwrap::choose
