// How late a day goes: the distribution it says, and what the odds make of it.
#include "odds/overrun.hpp"

#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "forecast/by_hand.hpp"
#include "odds/odds.hpp"

namespace tillwrap::test {
namespace {

double normal_cdf(double x) { return boost::math::cdf(boost::math::normal(), x); }

// The share of days at most x late is 2 Phi(x / (spread most)) - 1 below the most, and the rest take all of it.
TEST(Overrun, HalfNormalCutAtWhatTheDayStates) {
  constexpr std::uint32_t kDays = 16384;
  constexpr double kMost_s = 7200.0;
  for (const double spread : {0.3, 0.5, 1.0}) {
    for (const double share : {0.1, 0.25, 0.5, 0.75, 0.99}) {
      std::uint32_t below = 0;
      std::uint32_t whole = 0;
      for (std::uint32_t day = 0; day < kDays; ++day) {
        const double late_s = odds::overrun_on(day, 4, spread, kMost_s);
        ASSERT_GE(late_s, 0.0);
        ASSERT_LE(late_s, kMost_s);
        below += late_s <= share * kMost_s ? 1U : 0U;
        whole += late_s == kMost_s ? 1U : 0U;
      }
      EXPECT_NEAR(static_cast<double>(below) / kDays, 2.0 * normal_cdf(share / spread) - 1.0, 0.001) << spread;
      EXPECT_NEAR(static_cast<double>(whole) / kDays, 2.0 * normal_cdf(-1.0 / spread), 0.001) << spread;
    }
  }
}

TEST(Overrun, NoSpreadIsNeverLate) {
  for (std::uint32_t day = 0; day < 100; ++day) EXPECT_EQ(odds::overrun_on(day, 1, 0.0, 3600.0), 0.0);
}

// An ideal pack, the load lognormal: it lasts T0 exp(-s n). P(lasts >= off + late) is the integral over late; with both
// known it is a one-dimensional integral, done here by the trapezoid rule.
TEST(Overrun, ProbabilityIsTheIntegralOverHowLateItGets) {
  const Straight cell{.capacity_ah = 5.0};
  const double lasts = lasts_s(cell, 0.0, 10.0, 12.5);
  Kit kit(0.95 * lasts / 3600.0);
  const int bus = kit.port("bus");
  kit.holder("cup", bus, kit.pack(straight_pack(cell)));
  kit.device("load", bus, 10.0, 12.5, 13.0);
  kit.day.overrun_s = 0.2 * lasts;
  constexpr double kSigma = 0.08;
  odds::OddsOptions options{.days = 8192, .seed = 3};
  options.spread = {.load = kSigma,
                    .load_each = 0.0,
                    .capacity = 0.0,
                    .capacity_each = 0.0,
                    .resistance = 0.0,
                    .start_charge = 0.0,
                    .air_k = 0.0,
                    .bag = 0.0,
                    .overrun = 0.5};
  const odds::OddsAnswer answer = odds::odds(kit.day, options);
  const auto reaches = [&](double share_of_lasts) { return normal_cdf(-std::log(share_of_lasts) / kSigma); };
  const auto late = [](double u) {
    return 0.2 * std::min(1.0, 0.5 * boost::math::quantile(boost::math::normal(), 0.5 + 0.5 * u));
  };
  double expected = 0.0;
  constexpr int kSlices = 20000;
  for (int k = 0; k < kSlices; ++k) expected += reaches(0.95 + late((k + 0.5) / kSlices)) / kSlices;
  EXPECT_NEAR(answer.probability, reaches(0.95), 0.003);
  EXPECT_NEAR(answer.probability_with_overrun, expected, 0.003);
  EXPECT_NEAR(answer.probability_with_whole_overrun, reaches(1.15), 0.003);
  EXPECT_GT(answer.probability, answer.probability_with_overrun);
  EXPECT_GT(answer.probability_with_overrun, answer.probability_with_whole_overrun);
}

// The margin does not ask how late it gets, so no driver changes and day k stays the day it was.
TEST(Overrun, LeavesTheMarginAlone) {
  Kit kit(6.0);
  const int bus = kit.port("bus");
  kit.holder("cup", bus, kit.pack(straight_pack({.capacity_ah = 5.0})));
  kit.device("load", bus, 10.0, 12.5, 13.0);
  kit.day.overrun_s = 3600.0;
  odds::OddsOptions options{.days = 200, .seed = 5};
  const odds::OddsAnswer usual = odds::odds(kit.day, options);
  options.spread.overrun = 0.0;
  const odds::OddsAnswer never = odds::odds(kit.day, options);
  EXPECT_EQ(usual.p10_s, never.p10_s);
  EXPECT_EQ(usual.p90_s, never.p90_s);
  EXPECT_EQ(never.probability, never.probability_with_overrun);
  ASSERT_EQ(usual.drivers.size(), never.drivers.size());
  for (std::size_t k = 0; k < usual.drivers.size(); ++k) EXPECT_EQ(usual.drivers[k].share, never.drivers[k].share);
}

}  // namespace
}  // namespace tillwrap::test
