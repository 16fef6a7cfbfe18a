// The last safe moment of a change, from hands and from how long the pack serves.
#include <gtest/gtest.h>

#include "app/assess.hpp"
#include "app/changes_json.hpp"
#include "app/day_file.hpp"
#include "decode/node.hpp"

namespace tillwrap::app {
namespace {

constexpr double kHour_s = 3600.0;

// Nobody reaches the bag from 10:00 to 11:00 and from 13:00 to 15:00.
const char* const kDay = R"(format = 1
[day]
call = "08:00"
wrap = "18:00"
overrun = "1 h"
[[pack]]
labels = ["P1", "P2"]
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1", { pack = "P2", at = "12:30" }]
[[box]]
name = "box"
kind = "box-1cup"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "28 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 18"
[[period]]
name = "morning"
from = "08:00"
air = "20 °C"
no_hands = { bag = "10:00-11:00" }
[[period]]
name = "afternoon"
from = "13:00"
air = "20 °C"
no_hands = { bag = "13:00-15:00" }
)";

DayFile read() { return read_day(decode::read_toml(kDay, "day"), catalogue::builtin()); }

odds::ChangeOdds change(double safe_h, double planned_h = 12.5, double in_h = 8.0) {
  return {.holder = 0,
          .out_pack = 0,
          .in_pack = 1,
          .in_s = in_h * kHour_s,
          .planned_s = planned_h * kHour_s,
          .safe_s = safe_h * kHour_s,
          .likely_s = (safe_h + 0.3) * kHour_s};
}

// By hand from the stretches above.
TEST(LastSafe, IsTheLastMomentOfHandsWhileThePackServes) {
  const day::Scenario day = read().scenario;
  const auto hour = [&](const odds::ChangeOdds& one, double now_h = 0.0) {
    const std::optional<double> last_s = last_safe_s(day, one, now_h * kHour_s);
    return last_s ? *last_s / kHour_s : -1.0;
  };
  EXPECT_DOUBLE_EQ(hour(change(12.75)), 12.75);            // while hands are there
  EXPECT_DOUBLE_EQ(hour(change(14.0)), 13.0);              // before they go
  EXPECT_DOUBLE_EQ(hour(change(12.2)), 12.2);              // before the planned moment
  EXPECT_DOUBLE_EQ(hour(change(10.5)), 10.0);              // and before the stretch that hides its end
  EXPECT_DOUBLE_EQ(hour(change(25.0)), 19.0);              // no later than the end of the overrun
  EXPECT_DOUBLE_EQ(hour(change(10.5), 10.2), -1.0);        // those hands are gone
  EXPECT_DOUBLE_EQ(hour(change(14.0, 16.0, 13.5)), -1.0);  // it went in when they were
  EXPECT_DOUBLE_EQ(hour(change(12.75), 13.0), -1.0);       // it ended already
}

TEST(LastSafe, APlanThatComesLaterIsSaidToBeTooLate) {
  const DayFile file = read();
  const Wording wording(file.inventory.settings);
  const auto words = [&](const odds::ChangeOdds& one) {
    return change_warning(file.scenario, one, last_safe_s(file.scenario, one, 0.0), wording);
  };
  EXPECT_EQ(words(change(12.75)), "");
  EXPECT_EQ(words(change(10.5)), "Change P1 in cup before 10:00: the plan, 12:30, is too late.");
  EXPECT_NE(words(change(14.0, 16.0, 13.5)).find("no hands"), std::string::npos);
  // A pack that is safe to off needs no change for the day to last: one for after off is never too late.
  const double off_h = file.scenario.off_s / kHour_s;
  EXPECT_EQ(words(change(off_h + 0.5, off_h + 1.5)), "");
  EXPECT_NE(words(change(off_h - 0.5, off_h + 1.5)), "");
}

// 98 Wh into 28 W and the box's losses cannot last longer than 98/28 h = 3 h 30 min, so a change at 12:30 after 08:00
// is too late whatever the cells do (conservation of energy; the label is 98 Wh at most).
TEST(LastSafe, NoPackServesLongerThanItsEnergy) {
  const DayFile file = read();
  const auto changes = odds::change_odds(file.scenario, odds_options(file, 64, 1));
  ASSERT_FALSE(changes.empty());
  const std::optional<double> last_s = last_safe_s(file.scenario, changes.front(), 0.0);
  ASSERT_TRUE(last_s);
  EXPECT_LE(*last_s, (8.0 + 98.0 / 28.0) * kHour_s);
  EXPECT_GE(*last_s, 10.0 * kHour_s);
  EXPECT_TRUE(plan_too_late(changes.front(), last_s));
  EXPECT_LT(change_json(file.scenario, changes.front(), 0.0)["last_safe_s"].get<double>(), changes.front().planned_s);
}

// Switched off until the only stretch of hands is over, the pack is as good as the one that would take its place: to
// change it then helps nothing.
TEST(LastSafe, APackThatWasNotUsedYetIsNotChanged) {
  std::string text = kDay;
  const std::string draw = "draw = \"28 W\"\n";
  text.insert(text.find(draw) + draw.size(), "group = \"all\"\n");
  const std::string morning = "from = \"08:00\"\nair = \"20 °C\"\n";
  text.replace(text.find(morning), morning.size(),
               "from = \"08:00\"\nair = \"20 °C\"\noff = [\"all\"]\n[[period]]\nname = \"take\"\nfrom = "
               "\"10:00\"\nair = \"20 °C\"\n");
  const DayFile file = read_day(decode::read_toml(text, "day"), catalogue::builtin());
  const Wording wording(file.inventory.settings);
  odds::ChangeOdds early = change(10.5);
  EXPECT_NE(change_warning(file.scenario, early, last_safe_s(file.scenario, early, 0.0), wording).find("Change P1"),
            std::string::npos);  // the box's own draw empties it: used
  day::Scenario still = file.scenario;
  for (day::Period& period : still.periods) {
    if (period.from_s < 10.0 * kHour_s) std::fill(period.mode.begin(), period.mode.end(), 1);
  }
  for (day::Device& device : still.devices)
    device.modes.resize(1), device.modes.push_back({.name = "off", .off = true});
  const std::string words = change_warning(still, early, last_safe_s(still, early, 0.0), wording);
  EXPECT_EQ(words.find("Change P1"), std::string::npos) << words;
  EXPECT_NE(words.find("before it is used"), std::string::npos) << words;
}

TEST(LastSafe, WarningsOfADayComeWithWhatTheOddsMakeOfThem) {
  const DayFile file = read();
  const Wording wording(file.inventory.settings);
  EXPECT_TRUE(change_warnings(file.scenario, {change(12.75)}, wording).empty());
  const std::vector<std::string> words = change_warnings(file.scenario, {change(12.75), change(10.5)}, wording);
  ASSERT_EQ(words.size(), 2U);
  EXPECT_EQ(words.front(), "Change P1 in cup before 10:00: the plan, 12:30, is too late.");
  EXPECT_NE(words.back().find("by the clock alone it comes too late"), std::string::npos);
}

}  // namespace
}  // namespace tillwrap::app
