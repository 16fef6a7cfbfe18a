// Ranking and the choice of the least cost, on outcomes made up here; nothing is simulated.
#include <gtest/gtest.h>

#include "remedies/remedies.hpp"

namespace tillwrap::remedies {
namespace {

Outcome lasting(double safe_min, double likely_min) {
  return {.margin_s = 60.0 * likely_min, .safe_margin_s = 60.0 * safe_min, .likely_margin_s = 60.0 * likely_min};
}

Tried tried(double safe_min, double likely_min) { return {true, lasting(safe_min, likely_min)}; }

TEST(Ranked, ByWhatIsGainedAndOnlyWhatHelps) {
  const Outcome base = lasting(-60, -30);
  const std::vector<Tried> steps{tried(-60, -30), tried(-20, -10), tried(10, 20), tried(-90, -30), {}, tried(-60, 0)};
  const std::vector<Cost> costs(steps.size());
  EXPECT_EQ(ranked(Goal::reach_off, base, steps, costs, 0.0), (std::vector<int>{2, 1, 5}));
}

TEST(Ranked, EqualGainsGoByCost) {
  const Outcome base = lasting(-60, -30);
  const std::vector<Tried> steps{tried(-20, -10), tried(-20, -10), tried(-20, -10)};
  const std::vector<Cost> costs{{.money = 50.0, .buy = true}, {.hands_s = 60.0}, {.hands_s = 60.0, .ask = true}};
  EXPECT_EQ(ranked(Goal::reach_off, base, steps, costs, 0.0), (std::vector<int>{1, 2, 0}));
  EXPECT_EQ(cheapest_enough(Goal::reach_off, steps, costs, 0.0), -1);
}

TEST(Ranked, WhatReachesOneLossGoesByCost) {
  Outcome base = lasting(30, 60);
  base.with_one_loss = true;
  base.one_loss_margin_s = -3600.0;
  base.one_loss_short_s = 3600.0;
  const auto fixes = [&](double margin_s) {
    Outcome outcome = base;
    outcome.one_loss_margin_s = margin_s;
    outcome.one_loss_short_s = std::max(0.0, -margin_s);
    outcome.one_loss_holds = margin_s >= 0.0;
    return Tried{true, outcome};
  };
  const std::vector<Tried> steps{fixes(7200.0), fixes(600.0), fixes(-1800.0)};
  const std::vector<Cost> costs{{.money = 260.0, .buy = true}, {.hands_s = 120.0, .ask = true}, {}};
  EXPECT_EQ(goal_of(base, 0.0), Goal::one_loss);
  EXPECT_EQ(ranked(Goal::one_loss, base, steps, costs, 0.0), (std::vector<int>{1, 0, 2}));
  EXPECT_EQ(cheapest_enough(Goal::one_loss, steps, costs, 0.0), 1);
}

}  // namespace
}  // namespace tillwrap::remedies
