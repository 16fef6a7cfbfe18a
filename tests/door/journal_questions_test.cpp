// The page's questions about a journal: what it keeps, what it shows, what is refused.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "app/day_file.hpp"
#include "catalogue/catalogue.hpp"
#include "door/decide.hpp"
#include "door/door.hpp"
#include "forecast/forecast.hpp"

namespace tillwrap::door {
namespace {

using Json = nlohmann::json;

Json asked(Json question, bool whole = true) {
  Door door(whole ? &decisions() : nullptr);
  question["id"] = 7;
  const Json answer = Json::parse(door.ask(question.dump()));
  EXPECT_EQ(answer["id"], 7);
  return answer;
}

std::string fixture() {
  std::ifstream file(std::string(TILLWRAP_SOURCE_DIR) + "/tests/journal/fixtures/format-1.jsonl");
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

constexpr const char* kNow = "2026-03-01T12:00:00+01:00";

TEST(JournalDoor, TwoDevicesAreOneJournal) {
  const std::string lines = fixture();
  const std::size_t half = lines.find('\n', lines.size() / 2) + 1;
  const Json once = asked({{"ask", "journal"}, {"now", kNow}, {"lines", lines}})["answer"];
  const Json both = asked({{"ask", "journal"},
                           {"now", kNow},
                           {"lines", {lines.substr(half), lines.substr(0, half), lines.substr(half)}}})["answer"];
  EXPECT_EQ(once["lines"], both["lines"]);
  EXPECT_EQ(once["kit"], both["kit"]);
  EXPECT_EQ(once["lines"].size(), 17U);
  EXPECT_EQ(once["kit"]["packs"][0]["pack"], "C2");
  EXPECT_EQ(once["kit"]["packs"][1]["retired"], "2025-06-01T12:06:00+02:00");
}

TEST(JournalDoor, ABadLineHidesNoOther) {
  const Json answer =
      asked({{"ask", "journal"}, {"now", kNow}, {"lines", "{\"v\":1}\n\n" + fixture() + "broken"}})["answer"];
  EXPECT_EQ(answer["lines"].size(), 17U);
  ASSERT_EQ(answer["bad"].size(), 2U);
  EXPECT_EQ(answer["bad"][0]["line"], 1);
  EXPECT_EQ(answer["bad"][1]["line"], 20);
}

TEST(JournalDoor, ALineIsMadeByGivenClockAndRandomness) {
  Json question = {{"ask", "journal_line"},
                   {"now", kNow},
                   {"random", "0cc318c4dc0c0c07398f"},
                   {"by", "phone"},
                   {"what", "charged"},
                   {"at", "10 min ago"},
                   {"keys", {{"pack", "C2"}, {"charge", "80 %"}}}};
  const Json answer = asked(question)["answer"];
  const Json line = Json::parse(answer["line"].get<std::string>());
  EXPECT_EQ(line["at"], "2026-03-01T11:50:00+01:00");
  EXPECT_EQ(line["charge"], 0.8);
  EXPECT_TRUE(line["id"].get<std::string>().ends_with("-7cc3-98c4-dc0c0c07398f"));
  EXPECT_EQ(answer["words"], "C2 charged to 80 %");
  EXPECT_EQ(asked({{"ask", "journal"}, {"now", kNow}, {"lines", answer["line"]}})["answer"]["bad"].size(), 0U);
  // Two at once sort as they were made, although the second's random bits are less.
  Json second = question;
  second["random"] = std::string(20, '0');
  second["after"] = answer["id"];
  EXPECT_GT(asked(second)["answer"]["id"].get<std::string>(), answer["id"].get<std::string>());
  // What a person can get wrong.
  for (const auto& [key, value, part] :
       std::vector<std::tuple<std::string, Json, std::string>>{{"keys", {{"pack", "C2"}}, "needs --charge"},
                                                               {"keys", {{"pack", 3}}, "is no text"},
                                                               {"what", "chraged", "there is no event"},
                                                               {"random", "0c", "ten random bytes"},
                                                               {"random", std::string(20, 'g'), "ten random bytes"},
                                                               {"now", "today", "no time with a zone"},
                                                               {"at", "soon", "is no time"}}) {
    Json wrong = question;
    wrong[key] = value;
    const Json error = asked(wrong)["error"];
    EXPECT_NE(error["message"].get<std::string>().find(part), std::string::npos) << error;
  }
}

TEST(JournalDoor, HealthByLogAndYears) {
  // A pack's own registers, and its tests.
  const Json told = asked({{"ask", "health"},
                           {"now", kNow},
                           {"lines", fixture()},
                           {"pack", "C2"},
                           {"name", "now.csv"},
                           {"log", "0x10,0x18\n6050,6800\n"}})["answer"];
  EXPECT_EQ(told["log"]["of"], "smart-pack-14v4-98wh");
  EXPECT_NEAR(told["log"]["capacity"]["middle"].get<double>(), 0.89, 0.001);
  EXPECT_EQ(told["trend"]["tests"], 2);
  EXPECT_NE(told["text"].get<std::string>().find("Over the years"), std::string::npos);
  EXPECT_TRUE(asked({{"ask", "health"}, {"now", kNow}}).contains("error"));
  EXPECT_TRUE(asked({{"ask", "health"}, {"now", kNow}, {"pack", "C7"}}).contains("error"));
}

std::string two_cups(int second_health) {
  return R"(format = 1
[day]
date = "2026-02-20"
call = "08:00"
wrap = "12:00"
[[pack]]
label = "C2"
kind = "smart-pack-14v4-98wh"
health = "95 %"
[[pack]]
label = "C3"
kind = "smart-pack-14v4-98wh"
health = ")" +
         std::to_string(second_health) + R"( %"
[[holder]]
name = "cup 1"
kind = "cup-smart-14v4"
in = "box"
packs = ["C2"]
[[holder]]
name = "cup 2"
kind = "cup-smart-14v4"
in = "box"
packs = ["C3"]
[[box]]
name = "box"
kind = "box-2cup"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "30 W"
[[wire]]
from = "box.out-1"
to = "recorder"
length = "0.5 m"
[[period]]
name = "all"
from = "08:00"
air = "16 °C"
)";
}

// What would be read on a day whose second pack holds 75 %, by the forecast's own run of it.
std::string readings_of_the_day(bool amps) {
  const app::DayFile truth = app::read_day(decode::read_toml_or_json(two_cups(75), "the truth"), catalogue::builtin());
  const forecast::WholeDay whole(truth.scenario);
  std::string lines;
  int n = 0;
  const auto line = [&](int minutes, const std::string& rest) {
    char head[120];
    std::snprintf(head, sizeof head,
                  R"({"v":1,"id":"018dfe5a-2f80-7000-8000-%012d","at":"2026-02-20T%02d:%02d:00+01:00","by":"phone",)",
                  ++n, minutes / 60, minutes % 60);
    lines += head + rest + "}\n";
  };
  for (const std::string pack : {"C2", "C3"}) {
    line(300, R"("what":"acquired","pack":")" + pack + R"(","kind":"smart-pack-14v4-98wh","bought":"2024-02-01")");
    line(420, R"("what":"charged","pack":")" + pack + R"(","charge":1)");
    line(480, R"("what":"put_in","pack":")" + pack + R"(","holder":"cup )" + (pack == "C2" ? "1" : "2") + R"(")");
  }
  forecast::RunOptions options{.search_until_s = truth.scenario.off_s, .tolerance = 0.1};
  const std::vector<int> minutes{510, 555, 600, 645, 690, 714};
  for (const int m : minutes) options.probe_s.push_back(60.0 * m);
  const auto runs = whole.run(whole.plan(truth.scenario.off_s), options);
  for (std::size_t k = 0; k < minutes.size(); ++k) {
    const forecast::Probe& probe = runs.at(0).probes.at(k);
    const auto number = [](double value, double step) { return std::to_string(step * std::round(value / step)); };
    const auto recorder =
        static_cast<std::size_t>(std::find_if(truth.scenario.devices.begin(), truth.scenario.devices.end(),
                                              [](const day::Device& d) { return d.name == "recorder"; }) -
                                 truth.scenario.devices.begin());
    line(minutes[k], R"("what":"reading","point":"input volts","of":"recorder","value":)" +
                         number(probe.device_v.at(recorder), 0.1));
    for (std::size_t h = 0; amps && h < 2; ++h)
      line(minutes[k], R"("what":"reading","point":"amps","of":")" + truth.scenario.holders.at(h).name +
                           R"(","value":)" + number(probe.holder_out_a.at(h), 0.01));
  }
  return lines;
}

// The day's file takes both packs for 95 %; the readings say which does not hold that, and the line that keeps it does.
TEST(JournalDoor, ADaysReadingsTellItsPacksAndAreKept) {
  const std::string lines = readings_of_the_day(true);
  const Json question = {{"ask", "health"}, {"now", kNow},         {"pack", "C3"},
                         {"lines", lines},  {"day", two_cups(95)}, {"name", "two cups"}};
  const Json told = asked(question)["answer"];
  const auto capacity = [](const Json& answer, const std::string& label) {
    for (const Json& pack : answer["day"]["packs"]) {
      if (pack["pack"] == label) return pack["capacity"];
    }
    return Json();
  };
  EXPECT_LT(capacity(told, "C3")["low"].get<double>(), 0.75);
  EXPECT_GT(capacity(told, "C3")["high"].get<double>(), 0.75);
  EXPECT_LT(capacity(told, "C3")["high"].get<double>(), capacity(told, "C2")["middle"].get<double>());
  EXPECT_EQ(told["day"]["together"], Json::array());
  EXPECT_NE(told["about"].get<std::string>().find("resistance cannot be told"), std::string::npos);
  ASSERT_EQ(told["to_keep"].size(), 2u);
  std::string kept = lines;
  for (const Json& one : told["to_keep"]) {
    const Json made = asked({{"ask", "journal_line"},
                             {"now", kNow},
                             {"random", one["keys"]["pack"] == "C2" ? "00112233445566778899" : "99887766554433221100"},
                             {"by", "page"},
                             {"what", "tested"},
                             {"keys", one["keys"]},
                             {"at", one["at"]}})["answer"];
    kept += made["line"].get<std::string>() + "\n";
  }
  const Json kit = asked({{"ask", "journal"}, {"now", kNow}, {"lines", kept}})["answer"]["kit"];
  for (const Json& pack : kit["packs"]) {
    EXPECT_EQ(pack["field_days"], 1) << pack["pack"];
    EXPECT_NEAR(pack["capacity"]["middle"].get<double>(), capacity(told, pack["pack"])["middle"].get<double>(), 0.06);
  }
  // By volts alone the two are one.
  Json volts = question;
  volts["lines"] = readings_of_the_day(false);
  const Json both = asked(volts)["answer"];
  ASSERT_EQ(both["day"]["together"].size(), 1u);
  EXPECT_EQ(both["to_keep"], Json::array());
  // A day goes with a pack, has a date and was read on.
  Json wrong = question;
  wrong["log"] = "0x10,0x18\n6050,6800\n";
  EXPECT_NE(asked(wrong)["error"]["message"].get<std::string>().find("goes with a pack"), std::string::npos);
  wrong = question;
  wrong["day"] = std::regex_replace(two_cups(95), std::regex("2026-02-20"), "2026-02-21");
  EXPECT_NE(asked(wrong)["error"]["message"].get<std::string>().find("no reading of this day's kit"),
            std::string::npos);
}

TEST(JournalDoor, TheSmallModuleSaysItCannot) {
  const Json error = asked({{"ask", "journal"}, {"now", kNow}, {"lines", ""}}, false)["error"];
  EXPECT_NE(error["message"].get<std::string>().find("beyond this part of the engine"), std::string::npos);
}

}  // namespace
}  // namespace tillwrap::door
