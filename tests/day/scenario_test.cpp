// When hands can reach a place, how warm places are, copper over temperature.
#include "day/scenario.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>

namespace tillwrap::day {
namespace {

Scenario from_six() {
  Scenario day;
  day.places = {{.name = "bag"}, {.name = "cast"}};
  day.periods = {{.name = "all", .from_s = 6 * 3600.0, .until_s = 20 * 3600.0}};
  return day;
}

TEST(Windows, OfAPlaceNobodyIsKeptFrom) {
  const std::vector<Span> open = windows(from_six(), 0, 80000.0);
  ASSERT_EQ(open.size(), 1u);
  EXPECT_EQ(open[0].from_s, 6 * 3600.0);
  EXPECT_EQ(open[0].until_s, 80000.0);
}

TEST(Windows, AreWhatTheClosedStretchesLeave) {
  Scenario day = from_six();
  // Out of order, two of them overlapping, one of another place, one from before the day.
  day.no_hands = {{.place = 1, .from_s = 50000.0, .until_s = 60000.0},
                  {.place = 1, .from_s = 30000.0, .until_s = 35000.0},
                  {.place = 1, .from_s = 33000.0, .until_s = 40000.0},
                  {.place = 0, .from_s = 41000.0, .until_s = 42000.0},
                  {.place = 1, .from_s = 0.0, .until_s = 22000.0}};
  const std::vector<Span> open = windows(day, 1, 70000.0);
  ASSERT_EQ(open.size(), 3u);
  EXPECT_EQ(open[0].from_s, 22000.0);
  EXPECT_EQ(open[0].until_s, 30000.0);
  EXPECT_EQ(open[1].from_s, 40000.0);
  EXPECT_EQ(open[1].until_s, 50000.0);
  EXPECT_EQ(open[2].from_s, 60000.0);
  EXPECT_EQ(open[2].until_s, 70000.0);
  // Looking only to the middle of the closed stretch.
  EXPECT_EQ(windows(day, 1, 55000.0).size(), 2u);
}

RC_GTEST_PROP(WindowsProperty, OpenOrClosedAtEveryMomentNeverBoth, ()) {
  Scenario day = from_six();
  const int stretches = *rc::gen::inRange(0, 6);
  for (int k = 0; k < stretches; ++k) {
    const double from_s = *rc::gen::inRange(20000, 80000);
    day.no_hands.push_back({.place = 0, .from_s = from_s, .until_s = from_s + *rc::gen::inRange(1, 20000)});
  }
  const double until_s = 75000.0;
  const std::vector<Span> open = windows(day, 0, until_s);
  for (double t = 21600.5; t < until_s; t += 137.0) {
    const bool closed = std::any_of(day.no_hands.begin(), day.no_hands.end(),
                                    [t](const NoHands& n) { return t >= n.from_s && t < n.until_s; });
    const bool opened =
        std::any_of(open.begin(), open.end(), [t](const Span& s) { return t >= s.from_s && t < s.until_s; });
    RC_ASSERT(closed != opened);
  }
}

TEST(Places, AirBagPocketAndCostume) {
  EXPECT_EQ(place_k({.kind = Place::Kind::air}, 267.15), 267.15);
  EXPECT_EQ(place_k({.kind = Place::Kind::bag}, 267.15), 267.15) << "before anything runs in it";
  EXPECT_EQ(place_k({.kind = Place::Kind::fixed, .fixed_k = 303.15}, 267.15), 303.15);
  EXPECT_NEAR(place_k({.kind = Place::Kind::between, .fixed_k = 307.15, .share = 0.75}, 267.15), 297.15, 1e-9);
}

TEST(Copper, FactorOverTemperature) {
  // alpha = 0.00393/K from 20 °C (IEC 60028, from memory).
  EXPECT_DOUBLE_EQ(copper_factor(293.15), 1.0);
  EXPECT_NEAR(copper_factor(348.15), 1.21615, 1e-9);
  EXPECT_NEAR(copper_factor(253.15), 0.8428, 1e-9);
}

}  // namespace
}  // namespace tillwrap::day
