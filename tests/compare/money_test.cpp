// Money a day and cycle life against numbers worked by hand.
#include <gtest/gtest.h>

#include "compare/compare.hpp"

namespace tillwrap::compare {
namespace {

// Cycle life by depth (secondary source): 100 % 300-500; 50 % 1200-1500; 25 % 2000-2500.
TEST(CycleLife, LiesInThePublishedRanges) {
  EXPECT_GE(cycle_life(1.0), 300.0);
  EXPECT_LE(cycle_life(1.0), 500.0);
  EXPECT_GE(cycle_life(0.5), 1200.0);
  EXPECT_LE(cycle_life(0.5), 1500.0);
  EXPECT_GE(cycle_life(0.25), 2000.0);
  EXPECT_LE(cycle_life(0.25), 2500.0);
  for (double depth = 0.05; depth < 1.0; depth += 0.05) EXPECT_GE(cycle_life(depth), cycle_life(depth + 0.05));
}

TEST(MoneyADay, UsedUpEachTurn) {
  // Two sets of eight at 0.60 each a day, whatever number of days.
  const Wear wear{.kind = Wear::Kind::disposable, .price = 4.8, .packs = 2, .drawn = {0.9, 0.3}};
  EXPECT_DOUBLE_EQ(money_a_day(wear, 100), 9.6);
  EXPECT_DOUBLE_EQ(money_a_day(wear, 1), 9.6);
}

TEST(MoneyADay, BoughtOnceUntilItsCyclesAreThrough) {
  // Two packs at 260, each emptied once a day: 400 cycles each. Over 100 days 520/100; over 4000 days they wear out ten
  // times: 260 * 2/400 = 1.30 a day.
  const Wear wear{.kind = Wear::Kind::cycles_known, .price = 260.0, .packs = 2, .drawn = {1.0, 1.0}};
  EXPECT_DOUBLE_EQ(money_a_day(wear, 100), 5.2);
  EXPECT_DOUBLE_EQ(money_a_day(wear, 4000), 1.3);
}

TEST(MoneyADay, BoughtOnceWhereNothingIsKnown) {
  const Wear wear{.kind = Wear::Kind::cycles_unknown, .price = 35.0, .packs = 3, .drawn = {1.0, 1.0, 0.2}};
  EXPECT_DOUBLE_EQ(money_a_day(wear, 100), 1.05);
}

}  // namespace
}  // namespace tillwrap::compare
