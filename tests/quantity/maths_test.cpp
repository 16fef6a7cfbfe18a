// The deterministic elementary functions against the C library in extended precision.
#include "quantity/maths.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <limits>

namespace tillwrap {
namespace {

// Distance from the exact value in units of the last place of the double nearest to it.
double ulps(double got, long double exact) {
  const auto nearest = static_cast<double>(exact);
  const double next = std::nextafter(std::fabs(nearest), std::numeric_limits<double>::infinity());
  return static_cast<double>(std::fabs(static_cast<long double>(got) - exact)) / (next - std::fabs(nearest));
}

// A fixed, evenly spread sequence in [0, 1): multiples of the golden ratio.
double spread(int k) { return std::fmod(0.6180339887498949 * k, 1.0); }

static_assert(std::numeric_limits<long double>::digits >= 64, "the reference needs more bits than a double");

TEST(Maths, ExpWithinTwoUlpOfTheLibrary) {
  double worst = 0.0;
  for (int k = 0; k < 200000; ++k) {
    const double x = -700.0 + 1400.0 * spread(k);
    worst = std::max(worst, ulps(maths::exp(x), std::exp(static_cast<long double>(x))));
  }
  for (int k = 0; k < 200000; ++k) {
    const double x = 4.0 * (spread(k) - 0.5);
    worst = std::max(worst, ulps(maths::exp(x), std::exp(static_cast<long double>(x))));
  }
  EXPECT_LE(worst, 2.0);
}

TEST(Maths, LogWithinTwoUlpOfTheLibrary) {
  double worst = 0.0;
  for (int k = 1; k < 200000; ++k) {
    const double x = std::ldexp(1.0 + spread(k), k % 2000 - 1000);
    worst = std::max(worst, ulps(maths::log(x), std::log(static_cast<long double>(x))));
  }
  for (int k = 1; k < 200000; ++k) {  // near 1, where the logarithm itself is small
    const double x = 0.5 + 1.5 * spread(k);
    worst = std::max(worst, ulps(maths::log(x), std::log(static_cast<long double>(x))));
  }
  EXPECT_LE(worst, 2.0);
}

TEST(Maths, AsinhWithinFourUlpOfTheLibrary) {
  double worst = 0.0;
  for (int k = 1; k < 200000; ++k) {
    const double x = (k % 2 == 0 ? 1.0 : -1.0) * std::ldexp(1.0 + spread(k), k % 80 - 40);
    worst = std::max(worst, ulps(maths::asinh(x), std::asinh(static_cast<long double>(x))));
  }
  for (int k = 1; k < 200000; ++k) {  // where the series hands over to the logarithm
    const double x = 0.02 + 1.2 * spread(k);
    worst = std::max(worst, ulps(maths::asinh(x), std::asinh(static_cast<long double>(x))));
  }
  EXPECT_LE(worst, 4.0);
}

TEST(Maths, PowFollowsTheLibrary) {
  for (int k = 1; k < 20000; ++k) {
    const double x = 0.001 + 20.0 * spread(k);
    const double y = 6.0 * (spread(3 * k) - 0.5);
    const auto exact = static_cast<double>(std::pow(static_cast<long double>(x), static_cast<long double>(y)));
    EXPECT_NEAR(maths::pow(x, y), exact, 1e-14 * exact);
  }
}

TEST(Maths, EndsAreIeee) {
  EXPECT_EQ(maths::exp(0.0), 1.0);
  EXPECT_EQ(maths::exp(-1000.0), 0.0);
  EXPECT_TRUE(std::isinf(maths::exp(1000.0)));
  EXPECT_TRUE(std::isnan(maths::exp(std::nan(""))));
  EXPECT_EQ(maths::log(1.0), 0.0);
  EXPECT_TRUE(std::isinf(maths::log(0.0)) && maths::log(0.0) < 0.0);
  EXPECT_TRUE(std::isnan(maths::log(-1.0)));
  EXPECT_EQ(maths::asinh(0.0), 0.0);
  EXPECT_EQ(maths::asinh(-0.3), -maths::asinh(0.3));
}

}  // namespace
}  // namespace tillwrap
