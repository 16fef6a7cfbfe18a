// Days written as files, against figures by hand: phantom power, measured draws, a wrap past midnight.
#include "app/day_file.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "app/measured.hpp"
#include "forecast/by_hand.hpp"

namespace tillwrap::test {
namespace {

struct Bag {
  std::string call = "08:00";
  std::string wrap = "12:00";
  std::string period_from = "08:00";
  std::string recorder = "draw = \"8 W\"";
  std::string rest;
};

// A 98 Wh pack, a one-cup box without a draw of its own, a recorder, a 6 W monitor.
app::DayFile read(const Bag& bag) {
  const std::string text = "format = 1\n[day]\ncall = \"" + bag.call + "\"\nwrap = \"" + bag.wrap + R"("
[[pack]]
label = "P"
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P"]
[[box]]
name = "box"
kind = "box-1cup"
draw = "0 W"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
)" + bag.recorder + R"(
[[device]]
name = "monitor"
kind = "monitor-bag"
draw = "6 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 22"
[[wire]]
from = "box.tap"
to = "monitor"
length = "0.5 m"
wire = "AWG 22"
[[period]]
name = "day"
from = ")" + bag.period_from +
                           "\"\nair = \"20 °C\"\n" + bag.rest;
  const decode::Document document = decode::read_toml(text, "test.toml");
  return app::read_day(document, catalogue::builtin());
}

std::size_t device(const day::Scenario& day, const std::string& name) {
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    if (day.devices[d].name == name) return d;
  }
  throw std::invalid_argument(name);
}

double input_w(const day::Scenario& day, const std::string& name) {
  const day::Device& d = day.devices[device(day, name)];
  return d.scale * (d.modes[0].power_w / d.efficiency + d.idle_w);
}

TEST(DayFile, PhantomPowerFromMicrophoneCurrents) {
  // 2.0 + 1.5 + 4.0 + 4.0 mA at P48: 0.552 W on the rail, 0.736 W from DC at 75 % (derived; IEC 61938), plus the
  // standing draw of the supply, which the catalogue puts at 0.1 W (0.05 to 0.3 W from memory).
  const double without = input_w(read({}).scenario, "recorder");
  const double with = input_w(
      read({.recorder = "draw = \"8 W\"\nphantom = [\"2 mA\", \"1.5 mA\", \"4 mA\", \"4 mA\"]"}).scenario, "recorder");
  const auto& phantom = *catalogue::builtin().device("recorder-mixer-8")->phantom;
  EXPECT_EQ(phantom.supply_v, 48.0);
  EXPECT_EQ(phantom.efficiency, 0.75);
  EXPECT_NEAR(with - without - phantom.idle_w, 0.736, 1e-9);
  // 8.83 Wh in 12 h.
  EXPECT_NEAR((with - without - phantom.idle_w) * 12.0, 8.83, 0.005);
}

TEST(DayFile, AMeasuredDrawOutranksTheParts) {
  // 8 + 6 W in parts (and what converters add); the meter at the box says 16.8 W: the day draws 16.8 W there.
  app::DayFile file = read({.rest = "[[measured]]\nat = \"cup\"\ndraw = \"16.8 W\"\nduring = \"day\"\n"});
  const double parts = input_w(file.scenario, "recorder") + input_w(file.scenario, "monitor");
  const auto outcomes = app::apply_measured(file);
  ASSERT_EQ(outcomes.size(), 1u);
  EXPECT_NEAR(outcomes[0].predicted_w, parts, 1e-9);
  EXPECT_NEAR(outcomes[0].factor, 16.8 / parts, 1e-9);
  EXPECT_NEAR(input_w(file.scenario, "recorder") + input_w(file.scenario, "monitor"), 16.8, 1e-9);
  const forecast::Model model(file.scenario);
  const forecast::DayRun run = forecast::run_day(model, forecast::plan_changes(model, file.scenario.off_s),
                                                 {.search_until_s = file.scenario.off_s});
  EXPECT_NEAR(run.account.devices_j, 16.8 * 4.0 * kHour_s, 1e-4 * 16.8 * 4.0 * kHour_s);
}

TEST(DayFile, AmpsAtVoltsAreWatts) {
  app::DayFile file = read({.rest = "[[measured]]\nat = \"cup\"\ndraw = \"1.2 A at 14 V\"\nduring = \"day\"\n"});
  app::apply_measured(file);
  EXPECT_NEAR(input_w(file.scenario, "recorder") + input_w(file.scenario, "monitor"), 16.8, 1e-9);
}

TEST(DayFile, APairOfGaugeReadingsIsMet) {
  // 100 % at 08:00, 60 % at 10:30: after scaling the run's own pack goes from 1.0 to 0.6 between those times.
  app::DayFile file = read({.rest = "[[measured]]\nat = \"cup\"\ngauge = \"100 % at 08:00, 60 % at 10:30\"\n"});
  app::apply_measured(file);
  const forecast::Model model(file.scenario);
  const forecast::ChangePlan plan = forecast::plan_changes(model, file.scenario.off_s);
  const forecast::DayRun run =
      forecast::run_day(model, plan, {.search_until_s = file.scenario.off_s, .stop_s = 10.5 * kHour_s});
  EXPECT_NEAR(run.charge[0], 0.60, 0.002);
}

TEST(DayFile, WrapPastMidnight) {
  // Call 18:00, wrap 02:00: eight hours, wrap at 26:00 on the first day's clock.
  const app::DayFile file = read({.call = "18:00", .wrap = "02:00", .period_from = "18:00"});
  EXPECT_NEAR(file.scenario.wrap_s - file.scenario.call_s, 8.0 * kHour_s, 1e-9);
  EXPECT_NEAR(file.scenario.wrap_s, 26.0 * kHour_s, 1e-9);
  const app::DayFile day = read({.call = "08:00", .wrap = "16:00", .period_from = "08:00"});
  const auto margin = [](const app::DayFile& f) {
    return forecast::forecast(f.scenario, {.with_one_loss = false}).margin_s;
  };
  EXPECT_NEAR(margin(file), margin(day), 0.5);
}

}  // namespace
}  // namespace tillwrap::test
