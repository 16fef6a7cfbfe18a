// The figures behind the rules against published ones and against answers by hand. Sources stand beside each.
#include <gtest/gtest.h>

#include <cmath>

#include "findings/days.hpp"
#include "findings/rules.hpp"

namespace tillwrap::findings {
namespace {

using test::edited;
using test::look;

// One device with a constant current at the end of one lead.
const std::string kRun = R"(format = 1
[day]
call = "08:00"
wrap = "09:00"
[[place]]
name = "run"
like = "fixed"
temperature = "20 °C"
[[source]]
name = "mains"
kind = "mains-15v-4a"
volts = "17 V"
amps = "20 A"
place = "indoors"
[[device]]
name = "load"
kind = "recorder-mixer-8"
draw = "AMPS"
cutoff = "5 V"
place = "indoors"
[[wire]]
from = "mains"
to = "load.dc"
plugs = ["xlr-4", "round-lock-4"]
length = "LENGTH"
wire = "WIRE"
place = "run"
[[period]]
name = "on"
from = "08:00"
air = "20 °C"
live = ["mains"]
)";

double cable_drop_v(const std::string& amps, const std::string& length, const std::string& wire,
                    double kelvin = 293.15) {
  const decode::Document document =
      decode::read_toml(edited(kRun, {{"AMPS", amps}, {"LENGTH", length}, {"WIRE", wire}}), "run.toml");
  app::DayFile file = app::read_day(document, catalogue::builtin());
  for (day::Place& place : file.scenario.places) {
    if (place.name == "run") place.fixed_k = kelvin;
  }
  for (const Finding& finding : find(file.scenario, file.inventory, catalogue::builtin())) {
    if (finding.rule == Rule::drop) return finding.items.front()["cable_v"];
  }
  return 0.0;
}

TEST(Figures, published_drops) {
  // Two wires of 100 ft, AWG 16 at 4.02 ohm/1000 ft (20 °C), 4 A: 3.21 V (secondary source; handbook table).
  EXPECT_NEAR(cable_drop_v("4 A", "30.48 m", "AWG 16"), 3.21, 0.01);
  // The same at 75 °C by the table's 4.99 ohm/1000 ft: 3.99 V. That table's copper is 2 % worse than 1/58 ohm mm²/m
  // warmed by 0.00393/K (stranded, tinned: to 5 %).
  EXPECT_NEAR(cable_drop_v("4 A", "30.48 m", "AWG 16", 348.15), 3.99, 0.025 * 3.99);
  EXPECT_LT(cable_drop_v("4 A", "30.48 m", "AWG 16", 348.15), 3.99);
  // 10 A through 21 ft of AWG 16 in all: 0.84 V (derived).
  EXPECT_NEAR(cable_drop_v("10 A", "3.2 m", "AWG 16"), 0.84, 0.01);
  // 20 m of 1.5 mm² class 5 (13.3 ohm/km, IEC 60228 as quoted by a secondary source) at 5 A: 2.66 V.
  EXPECT_NEAR(cable_drop_v("5 A", "20 m", "1.5 mm²"), 2.66, 0.005);
}

wiring::FuseLaw law_of(const std::string& kind) {
  const test::Looked seen = look(edited(
      test::kQuietDay,
      {{"wire = \"AWG 20\"\n[[wire]]", "wire = \"AWG 20\"\nfuse = \"2 A\"\nfuse_kind = \"" + kind + "\"\n[[wire]]"}}));
  for (const day::Lead& lead : seen.file.scenario.leads) {
    if (lead.name == "box.out-1 to recorder.dc") return lead.fuse->law;
  }
  return {};
}

TEST(Figures, fuses_by_their_standards) {
  // UL 248-14: opens at 135 % within 1 h, at 200 % within 2 min; load to 75 % for long (secondary source).
  EXPECT_NEAR(hour_ratio(law_of("fuse-ul")), 1.35, 1e-6);
  EXPECT_NEAR(wiring::seconds_to_open(law_of("fuse-ul"), 2.0), 120.0, 1e-6);
  EXPECT_EQ(law_of("fuse-ul").long_load_ratio, 0.75);
  // IEC 60127 F: 150 % for 60 min at least, 210 % within 30 min; may run at 100 % (secondary source).
  EXPECT_NEAR(hour_ratio(law_of("fuse-iec-f")), 2.1, 1e-6);
  EXPECT_TRUE(std::isinf(wiring::seconds_to_open(law_of("fuse-iec-f"), 1.5)));
  EXPECT_EQ(law_of("fuse-iec-f").long_load_ratio, 1.0);
  // PPTC: trips near twice its hold current (secondary); hold 1.18, 0.83, 0.65 of the 23 °C value at 0, 40, 60 °C (from
  // memory).
  const wiring::FuseLaw pptc = law_of("fuse-pptc");
  EXPECT_NEAR(hour_ratio(pptc), 2.0, 1e-6);
  for (const auto& [celsius, factor] : {std::pair{0.0, 1.18}, {40.0, 0.83}, {60.0, 0.65}, {23.0, 1.0}})
    EXPECT_NEAR(wiring::hold_current_a(pptc, 2.0, celsius + 273.15), 2.0 * factor, 1e-6);
}

// V = (Vs + sqrt(Vs² - 4PR))/2; beyond Vs²/4R there is no operating point. The rule reads x = P / (Vs²/4R) off V / Vs.
TEST(Figures, collapse_from_the_volts_alone) {
  const double source_v = 12.0;
  const double ohm = 0.8;
  EXPECT_NEAR(most_power_w(source_v, ohm), 45.0, 1e-12);
  for (const double watts : {1.0, 10.0, 22.5, 40.0, 45.0}) {
    const double v = 0.5 * (source_v + std::sqrt(source_v * source_v - 4.0 * watts * ohm));
    const double r = v / source_v;
    EXPECT_NEAR(4.0 * r * (1.0 - r), watts / most_power_w(source_v, ohm), 1e-12) << watts;
  }
}

// The closed forms against the charging current i = V/R exp(-t/RC) summed step by step.
TEST(Figures, inrush_integral) {
  const double farad = 2200e-6;
  const double volts = 16.8;
  const double ohm = 0.25;
  const double limit_a = 8.0;
  double a2s = 0.0;
  double above_s = 0.0;
  const double step_s = 1e-8;
  double charge_v = 0.0;
  for (double t = 0.0; t < 20.0 * ohm * farad; t += step_s) {
    const double amps = (volts - charge_v) / ohm;
    a2s += amps * amps * step_s;
    above_s += amps > limit_a ? step_s : 0.0;
    charge_v += amps * step_s / farad;
  }
  EXPECT_NEAR(inrush_a2s(farad, volts, ohm), a2s, 1e-3 * a2s);
  EXPECT_NEAR(inrush_above_s(farad, volts, ohm, limit_a), above_s, 1e-3 * above_s);
  EXPECT_EQ(inrush_above_s(farad, volts, ohm, 100.0), 0.0);
}

TEST(Figures, hold_up_and_shares) {
  // 1000 µF from 15 V to 10 V at 8 W: 1e-3 (225 - 100) / 16 = 7.8 ms.
  EXPECT_NEAR(hold_up_s(1e-3, 15.0, 10.0, 8.0), 7.8125e-3, 1e-9);
  EXPECT_EQ(hold_up_s(1e-3, 10.0, 10.0, 8.0), 0.0);
  // Two equal conductors carry half each (Kirchhoff); an open return leaves all of it to the shield.
  EXPECT_NEAR(shield_share(0.03, 0.03), 0.5, 1e-12);
  EXPECT_NEAR(shield_share(1e9, 0.03), 1.0, 1e-9);
}

// The drop of a loaded day equals Ohm's law along the path: amps through cable, contacts and fuse.
TEST(Figures, the_hand_formula_gives_the_same) {
  const test::Looked seen =
      look(edited(test::kQuietDay, {{"\"0.5 m\"\nwire = \"AWG 20\"", "\"8 m\"\nwire = \"AWG 24\""}}));
  const Finding* drop = seen.rule(Rule::drop);
  ASSERT_NE(drop, nullptr);
  const Item& item = drop->items.front();
  // 2 L / (58 A) (IEC 60028), contacts two of 15 mohm at each end (secondary source).
  const double area = 0.25 * std::acos(-1.0) * std::pow(0.127 * std::pow(92.0, 12.0 / 39.0), 2.0);  // AWG 24, ASTM B258
  EXPECT_NEAR(item["cable_ohm"], 2.0 * 8.0 / (58.0 * area), 1e-6);
  EXPECT_NEAR(item["contact_ohm"], 0.060, 1e-9);
  const double factor = 1.0 + 0.00393 * (item["temperature_k"] - 293.15);
  EXPECT_NEAR(item["lead_a"] * item["cable_ohm"] * factor, item["cable_v"], 0.02 * item["cable_v"]);
  EXPECT_NEAR(item["drop_v"], item["cable_v"] + item["contact_v"] + item["fuse_v"], 1e-12);
}

}  // namespace
}  // namespace tillwrap::findings
