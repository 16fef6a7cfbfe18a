// Self-discharge against its closed form, its own equation in small steps, and what is published of each chemistry.
#include "cell/resting.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "catalogue/catalogue.hpp"

namespace tillwrap::cell {
namespace {

PackParams pack(const char* id) {
  const catalogue::Catalogue& known = catalogue::builtin();
  const catalogue::PackKind* kind = known.pack(id);
  return catalogue::pack_params(*kind, *known.cell(kind->cell));
}

double month(const char* id, double temperature_k = 293.15) {
  return charge_after_rest(pack(id), 1.0, {.for_s = kMonth_s, .temperature_k = temperature_k});
}

// Secondary sources: a month takes 2 to 3 % of lithium and the electronics 1 to 3 % (from memory); nickel loses 30 %,
// low-self-discharge nickel 0.1 to 3 %; alkaline 2 % a year.
TEST(Resting, AMonthAsPublished) {
  EXPECT_NEAR(month("smart-pack-14v4-98wh"), 0.955, 0.015);
  EXPECT_NEAR(month("aa-nimh-x4"), 0.70, 0.01);
  EXPECT_GT(month("aa-nimh-lsd-x4"), 0.969);
  EXPECT_NEAR(charge_after_rest(pack("aa-alkaline-x4"), 1.0, {.for_s = 12.17 * kMonth_s}), 0.98, 0.003);
}

TEST(Resting, TwiceAsFastTenDegreesWarmer) {
  const double at_20 = -std::log(month("aa-nimh-x4", 293.15));
  EXPECT_NEAR(-std::log(month("aa-nimh-x4", 303.15)) / at_20, 2.0, 1e-9);
  EXPECT_NEAR(-std::log(month("aa-nimh-x4", 273.15)) / at_20, 0.25, 1e-9);
}

TEST(Resting, IsTheSolutionOfItsEquation) {
  const PackParams p = pack("smart-pack-14v4-98wh");
  for (const bool in_holder : {false, true}) {
    const Rest rest{.for_s = 90.0 * 86400.0, .temperature_k = 308.15, .in_holder = in_holder};
    const double k = -std::log(1.0 - p.cell.self_discharge_per_month) / kMonth_s * std::exp2(1.5);
    double z = 0.8;
    constexpr int kSteps = 200000;
    const double h = rest.for_s / kSteps;
    for (int n = 0; n < kSteps; ++n) {
      const auto slope = [&](double at) {
        return -k * at - resting_a(p, in_holder) / (p.cell.capacity_as * p.parallel);
      };
      z += h * slope(z + 0.5 * h * slope(z));
    }
    EXPECT_NEAR(charge_after_rest(p, 0.8, rest), z, 1e-9);
    // Two rests in a row are one.
    Rest half = rest;
    half.for_s /= 2.0;
    EXPECT_NEAR(charge_after_rest(p, charge_after_rest(p, 0.8, half), half), charge_after_rest(p, 0.8, rest), 1e-12);
  }
}

TEST(Resting, NeverBelowEmpty) {
  EXPECT_EQ(charge_after_rest(pack("smart-pack-14v4-98wh"), 0.05, {.for_s = 36.0 * kMonth_s, .in_holder = true}), 0.0);
  EXPECT_EQ(charge_after_rest(pack("smart-pack-14v4-98wh"), 0.6, {.for_s = 0.0}), 0.6);
}

}  // namespace
}  // namespace tillwrap::cell
