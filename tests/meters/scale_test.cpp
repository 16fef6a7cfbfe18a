// What a display shows at which volts: by hand, by the trade, by a published curve.
#include "meters/scale.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "forecast/kit.hpp"
#include "meters/profiles.hpp"

namespace tillwrap::test {
namespace {

const catalogue::Catalogue& known() { return catalogue::builtin(); }

meters::Scale scale_of(const std::string& id, const meters::UsualLoad& load) {
  const catalogue::MeterProfile& kind = *known().meter(id);
  return meters::calibrated(meters::typical_pack(known(), kind.chemistry, kind.cells), load, kind.empty_v);
}

// A straight pack, 16 to 12 V over 2 Ah, at 1 A: U = 12 + 4 z, energy left above 12 V is Q (12 z + 2 z^2), so the share
// is (12 z + 2 z^2)/14. A device that stops at 13 V: z from 1 to 1/4, share (12 z + 2 z^2 - 3.125)/10.875. By hand.
TEST(Scale, OfAStraightPackByHand) {
  cell::PackParams pack = straight_pack({.full_v = 16.0, .empty_v = 12.0, .capacity_ah = 2.0, .ohm = 0.0});
  pack.heat_capacity_j_k = 1e6;
  const meters::Scale all = meters::calibrated(pack, {.draw_a = 1.0}, 12.0);
  const meters::Scale part = meters::calibrated(pack, {.draw_a = 1.0, .least_cutoff_v = 13.0}, 12.0);
  for (const double z : {0.05, 0.25, 0.5, 0.8, 1.0}) {
    const double given = 12.0 * z + 2.0 * z * z;
    EXPECT_NEAR(all.left_at(12.0 + 4.0 * z), given / 14.0, 2e-3) << z;
    EXPECT_NEAR(part.left_at(12.0 + 4.0 * z), std::max(0.0, (given - 3.125) / 10.875), 2e-3) << z;
  }
  EXPECT_EQ(all.left_at(11.0), 0.0);
  EXPECT_EQ(all.left_at(17.0), 1.0);
  EXPECT_NEAR(part.empty_v(), 13.0, 0.01);
  // A fifth left: 2 z^2 + 12 z = 2.8.
  EXPECT_NEAR(all.warn_v, 12.0 + 4.0 * (-3.0 + std::sqrt(9.0 + 1.4)), 0.01);
  // A device that stops above where the pack begins is not what it is made for: its cut-off is left out.
  EXPECT_NEAR(meters::calibrated(pack, {.draw_a = 1.0, .least_cutoff_v = 15.99}, 12.0).empty_v(), 12.0, 0.01);
}

// Common practice, no source: on packs of four lithium cells warn near 13.6 V and change by 13.2 V, 12 V is nearly
// empty; a 12 V lithium bank (three cells, 12.6 V full) shows a wrong meter on a nickel profile. At the middle of the
// load the trade states for a 98 Wh pack, 16 to 24 W; "near": within 0.3 V.
TEST(Scale, LithiumAsTheTradeSetsIt) {
  const meters::Scale four = scale_of("lithium-4s", {.draw_w = 20.0, .least_cutoff_v = 10.0});
  EXPECT_NEAR(four.warn_v, 13.6, 0.3);
  EXPECT_NEAR(four.share.inverse(0.1), 13.2, 0.3);
  EXPECT_LT(four.left_at(12.0), 0.06);
  EXPECT_GT(four.left_at(12.0), 0.0);
  EXPECT_GT(four.left_at(16.4), 0.95);
  const meters::Scale three = scale_of("lithium-3s", {.draw_w = 8.0, .least_cutoff_v = 9.0});
  const meters::Scale nickel = scale_of("nickel-10", {.draw_w = 8.0, .least_cutoff_v = 9.0});
  const double full_v = three.share.inverse(0.99);
  EXPECT_LT(nickel.left_at(full_v), 0.6);
  EXPECT_LT(nickel.left_at(three.share.inverse(0.5)), 0.1);
}

// A published loaded curve of a nickel cell (secondary source), volts at 10 to 90 % of its
// charge: 1.194 1.231 1.244 1.254 1.257 1.263 1.266 1.274 1.315. The set's curve is from memory: held to 40 mV.
TEST(Scale, NickelAgainstAPublishedCurve) {
  const double published_v[] = {1.194, 1.231, 1.244, 1.254, 1.257, 1.263, 1.266, 1.274, 1.315};
  const meters::Scale one = scale_of("nickel-1", {});  // a fifth of the capacity an hour, as it is rated
  for (int k = 0; k < 9; ++k) EXPECT_NEAR(one.share.inverse(0.1 * (k + 1)), published_v[k], 0.04) << k;
}

// For every profile and every device that offers one: a scale from 0 to 1 over rising volts, the warning inside it, the
// typical pack of that chemistry.
TEST(Scale, OfEveryDevice) {
  for (const catalogue::DeviceKind& device : known().devices) {
    for (const std::string& id : device.meters) {
      const catalogue::MeterProfile& kind = *known().meter(id);
      const cell::PackParams pack = meters::typical_pack(known(), kind.chemistry, kind.cells);
      EXPECT_EQ(meters::family_of(pack.cell.chemistry), kind.chemistry) << id;
      EXPECT_EQ(pack.series, kind.cells) << id;
      const meters::Scale scale = meters::calibrated(pack, meters::usual_load(device), kind.empty_v);
      EXPECT_EQ(scale.left_at(0.0), 0.0);
      EXPECT_EQ(scale.left_at(100.0), 1.0);
      EXPECT_GT(scale.warn_v, scale.empty_v()) << device.id << " " << id;
      EXPECT_LT(scale.warn_v, scale.full_v()) << device.id << " " << id;
      EXPECT_GE(scale.empty_v(), kind.empty_v - 0.01) << device.id << " " << id;
      double before = -1.0;
      for (const double share : scale.share.knots_y()) {
        EXPECT_GT(share, before);
        before = share;
      }
    }
  }
}

}  // namespace
}  // namespace tillwrap::test
