// What the trade knows from use, each with the load it is said for. Common practice, no source: ranges are as said,
// with 10 % for "about".
#include <gtest/gtest.h>

#include "forecast/by_hand.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::test {
namespace {

using forecast::DayRun;

// Hours a must-run device of `watts` runs on `packs` side by side behind ideal diodes (one: alone), through a 0.5 m
// AWG 22 lead with plug contacts of 20 mohm, at 20 °C.
double hours(const std::vector<std::string>& packs, double watts, double cutoff_v, double restart_v) {
  Kit kit(30.0);
  kit.day.places.push_back({.name = "air"});
  const int bus = kit.port("bus", 1);
  for (const std::string& kind : packs) {
    const int cup = kit.holder("cup", bus, kit.pack(catalogue_pack(kind)), 0.03);
    kit.day.holders[at(cup)].place = 1;
    kit.day.packs.back().spare_place = 1;
    if (packs.size() > 1) {
      kit.day.holders[at(cup)].one_way = true;
      kit.day.holders[at(cup)].drop_v = 0.05;
    }
  }
  const int inner = kit.port("recorder", 1);
  const int wire = kit.lead(bus, inner, wiring::pair_ohm(wiring::awg_ohm_per_m(22), 0.5), 0.02);
  kit.device_at("recorder", inner, wire, {.name = "on", .power_w = watts}, cutoff_v, restart_v);
  kit.day.devices[0].restarts_itself = false;
  const double h = kit.run().first_loss.at_s / kHour_s;
  std::printf("[ trade    ] %zu x %-22s %5.1f W to %4.1f V: %.2f h\n", packs.size(), packs[0].c_str(), watts, cutoff_v,
              h);
  return h;
}

// "A busy 8-input recorder-mixer on eight AA is good for about 15 minutes of certainty and not a full hour" (alkaline).
// Busy: 12 W, the top of the class's 6 to 12 W; in the tray, 6.4 V cut-off.
TEST(Trade, EightAlkalineAaOnABusyRecorder) {
  const double h = hours({"aa-alkaline-x8"}, 12.0, 6.4, 7.2);
  EXPECT_GE(h, 0.25);
  EXPECT_LT(h, 1.0);
}

// Two 7.2 V slide-on lithium packs about 3 h at 10 to 15 W: small ones at 10 W; the largest about 8 h.
TEST(Trade, TwoSlideOnPacks) {
  const double small = hours({"slide-on-7v2-small", "slide-on-7v2-small"}, 10.0, 6.0, 6.6);
  EXPECT_GE(small, 2.7);
  EXPECT_LE(small, 3.3);
  const double large = hours({"slide-on-7v2-large", "slide-on-7v2-large"}, 11.5, 6.0, 6.6);
  EXPECT_GE(large, 7.2);
  EXPECT_LE(large, 8.8);
}

// A small 12 V lithium bank 3 to 4 h: a recorder and a receiver, 12 to 15 W, into an input that stops at 10 V.
TEST(Trade, SmallTwelveVoltBank) {
  EXPECT_LE(hours({"bank-12v-barrel"}, 12.0, 10.0, 10.8), 4.4);
  EXPECT_GE(hours({"bank-12v-barrel"}, 15.0, 10.0, 10.8), 2.7);
}

// A 98 Wh 14.4 V pack with wireless on it 4 to 6 h at 16 to 24 W.
TEST(Trade, SmartPackWithWireless) {
  const double at_24w = hours({"smart-pack-14v4-98wh"}, 24.0, 10.0, 10.8);
  EXPECT_GE(at_24w, 3.6);
  EXPECT_LE(at_24w, 4.4);
  const double at_16w = hours({"smart-pack-14v4-98wh"}, 16.0, 10.0, 10.8);
  EXPECT_GE(at_16w, 5.4);
  EXPECT_LE(at_16w, 6.6);
}

// A 150 Wh cinema pack about 10 h at 15 W.
TEST(Trade, CinemaPack) {
  const double h = hours({"plate-pack-14v4-150wh"}, 15.0, 10.0, 10.8);
  EXPECT_GE(h, 9.0);
  EXPECT_LE(h, 11.0);
}

// Through an internal tray with a low cut-off nickel lasts longer than through a 10 V input, which eight nickel cells
// (9.6 V) barely start.
TEST(Trade, NickelLastsLongerInTheTray) {
  const double tray = hours({"aa-nimh-x8"}, 8.2, 6.4, 7.2);
  const double input = hours({"aa-nimh-x8"}, 8.2, 10.0, 10.8);
  EXPECT_GT(tray, 1.5);
  EXPECT_LT(input, 0.5 * tray);
}

// On 4S packs warn near 13.6 V and change by 13.2 V: 12 V is nearly empty.
TEST(Trade, TwelveVoltsIsNearlyEmptyOnFourCells) {
  const double warn = hours({"smart-pack-14v4-98wh"}, 20.0, 13.6, 16.0);
  const double change = hours({"smart-pack-14v4-98wh"}, 20.0, 13.2, 16.0);
  const double nearly = hours({"smart-pack-14v4-98wh"}, 20.0, 12.0, 16.0);
  const double end = hours({"smart-pack-14v4-98wh"}, 20.0, 10.0, 10.8);
  EXPECT_LT(warn, change);
  EXPECT_LT(change, nearly);
  EXPECT_GT(end - warn, 0.5) << "time to change after the warning";
  EXPECT_LT(end - nearly, 0.1 * end);
}

// Drops at a device worth a warning in a bag: 2 to 3 % of nominal (common practice). 0.5 m of AWG 22 at 8.2 W and 14.4
// V is well under: 0.57 A x 53 mohm = 30 mV, 0.2 %. Worked: 2 x 0.5 m x 52.96 ohm/km.
TEST(Trade, ARecordersLeadInABagDropsLittle) {
  Kit kit(1.0);
  const int bus = kit.port("bus");
  kit.holder("cup", bus, kit.pack(straight_pack({.full_v = 14.4, .empty_v = 14.399, .capacity_ah = 50.0})));
  const int inner = kit.port("recorder");
  const int wire = kit.lead(bus, inner, wiring::pair_ohm(wiring::awg_ohm_per_m(22), 0.5));
  kit.device_at("recorder", inner, wire, {.name = "on", .power_w = 8.2}, 10.0, 10.8);
  const DayRun run = kit.run();
  EXPECT_NEAR(run.devices[0].cable_drop_v, 8.2 / 14.37 * 0.05296, 1e-4);
}

}  // namespace
}  // namespace tillwrap::test
