// Fuses and resettable protectors against what their standards promise. Sources beside each check.
#include "wiring/fuse.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

namespace tillwrap::wiring {
namespace {

constexpr double kRoom_k = 296.15;  // 23 °C, where hold currents of resettable fuses are rated

// UL 248-14: carries 100 %, opens at 135 % within 1 h and at 200 % within 2 min (secondary source).
const FuseLaw kUl{.standard = "UL 248-14", .long_load_ratio = 0.75, .points = {{1.35, 3600.0}, {2.0, 120.0}}};

TEST(Fuse, Ul248) {
  EXPECT_EQ(seconds_to_open(kUl, 1.0), std::numeric_limits<double>::infinity());
  EXPECT_NEAR(seconds_to_open(kUl, 1.35), 3600.0, 1e-6);
  EXPECT_NEAR(seconds_to_open(kUl, 2.0), 120.0, 1e-9);
  EXPECT_EQ(hold_current_a(kUl, 5.0, 333.15), 5.0) << "a melting fuse is not derated here";
  // Between the points on log-log axes: at the geometric mean of the ratios, the geometric mean of the times.
  EXPECT_NEAR(seconds_to_open(kUl, std::sqrt(1.35 * 2.0)), std::sqrt(3600.0 * 120.0), 1e-6);
  // Past the last point constant I²t: at 400 %, a quarter of a quarter of 120 s ... 120 x (2/4)² = 30 s.
  EXPECT_NEAR(seconds_to_open(kUl, 4.0), 30.0, 1e-9);
  EXPECT_NEAR(opening_rate_per_s(kUl, 2.0, kRoom_k, 4.0), 1.0 / 120.0, 1e-12);
  EXPECT_EQ(opening_rate_per_s(kUl, 2.0, kRoom_k, -4.0), opening_rate_per_s(kUl, 2.0, kRoom_k, 4.0));
  EXPECT_EQ(opening_rate_per_s(kUl, 2.0, kRoom_k, 2.0), 0.0);
}

// Hold current over its 23 °C value: 0 °C 1.18, 40 °C 0.83, 60 °C 0.65 (from memory); trips near twice hold
// (secondary).
TEST(Fuse, ResettableFollowsTheHeat) {
  FuseLaw pptc{.standard = "PPTC", .points = {{2.0, 60.0}, {5.0, 5.0}}, .resettable = true};
  pptc.derating = Curve({273.15, 296.15, 313.15, 333.15}, {1.18, 1.0, 0.83, 0.65});
  EXPECT_NEAR(hold_current_a(pptc, 2.0, 273.15), 2.36, 1e-9);
  EXPECT_NEAR(hold_current_a(pptc, 2.0, 313.15), 1.66, 1e-9);
  EXPECT_NEAR(hold_current_a(pptc, 2.0, 333.15), 1.30, 1e-9);
  // 2.7 A on a 2 A part: 2.08 times hold at 60 °C opens within 60 s, 1.14 times at 0 °C never.
  EXPECT_GT(opening_rate_per_s(pptc, 2.0, 333.15, 2.7), 1.0 / 60.0);
  EXPECT_EQ(opening_rate_per_s(pptc, 2.0, 273.15, 2.7), 0.0);
}

TEST(Fuse, WithoutAnyPointIsRefused) { EXPECT_THROW(seconds_to_open(FuseLaw{}, 2.0), std::invalid_argument); }

RC_GTEST_PROP(FuseProperty, MoreCurrentNeverTakesLonger, ()) {
  const double ratio = *rc::gen::inRange(50, 1200) / 100.0;
  const double more = ratio + *rc::gen::inRange(1, 300) / 100.0;
  RC_ASSERT(seconds_to_open(kUl, more) <= seconds_to_open(kUl, ratio));
}

}  // namespace
}  // namespace tillwrap::wiring
