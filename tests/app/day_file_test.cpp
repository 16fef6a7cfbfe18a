// What a day file comes to once it is resolved: ohms, watts, times, places.
#include "app/day_file.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "app/measured.hpp"
#include "decode/node.hpp"

namespace tillwrap::app {
namespace {

constexpr double kHour_s = 3600.0;

std::string base_day() {
  std::ifstream file(TILLWRAP_SOURCE_DIR "/tests/cli/base-day.toml");
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

DayFile read(std::string text) { return read_day(decode::read_toml(text, "day.toml"), catalogue::builtin()); }

std::string edited(std::string text, const std::string& old_text, const std::string& new_text) {
  const std::size_t at = text.find(old_text);
  EXPECT_NE(at, std::string::npos) << old_text;
  return text.replace(at, old_text.size(), new_text);
}

const day::Lead& lead(const DayFile& file, const std::string& name) {
  const auto& leads = file.scenario.leads;
  const auto found = std::find_if(leads.begin(), leads.end(), [&](const day::Lead& l) { return l.name == name; });
  EXPECT_NE(found, leads.end()) << name;
  return *found;
}

const day::Device& device(const DayFile& file, const std::string& name) {
  const auto& devices = file.scenario.devices;
  const auto found = std::find_if(devices.begin(), devices.end(), [&](const day::Device& d) { return d.name == name; });
  EXPECT_NE(found, devices.end()) << name;
  return *found;
}

// Published AWG table (secondary source), ohm per 1000 ft at 20 °C: 16.14 for AWG 22, 4.02 for AWG 16; both conductors.
// The table agrees with the formula of ASTM B258 to 0.1 %.
TEST(DayFile, CableOhmsAreBothConductors) {
  constexpr double kFoot_m = 0.3048;
  const double awg22 = lead(read(base_day()), "box.out-1 to recorder.dc").cable_ohm;
  EXPECT_NEAR(awg22, 2.0 * 0.5 * 16.14 / (1000.0 * kFoot_m), 0.002 * awg22);
  const double awg16 =
      lead(read(edited(base_day(), "length = \"0.5 m\"\nwire = \"AWG 22\"", "length = \"3 ft\"\nwire = \"AWG 16\"")),
           "box.out-1 to recorder.dc")
          .cable_ohm;
  EXPECT_NEAR(awg16, 2.0 * 3.0 * 4.02 / 1000.0, 0.002 * awg16);
}

// IEC 61938 (secondary source), worked example: 2.0 + 1.5 + 4.0 + 4.0 mA at 48 V are 0.552 W on the rail and, at an
// efficiency of 0.75, 0.736 W from DC; the supply's own 0.1 W (from memory, 0.05 to 0.3) comes on top.
TEST(DayFile, PhantomPower) {
  const double plain_w =
      device(read(edited(base_day(), "phantom = [\"2 mA\"]\n", "")), "recorder").modes.front().power_w;
  const DayFile with =
      read(edited(base_day(), "phantom = [\"2 mA\"]", "phantom = [\"2 mA\", \"1.5 mA\", \"4 mA\", \"4 mA\"]"));
  EXPECT_NEAR(device(with, "recorder").modes.front().power_w - plain_w, 0.736 + 0.1, 1e-9);
  EXPECT_DOUBLE_EQ(plain_w, 8.2);
}

TEST(DayFile, TimesPassMidnight) {
  std::string text = base_day();
  text = edited(text, "call = \"08:00\"", "call = \"20:00\"");
  text = edited(text, "wrap = \"12:00\"", "wrap = \"04:00\"\noff = \"04:30\"");
  text = edited(text, "at = \"07:30\"", "at = \"19:40\"");
  text = edited(text, "\"P2\"]", "{ pack = \"P2\", at = \"1:05 am\" }]");
  text = edited(text, "from = \"07:30\"", "from = \"19:30\"");
  text = edited(text, "from = \"08:00\"", "from = \"20:00\"");
  text = edited(text, "09:00-09:30",
                "23:45\xE2\x80\x93"
                "00:15");
  const DayFile file = read(text);
  const day::Scenario& day = file.scenario;
  EXPECT_DOUBLE_EQ(day.call_s, 20.0 * kHour_s);
  EXPECT_DOUBLE_EQ(day.wrap_s, 28.0 * kHour_s);
  EXPECT_DOUBLE_EQ(day.off_s, 28.5 * kHour_s);
  EXPECT_DOUBLE_EQ(day.holders.front().slots[0].at_s, 19.0 * kHour_s + 40 * 60);
  EXPECT_DOUBLE_EQ(day.holders.front().slots[1].at_s, 25.0 * kHour_s + 5 * 60);
  ASSERT_EQ(day.no_hands.size(), 1U);
  EXPECT_DOUBLE_EQ(day.no_hands[0].from_s, 23.75 * kHour_s);
  EXPECT_DOUBLE_EQ(day.no_hands[0].until_s, 24.25 * kHour_s);
  EXPECT_DOUBLE_EQ(day.periods.back().until_s, 28.5 * kHour_s);
}

TEST(DayFile, PeriodsFollowEachOther) {
  const DayFile file = read(edited(base_day(), "from = \"07:30\"\nair", "from = \"07:30\"\nuntil = \"08:00\"\nair"));
  const auto& periods = file.scenario.periods;
  ASSERT_EQ(periods.size(), 2U);
  EXPECT_DOUBLE_EQ(periods[0].until_s, periods[1].from_s);
  EXPECT_DOUBLE_EQ(periods[1].until_s, 12.0 * kHour_s);
  EXPECT_NEAR(periods[0].air_k, 287.15, 1e-9);
}

// A worn pack by its health: 92 % of the charge, resistance by the prior 1 + 4 (1 - 0.92) = 1.32.
TEST(DayFile, HealthScalesCharge) {
  const DayFile file = read(base_day());
  const auto& packs = file.scenario.packs;
  EXPECT_NEAR(packs[0].params.cell.capacity_as / packs[1].params.cell.capacity_as, 0.92, 1e-12);
  EXPECT_EQ(packs[0].params.label, "P1");
}

// Of the same chemistry as the pack's own cell, with another curve.
std::string own_cell(const std::string& header) {
  std::ifstream file(TILLWRAP_SOURCE_DIR "/src/catalogue/data/chemistry.toml");
  std::ostringstream text;
  text << file.rdbuf();
  const std::string all = text.str();
  const std::size_t from = all.find("id = \"nmc-21700-5ah\"");
  return header + "\n" + all.substr(from, all.find("[[cell]]", from) - from);
}

// Parameters written into the day are those of the same text in a file beside it.
TEST(DayFile, ParametersOfAPackInTheDayOrBesideIt) {
  const std::string kind = "kind = \"smart-pack-14v4-98wh\"\n";
  const ParamsFiles files = {{"own.toml", decode::read_toml(own_cell("[[cell]]"), "own.toml")}};
  const DayFile beside =
      read_day(decode::read_toml(edited(base_day(), kind, kind + "params = \"own.toml\"\n"), "day.toml"),
               catalogue::builtin(), files);
  const std::string first = base_day().substr(0, base_day().find("[[pack]]") + 8);
  const std::string pack = "\nlabel = \"P0\"\n" + kind + own_cell("[[pack.params.cell]]") + "\n[[pack]]";
  const DayFile within = read(first + pack + base_day().substr(first.size()));
  ASSERT_EQ(beside.scenario.packs[0].mount, within.scenario.packs[0].mount);
  const cell::CellParams& a = beside.scenario.packs[0].params.cell;
  const cell::CellParams& b = within.scenario.packs[0].params.cell;
  const cell::CellParams& usual = within.scenario.packs[1].params.cell;
  for (const double z : {0.05, 0.3, 0.7, 1.0}) {
    EXPECT_EQ(a.ocv.value(z), b.ocv.value(z));
  }
  EXPECT_NE(b.ocv.value(0.3), usual.ocv.value(0.3));
  EXPECT_THROW(
      read(first + "\nlabel = \"P0\"\n" + kind + "params = { cell = [] }\n[[pack]]" + base_day().substr(first.size())),
      decode::InputError);
}

// Twice the amperes read on a constant-current load is a factor of two, whatever the volts.
TEST(DayFile, MeasuredAmperes) {
  for (const std::string reading : {"0.4 A", "0.4 A at 14.6 V", "0.4 A at 13.2 V"}) {
    std::string text = edited(edited(base_day(), "phantom = [\"2 mA\"]\n", ""), "draw = \"8.2 W\"", "draw = \"0.2 A\"");
    text += "\n[[measured]]\nat = \"recorder\"\ndraw = \"" + reading + "\"\nduring = \"scene\"\n";
    DayFile file = read(text);
    const std::vector<MeasuredOutcome> outcomes = apply_measured(file);
    ASSERT_EQ(outcomes.size(), 1U);
    EXPECT_NEAR(outcomes[0].factor, 2.0, 1e-12) << reading;
    EXPECT_NEAR(device(file, "recorder").scale, 2.0, 1e-12) << reading;
  }
}

TEST(DayFile, WarningsAreCollected) {
  const DayFile file = read(edited(base_day(), "wire = \"AWG 22\"", "wire = \"AWG 30\""));
  ASSERT_EQ(file.warnings.size(), 1U);
  EXPECT_EQ(file.warnings[0].place.line, 39U);
  EXPECT_NE(file.warnings[0].text.find("more than its wire carries"), std::string::npos);
}

TEST(DayFile, TwoLeadsFromOneSocketAreAWarning) {
  const DayFile file = read(edited(base_day(), "[[wire]]",
                                   "[[device]]\nname = \"rx\"\nkind = \"receiver-dual\"\n\n[[wire]]\nfrom = "
                                   "\"box.out-1\"\nto = \"rx\"\nlength = \"1 m\"\n\n[[wire]]"));
  ASSERT_EQ(file.warnings.size(), 1U);
  EXPECT_NE(file.warnings[0].text.find("one socket"), std::string::npos);
}

TEST(DayFile, OtherModesFollowAMeasuredDraw) {
  const DayFile file =
      read(edited(edited(base_day(), "phantom = [\"2 mA\"]\n", ""), "draw = \"8.2 W\"", "draw = \"16.4 W\""));
  const DayFile plain = read(edited(edited(base_day(), "phantom = [\"2 mA\"]\n", ""), "draw = \"8.2 W\"\n", ""));
  const auto& modes = device(file, "recorder").modes;
  const auto& usual = device(plain, "recorder").modes;
  ASSERT_EQ(modes.size(), usual.size());
  ASSERT_GE(modes.size(), 3U);
  EXPECT_EQ(modes[1].name, "standby");
  EXPECT_NEAR(modes[1].power_w / usual[1].power_w, 16.4 / usual[0].power_w, 1e-12);
  EXPECT_TRUE(modes.back().off);
}

}  // namespace
}  // namespace tillwrap::app
