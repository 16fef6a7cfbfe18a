// Odds against closed forms, and the promises about seeds, ranges and error.
#include "odds/odds.hpp"

#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "forecast/by_hand.hpp"

namespace tillwrap::test {
namespace {

// One ideal pack, one constant-power device, a day of `day_h`: lasts E/P, E the integral of the open-circuit volts.
Kit one_pack(double day_h, double watts) {
  Kit kit(day_h);
  const int bus = kit.port("bus");
  kit.holder("cup", bus, kit.pack(straight_pack({.capacity_ah = 5.0})));
  kit.device("load", bus, watts, 12.5, 13.0);
  return kit;
}

odds::Spread only_load(double sigma) {
  return {.load = sigma,
          .load_each = 0.0,
          .capacity = 0.0,
          .capacity_each = 0.0,
          .resistance = 0.0,
          .start_charge = 0.0,
          .air_k = 0.0,
          .bag = 0.0};
}

double normal_cdf(double x) { return boost::math::cdf(boost::math::normal(), x); }

// With the load alone in doubt, lognormal, it lasts T0/L: P(T0/L >= T) = Phi(ln(T0/T)/sigma).
TEST(Odds, ProbabilityOfAnUncertainLoadIsTheNormalDistribution) {
  const double lasts = lasts_s({.capacity_ah = 5.0}, 0.0, 10.0, 12.5);
  for (const double share : {0.95, 1.0, 1.05}) {
    Kit kit = one_pack(share * lasts / 3600.0, 10.0);
    const odds::OddsOptions options{.days = 4096, .seed = 3, .spread = only_load(0.08)};
    const odds::OddsAnswer answer = odds::odds(kit.day, options);
    EXPECT_NEAR(answer.probability, normal_cdf(-std::log(share) / 0.08), 0.003) << share;
    // Nine days in ten last to T0 exp(-1.2816 sigma).
    const double off_s = kit.day.off_s - kit.day.periods.front().from_s;
    EXPECT_NEAR(answer.p10_s, lasts * std::exp(-1.2816 * 0.08) - off_s, 30.0) << share;
    EXPECT_NEAR(answer.p50_s, lasts - off_s, 30.0) << share;
    EXPECT_EQ(answer.drivers.front().name, "load");
    EXPECT_GT(answer.drivers.front().share, 0.97);
  }
}

// Two unknowns of equal weight (load and capacity act alike on E/P) share the doubt equally.
TEST(Odds, SharesOfTwoEqualUnknowns) {
  const double lasts = lasts_s({.capacity_ah = 5.0}, 0.0, 10.0, 12.5);
  Kit kit = one_pack(lasts / 3600.0, 10.0);
  odds::Spread spread = only_load(0.04);
  spread.capacity = 0.04 * std::sqrt(2.0);  // half of its variance goes with the kind, half with all
  const odds::OddsAnswer answer = odds::odds(kit.day, {.days = 8192, .seed = 1, .spread = spread});
  for (const odds::Driver& driver : answer.drivers) {
    if (driver.name != "load" && driver.name != "capacity") continue;
    EXPECT_NEAR(driver.share, 1.0 / 3.0, 0.04) << driver.name;
  }
  // Three independent normals of 4 %: the spread of the margin is sqrt(3) x 4 %.
  EXPECT_NEAR((answer.p50_s - answer.p10_s) / lasts, 1.2816 * 0.04 * std::sqrt(3.0), 0.006);
}

// RMS error of the probability at 10,000 days over 20 seeds: at most 0.3 points.
TEST(Odds, ErrorOfTheProbabilityOverTwentySeeds) {
  const double lasts = lasts_s({.capacity_ah = 5.0}, 0.0, 10.0, 12.5);
  Kit kit = one_pack(0.97 * lasts / 3600.0, 10.0);
  const double exact = normal_cdf(-std::log(0.97) / std::sqrt(0.08 * 0.08 + 0.03 * 0.03));
  odds::Spread spread = only_load(0.08);
  spread.load_each = 0.03;
  double square = 0.0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    const double error = odds::odds(kit.day, {.days = 10000, .seed = seed, .spread = spread}).probability - exact;
    square += error * error;
  }
  EXPECT_LE(std::sqrt(square / 20.0), 0.003);
}

// Days in any ranges, by any workers, in any order: the same bits.
TEST(Odds, RangesAndWorkersGiveTheSameDays) {
  Kit kit = one_pack(6.0, 10.0);
  const odds::OddsOptions options{.days = 300, .seed = 9};
  std::vector<odds::DayOutcome> whole(300);
  odds::Worker(kit.day, options).run(0, whole);
  odds::Worker second(kit.day, options);
  std::vector<odds::DayOutcome> tail(100);
  second.run(200, tail);
  std::vector<odds::DayOutcome> head(200);
  second.run(0, head);
  for (std::size_t k = 0; k < 200; ++k) EXPECT_EQ(head[k], whole[k]) << k;
  for (std::size_t k = 0; k < 100; ++k) EXPECT_EQ(tail[k], whole[200 + k]) << k;
}

// A change past its time: the pack would have served to T0 exp(-1.2816 sigma) nine days in ten.
TEST(Odds, LastSafeMomentOfAChange) {
  const double lasts = lasts_s({.capacity_ah = 5.0}, 0.0, 10.0, 12.5);
  Kit kit(12.0);
  const int bus = kit.port("bus");
  const int cup = kit.holder("cup", bus, kit.pack(straight_pack({.capacity_ah = 5.0})));
  kit.device("load", bus, 10.0, 12.5, 13.0);
  kit.day.holders[at(cup)].slots.push_back(
      {.pack = kit.pack(straight_pack({.capacity_ah = 5.0})), .at_s = 3.0 * kHour_s});
  const auto changes = odds::change_odds(kit.day, {.days = 512, .seed = 1, .spread = only_load(0.05)});
  ASSERT_EQ(changes.size(), 1U);
  EXPECT_NEAR(changes[0].safe_s, lasts * std::exp(-1.2816 * 0.05), 0.004 * lasts);
  EXPECT_NEAR(changes[0].likely_s, lasts, 0.004 * lasts);
}

// The same for a pack that goes in after the kit stood dark, and would serve past off: what was lost before is no end.
TEST(Odds, LastSafeMomentOfAChangeAfterALoss) {
  const double lasts = lasts_s({.capacity_ah = 5.0}, 0.0, 10.0, 12.5);
  const double in_s = 3.0 * kHour_s;
  Kit kit(8.0);
  kit.day.overrun_s = 4.0 * kHour_s;
  const int bus = kit.port("bus");
  const int cup = kit.holder("cup", bus, kit.pack(straight_pack({.capacity_ah = 1.0})));
  kit.device("load", bus, 10.0, 12.5, 13.0);
  for (const double at_s : {in_s, 11.0 * kHour_s})
    kit.day.holders[at(cup)].slots.push_back({.pack = kit.pack(straight_pack({.capacity_ah = 5.0})), .at_s = at_s});
  ASSERT_LT(lasts_s({.capacity_ah = 1.0}, 0.0, 10.0, 12.5), in_s);
  ASSERT_GT(in_s + lasts, kit.day.off_s);
  const auto changes = odds::change_odds(kit.day, {.days = 512, .seed = 1, .spread = only_load(0.05)});
  ASSERT_EQ(changes.size(), 2U);
  EXPECT_NEAR(changes[1].safe_s, in_s + lasts * std::exp(-1.2816 * 0.05), 0.004 * lasts);
  EXPECT_NEAR(changes[1].likely_s, in_s + lasts, 0.004 * lasts);
}

}  // namespace
}  // namespace tillwrap::test
