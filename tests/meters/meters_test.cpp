// Meters against the trade, published rested-volts tables and answers by hand.
#include "meters/meters.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "app/meters_report.hpp"
#include "forecast/kit.hpp"

namespace tillwrap::test {
namespace {

using meters::DeviceMeter;
using meters::Guide;
using meters::ProfileVerdict;
using meters::Timing;

// A recorder on one kind of pack in a room at 20 °C.
std::string day_text(const std::string& pack, const std::string& holder, const std::string& plugs,
                     const std::string& device, const std::string& draw, const std::string& more = "") {
  return "format = 1\n[day]\ncall = \"08:00\"\nwrap = \"10:00\"\n"
         "[[pack]]\nlabel = \"P\"\nkind = \"" +
         pack + "\"\n[[holder]]\nname = \"H\"\nkind = \"" + holder +
         "\"\npacks = [\"P\"]\n[[device]]\nname = \"recorder\"\nkind = \"" + device + "\"\ndraw = \"" + draw + "\"\n" +
         more + "[[wire]]\nfrom = \"H\"\nto = \"recorder.dc\"\n" + plugs +
         "length = \"0.5 m\"\nwire = \"AWG 22\"\n"
         "[[period]]\nname = \"room\"\nfrom = \"08:00\"\nair = \"20 °C\"\n";
}

meters::Answer answer_of(const std::string& text) {
  app::DayFile file = app::read_day(decode::read_toml(text, "day.toml"), catalogue::builtin());
  app::apply_measured(file);
  return meters::meters(file.scenario, file.inventory, catalogue::builtin(), app::meters_options(file, -1));
}

const ProfileVerdict& verdict(const DeviceMeter& meter, const std::string& id) {
  for (const ProfileVerdict& one : meter.profiles) {
    if (one.profile.id == id) return one;
  }
  throw std::invalid_argument("no profile " + id);
}

DeviceMeter only(const meters::Answer& answer) {
  EXPECT_EQ(answer.meters.size(), 1U);
  return answer.meters.at(0);
}

// A straight pack 16 to 12 V of 2 Ah that cuts itself off at 12 V, 1 A, a lead of `ohm`, a device that stops at
// `cutoff_v`.
meters::Discharge straight_discharge(double ohm, double cutoff_v) {
  Kit kit(24.0);
  const int bus = kit.port("bus");
  cell::PackParams params = straight_pack({.full_v = 16.0, .empty_v = 12.0, .capacity_ah = 2.0, .ohm = 0.0});
  params.protection.under_v = 12.0;
  params.protection.latches = true;
  const int holder = kit.holder("cup", bus, kit.pack(params));
  const int inner = kit.port("recorder");
  const int wire = kit.lead(bus, inner, ohm);
  const int device = kit.device_at("recorder", inner, wire, {.name = "on", .current_a = 1.0}, cutoff_v, cutoff_v + 0.5);
  const meters::PlannedDay planned(kit.day);
  const meters::Feed feed{.device = device, .pack = 0, .holder = holder, .packs = {0}, .around_k = kRoom_k};
  return meters::InPlace(planned, feed).run(30.0);
}

// By hand. U = 16 - 4 q/Q at 1 A from 2 Ah. Behind 0.5 ohm a device that stops at 12.5 V stops at U = 13.0 V: q = 1.5
// Ah, 1.5 h, mean 14.5 V: 21.75 Wh. The pack would go on to 12 V: 0.5 Ah at a mean 12.5 V, 6.25 Wh, and cut itself off
// with the device seeing 11.5 V. Behind 0.1 ohm it stops at U = 12.6 V: 1.7 Ah, 1.7 h, mean 14.3 V. (Copper at 20 °C.)
TEST(InPlaceByHand, TheDropInTheCableShiftsTheCutOff) {
  const meters::Discharge thin = straight_discharge(0.5, 12.5);
  EXPECT_NEAR(thin.curve.end_s(), 1.5 * kHour_s, 5.0);
  EXPECT_NEAR(thin.curve.usable_j / kHour_s, 21.75, 0.02);
  EXPECT_NEAR(thin.wasted_j / kHour_s, 6.25, 0.02);
  EXPECT_NEAR(thin.trip_v, 11.5, 0.005);
  EXPECT_NEAR(thin.drop_v, 0.5, 1e-3);
  EXPECT_EQ(thin.ended, forecast::Cause::low_volts);
  const meters::Discharge thick = straight_discharge(0.1, 12.5);
  EXPECT_NEAR(thick.curve.end_s(), 1.7 * kHour_s, 5.0);
  EXPECT_NEAR(thick.curve.usable_j / kHour_s, 1.7 * 14.3, 0.02);
  // Half of 21.75 Wh: 16 q - q² = 10.875, q = 0.7109 Ah, U = 14.578, 14.078 at the device.
  EXPECT_NEAR(thin.curve.volts_at(thin.curve.time_when_left(0.5)), 14.078, 0.005);
}

// The same with a device that would go on to 10 V: the pack ends it, at 11.5 V there. Its cut-off belongs at the next
// tenth above, 11.6 V. Warning at a fifth of 28 Wh left: 16 q - q² = 22.4, q = 1.5505 Ah, 12.399 V there, typed
// as 12.4; half an hour before the end would be 12.5 V and comes first.
TEST(InPlaceByHand, CutOffGoesAboveWhereThePackTrips) {
  const meters::Discharge run = straight_discharge(0.5, 10.0);
  EXPECT_EQ(run.ended, forecast::Cause::pack_flat);
  EXPECT_NEAR(run.curve.end_s(), 2.0 * kHour_s, 5.0);
  EXPECT_NEAR(run.wasted_j, 0.0, 1.0);
  const meters::VoltsToSet volts = meters::volts_to_set(run, {11.5}, 10.0, 600.0);
  EXPECT_TRUE(volts.guards);
  EXPECT_NEAR(volts.cutoff_v, 11.6, 1e-9);
  EXPECT_NEAR(volts.warn_left_s, 1800.0, 1.0);
  EXPECT_NEAR(volts.warn_v, 12.5, 0.1001);
  EXPECT_GE(volts.warn_v, 12.5 - 0.005);
  // Nothing to guard where the device goes off first.
  const meters::VoltsToSet first = meters::volts_to_set(straight_discharge(0.5, 12.5), {11.5}, 12.5, 600.0);
  EXPECT_FALSE(first.guards);
  EXPECT_NEAR(first.cutoff_v, 12.5, 1e-9);
}

meters::Scale straight_scale(double empty_v, double warn_v, double full_v) {
  return {Curve({empty_v, full_v}, {0.0, 1.0}), warn_v};
}

// A straight curve under a straight meter of the same ends reads the truth; one a volt higher reads a quarter low.
TEST(ProfileByHand, ErrorOfAStraightCurve) {
  meters::Curve curve{.usable_j = 100.0};
  for (int k = 0; k <= 1000; ++k) {
    curve.at_s.push_back(36.0 * k);
    curve.left.push_back(1.0 - k / 1000.0);
    curve.volts.push_back(12.0 + 4.0 * curve.left.back());
  }
  meters::Profile profile{.scale = straight_scale(12.0, 12.8, 16.0)};
  const ProfileVerdict right = meters::judge(profile, curve, 600.0);
  EXPECT_NEAR(right.error, 0.0, 1e-6);
  EXPECT_NEAR(right.half, 0.5, 1e-6);
  EXPECT_NEAR(right.warns_s, 0.2 * 36000.0, 1.0);
  EXPECT_NEAR(right.empty_left_j, 0.0, 1e-6);
  EXPECT_EQ(right.timing, Timing::fine);
  profile.scale = straight_scale(13.0, 13.8, 17.0);
  const ProfileVerdict high = meters::judge(profile, curve, 600.0);
  EXPECT_NEAR(high.full, 0.75, 0.005);
  EXPECT_NEAR(high.half, 0.25, 1e-6);
  EXPECT_NEAR(high.empty_left_j, 25.0, 1e-6);
  EXPECT_EQ(high.timing, Timing::early);
  profile.scale = straight_scale(10.0, 10.5, 14.0);
  EXPECT_EQ(meters::judge(profile, curve, 600.0).timing, Timing::late);
}

// The discharge in place ends when the engine's own day does: the same wiring with the device's real cut-off.
TEST(InPlace, EndsWhereTheDayEnds) {
  Kit kit(24.0);
  const int bus = kit.port("bus");
  const int holder = kit.holder("cup", bus, kit.pack(catalogue_pack("bank-12v-barrel")), 0.03);
  kit.day.packs[0].spare_place = 0;
  const int device = kit.device("recorder", bus, 12.0, 10.0, 10.8, 0.1);
  const meters::PlannedDay planned(kit.day);
  const meters::Feed feed{.device = device, .pack = 0, .holder = holder, .packs = {0}, .around_k = kRoom_k};
  const meters::Discharge run = meters::InPlace(planned, feed).run(30.0);
  const double lost_s = kit.run().first_loss.at_s;
  EXPECT_NEAR(run.curve.end_s(), lost_s, 0.002 * lost_s);
  EXPECT_GT(run.wasted_j, 0.0);
}

// Common practice, no source: a 12 V lithium bank read with a nickel profile shows a wrong meter.
TEST(MetersTrade, ThreeLithiumCellsUnderATenCellNickelProfile) {
  const DeviceMeter meter =
      only(answer_of(day_text("bank-12v-barrel", "pouch-barrel", "plugs = [\"barrel-2mm1\", \"round-lock-4\"]\n",
                              "recorder-mixer-8", "8 W", "meter = \"nickel-10\"\n")));
  EXPECT_EQ(meter.profiles.front().profile.id, "lithium-3s");
  EXPECT_GT(meter.set_index, 0);
  const ProfileVerdict& nickel = verdict(meter, "nickel-10");
  EXPECT_LT(nickel.full, 0.85);  // fresh off the charger and not full
  EXPECT_GT(verdict(meter, "lithium-3s").full, 0.9);
  EXPECT_GT(1.0 - nickel.full, 1.0 - verdict(meter, "lithium-3s").full + 0.05);
}

// Common practice, no source: on packs of four cells warn near 13.6 V and change by 13.2 V; 12 V is nearly empty. At
// the load the trade states for that pack (4 to 6 h on 98 Wh: 16 to 24 W), here 18 W; "near": within 0.3 V.
TEST(MetersTrade, FourCellsWarnNearThirteenSix) {
  const std::string text = day_text("smart-pack-14v4-98wh", "cup-smart-14v4", "", "recorder-mixer-16", "18 W");
  const std::size_t wire = text.find("[[wire]]\nfrom = \"H\"");
  std::string boxed = text;
  boxed.replace(wire, std::string("[[wire]]\nfrom = \"H\"").size(), "[[wire]]\nfrom = \"box.out-1\"");
  boxed.replace(boxed.find("packs = [\"P\"]"), 13, "in = \"box\"\npacks = [\"P\"]");
  boxed.insert(boxed.find("[[device]]"), "[[box]]\nname = \"box\"\nkind = \"box-1cup\"\n");
  const DeviceMeter meter = only(answer_of(boxed));
  EXPECT_EQ(meter.profiles.front().profile.id, "lithium-4s");
  EXPECT_EQ(meter.guidance.guide, Guide::volts);
  EXPECT_NEAR(meter.volts.warn_v, 13.6, 0.3);
  EXPECT_NEAR(meter.volts.change_v, 13.2, 0.3);
  const meters::Curve& curve = meter.discharge.curve;
  EXPECT_LT(curve.left_at(curve.falls_below_s(12.0)), 0.06);
}

// Common practice: eight alkaline and eight nickel cells are not read alike. A full nickel set (1.35 to 1.42 V rested,
// from memory) is short of full on a display made for alkaline (1.58 to 1.65 V) and with a tenth left, at 1.19 V by a
// published loaded curve (secondary source), it still shows a good share there. By that curve 1.20 V is a nearly empty
// nickel cell: so reads an alkaline set, full when fresh, already at half (1.2 V, from memory). Either is read best by
// its own.
TEST(MetersTrade, AlkalineAndNickelAreNotReadAlike) {
  const std::string plugs = "plugs = [\"barrel-2mm1\", \"xlr-4\"]\n";
  const DeviceMeter nickel = only(answer_of(day_text("aa-nimh-x8", "sled-8aa", plugs, "field-mixer-2", "2 W")));
  EXPECT_EQ(nickel.profiles.front().profile.id, "nickel-8");
  EXPECT_LT(verdict(nickel, "alkaline-8").full, 0.95);
  EXPECT_GT(verdict(nickel, "alkaline-8").near_end, 0.3);
  EXPECT_GT(verdict(nickel, "nickel-8").full, 0.95);
  EXPECT_LT(verdict(nickel, "nickel-8").error, verdict(nickel, "alkaline-8").error - 0.1);
  const DeviceMeter alkaline = only(answer_of(day_text("aa-alkaline-x8", "sled-8aa", plugs, "field-mixer-2", "2 W")));
  EXPECT_EQ(alkaline.profiles.front().profile.id, "alkaline-8");
  EXPECT_GT(verdict(alkaline, "nickel-8").full, 0.99);
  EXPECT_LT(verdict(alkaline, "nickel-8").half, 0.2);
}

// Rested volts of the tables: LFP between 30 and 98 % of charge moves 74 mV a cell (IEEE Trans. Instrum. Meas. 2025,
// piecewise tables: 3.277 to 3.351), 0.3 V for four cells, three steps of the display: no guide at half. Regulated
// banks and USB PD say nothing at all (their output is held).
TEST(MetersByTheClock, PlateausAndRegulatedOutputs) {
  const std::string block = "plugs = [\"xlr-4\", \"xlr-4\"]\n";
  const DeviceMeter lfp = only(answer_of(day_text("lfp-12v8", "case-12v-block", block, "recorder-mixer-16", "14 W")));
  EXPECT_LT(lfp.guidance.volts_below, 0.5);
  EXPECT_NE(lfp.guidance.guide, Guide::volts);
  EXPECT_GT(lfp.guidance.half.volts_s, lfp.guidance.half.clock_s);
  EXPECT_EQ(lfp.profiles.front().profile.id, "lfp-4s");
  const DeviceMeter bank =
      only(answer_of(day_text("bank-12v-regulated", "pouch-barrel", "plugs = [\"barrel-2mm1\", \"round-lock-4\"]\n",
                              "recorder-mixer-8", "9 W")));
  EXPECT_EQ(bank.guidance.guide, Guide::clock);
  EXPECT_TRUE(bank.flat);
  EXPECT_FALSE(bank.fits());
  EXPECT_FALSE(bank.volts.warns);
  const meters::Answer usb = answer_of(
      day_text("usb-bank-pd\"\npd = \"5 V", "pouch-usb", "plugs = [\"usb-c\", \"usb-c\"]\n", "recorder-2", "2 W"));
  const DeviceMeter pd = only(usb);
  EXPECT_EQ(pd.guidance.guide, Guide::clock);
  EXPECT_TRUE(pd.flat);
  // Amps are those of a meter in the lead, 2 W at 5 V, not of the cells at 15 V.
  ASSERT_EQ(usb.readings.size(), 1U);
  ASSERT_FALSE(usb.readings.front().rows.empty());
  for (const meters::Reading& row : usb.readings.front().rows)
    EXPECT_NEAR(row.amps.expected * row.volts.expected, 2.0, 0.02);
}

// A lithium pack's volts fall all the way: at half they tell more than the clock.
TEST(MetersByTheClock, LithiumGoesByVolts) {
  const DeviceMeter bank = only(answer_of(day_text(
      "bank-12v-barrel", "pouch-barrel", "plugs = [\"barrel-2mm1\", \"round-lock-4\"]\n", "recorder-mixer-8", "8 W")));
  EXPECT_EQ(bank.guidance.guide, Guide::volts);
  EXPECT_LT(bank.guidance.half.volts_s, bank.guidance.half.clock_s);
}

// Open-circuit tables against what is left at so small a load that the volts are all but rested (a fiftieth of the
// capacity an hour). LCO: the Linux kernel's ab8500 battery tables at 25 °C. NCA: dataset doi:10.17632/wykht8y7tg.1
// (CC-BY-4.0), whose C/20 and pulse-test rests differ by up to 70 mV: held to that.
void against_table(const std::string& set, const std::vector<std::pair<double, double>>& table, double tolerance_v) {
  Kit kit(96.0);
  const int bus = kit.port("bus");
  cell::PackParams params;
  params.cell = catalogue::builtin().cell(set)->params;
  params.heat_capacity_j_k = 1e6;
  params.cooling_w_k = 1e3;
  params.protection.under_v = 2.5;
  const int holder = kit.holder("bay", bus, kit.pack(params));
  const double ah = params.cell.capacity_as / kHour_s;
  const int inner = kit.port("device");
  const int device =
      kit.device_at("device", inner, kit.lead(bus, inner, 1e-4), {.name = "on", .current_a = 0.02 * ah}, 2.4, 2.6);
  const meters::PlannedDay planned(kit.day);
  const meters::Feed feed{.device = device, .pack = 0, .holder = holder, .packs = {0}, .around_k = kRoom_k};
  const meters::Curve curve = meters::InPlace(planned, feed).run(120.0).curve;
  for (const auto& [charge, volts] : table) {
    // At constant current charge goes with time.
    EXPECT_NEAR(curve.volts_at(curve.at_s.front() + (1.0 - charge) * 50.0 * kHour_s), volts, tolerance_v)
        << set << " " << charge;
  }
}
TEST(MetersTables, RestedVoltsAgainstWhatIsLeft) {
  against_table("lco",
                {{0.9, 4.068}, {0.8, 3.990}, {0.6, 3.866}, {0.5, 3.812}, {0.4, 3.787}, {0.2, 3.730}, {0.09, 3.672}},
                0.015);
  against_table(
      "nca", {{0.9, 4.053}, {0.8, 3.946}, {0.6, 3.770}, {0.5, 3.665}, {0.4, 3.602}, {0.2, 3.461}, {0.1, 3.331}}, 0.07);
}

}  // namespace
}  // namespace tillwrap::test
