// The page's questions that bring files along: days in a row, a parameter file.
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "door/decide.hpp"
#include "door/door.hpp"

namespace tillwrap::door {
namespace {

using Json = nlohmann::json;

Json asked(const Json& question, odds::Tell tell = {}) {
  Door door(&decisions(), std::move(tell));
  return Json::parse(door.ask(question.dump()));
}

std::string text_of(const std::string& path) {
  std::ifstream file(std::string(TILLWRAP_SOURCE_DIR) + "/" + path);
  std::stringstream all;
  all << file.rdbuf();
  return all.str();
}

Json week(bool help) {
  Json question = {{"ask", "run"}, {"run", text_of("examples/week/run.toml")}, {"help", help}, {"days", Json::array()}};
  for (const char* name : {"1-harbour.toml", "2-lighthouse.toml", "3-crossing.toml", "4-school.toml"})
    question["days"].push_back({{"file", name}, {"day", text_of(std::string("examples/week/") + name)}});
  return question;
}

// What a rest put back is what the next call has, less what lying costs: arithmetic.
TEST(RunDoor, CarriesEachPackFromDayToDay) {
  const Json answer = asked(week(false));
  ASSERT_TRUE(answer.contains("answer")) << answer.dump();
  const Json& days = answer["answer"]["days"];
  ASSERT_EQ(days.size(), 4U);
  int compared = 0;
  for (std::size_t i = 0; i + 1 < days.size(); ++i) {
    for (const Json& before : days[i]["packs"]) {
      for (const Json& after : days[i + 1]["packs"]) {
        if (before["label"] != after["label"] || !before["rechargeable"].get<bool>()) continue;
        EXPECT_NEAR(before["after_rest"].get<double>() - before["lost_lying"].get<double>(),
                    after["at_call"].get<double>(), 1e-9);
        ++compared;
      }
    }
  }
  EXPECT_GT(compared, 0);
}

// Whoever stops it half-way has days that are no other than those of the whole answer.
TEST(RunDoor, GivesTheDaysThatAreKnownAsItGoes) {
  std::vector<Json> found;
  const Json answer =
      asked(week(true), {.found = [&](const std::string& json) { found.push_back(Json::parse(json)); }});
  const Json& days = answer["answer"]["days"];
  ASSERT_EQ(found.size(), 4U);
  for (std::size_t i = 0; i < found.size(); ++i) {
    ASSERT_EQ(found[i]["days"].size(), i + 1);
    for (std::size_t k = 0; k <= i; ++k) EXPECT_EQ(found[i]["days"][k], days[k]);
    EXPECT_EQ(found[i]["first_failure"], i < 2 ? Json(nullptr) : answer["answer"]["first_failure"]);
  }
  EXPECT_EQ(found.back()["packs"], answer["answer"]["packs"]);
}

TEST(RunDoor, NamesTheDayItWasNotGiven) {
  Json question = week(false);
  question["days"].erase(0);
  const Json error = asked(question)["error"];
  EXPECT_NE(error["message"].get<std::string>().find("1-harbour.toml"), std::string::npos);
  EXPECT_EQ(error["source"], "the run");
}

TEST(RunDoor, NamesTheDayThatIsWrong) {
  Json question = week(false);
  question["days"][2]["day"] = "format = 1\nnonsense = 2\n";
  const Json error = asked(question)["error"];
  EXPECT_EQ(error["source"], "3-crossing.toml");
  EXPECT_EQ(error["line"], 2);
}

const Json* of(const Json& list, const std::string& label) {
  for (const Json& one : list)
    if (one["label"] == label) return &one;
  return nullptr;
}

std::string line(int n, const std::string& at, const std::string& what, const Json& keys) {
  Json out = {{"v", 1},
              {"id", "01a213c1-15c5-70d4-af6f-00000000000" + std::to_string(n)},
              {"at", at},
              {"by", "test"},
              {"what", what}};
  out.update(keys);
  return out.dump() + "\n";
}

// Charged full and 2 Ah drawn an hour ago: what is left is 1 - 2 Ah over the capacity (coulombs), less what an hour
// loses, under 0.01 % (2.5 % a month, secondary source). Its kind was never told: it is the days' own.
TEST(RunDoor, BeginsWithWhatTheJournalSaysIsLeft) {
  Json question = week(false);
  question["lines"] = line(1, "2026-11-22T18:00:00+00:00", "charged", {{"pack", "C1"}, {"charge", 1}}) +
                      line(2, "2026-11-22T19:00:00+00:00", "used", {{"pack", "C1"}, {"ah", 2}});
  question["now"] = "2026-11-22T20:00:00+00:00";
  const Json told = asked(question);
  ASSERT_TRUE(told.contains("answer")) << told;
  const Json& answer = told["answer"];
  const double capacity_ah = (*of(answer["packs"], "C1"))["capacity_ah"];
  EXPECT_NEAR((*of(answer["days"][0]["packs"], "C1"))["at_call"].get<double>(), 1.0 - 2.0 / capacity_ah, 2e-4);
  EXPECT_EQ(answer["journal"].size(), 1U);
  const Json plain = asked(week(false))["answer"];
  EXPECT_EQ(plain["journal"], nullptr);
  EXPECT_EQ((*of(answer["days"][0]["packs"], "C2"))["at_call"], (*of(plain["days"][0]["packs"], "C2"))["at_call"]);
}

// The same charge and health as the journal's own answer gives, to the four digits it gives; capacity follows the
// health.
TEST(RunDoor, TakesChargeAndHealthOfEachPackTheJournalKnows) {
  Json question = week(false);
  question["lines"] = text_of("examples/three-years.jsonl");
  question["now"] = "2026-11-22T20:00:00+00:00";
  const Json kit =
      asked({{"ask", "journal"}, {"lines", question["lines"]}, {"now", question["now"]}})["answer"]["kit"]["packs"];
  const Json answer = asked(question)["answer"];
  const Json plain = asked(week(false))["answer"];
  int compared = 0;
  for (const Json& pack : kit) {
    const Json* ran = of(answer["packs"], pack["pack"]);
    if (ran == nullptr || !pack["retired"].is_null()) continue;
    const double capacity = pack["capacity"]["middle"];
    EXPECT_NEAR((*of(answer["days"][0]["packs"], pack["pack"]))["at_call"].get<double>(),
                pack["charge"]["middle"].get<double>(), 1e-4);
    EXPECT_NEAR((*ran)["health_before"].get<double>(), capacity, 1e-4);
    const Json& was = *of(plain["packs"], pack["pack"]);
    EXPECT_NEAR((*ran)["capacity_ah"].get<double>() / was["capacity_ah"].get<double>(),
                capacity / was["health_before"].get<double>(), 1e-4);
    ++compared;
  }
  EXPECT_EQ(compared, 3);  // C1, C2, C3
  const std::string reasons = answer["reasons"].dump();
  EXPECT_NE(reasons.find("Begun with the packs as the journal has them: C1 "), std::string::npos);
}

TEST(RunDoor, AnotherKindOfThatLabelStaysAsTheDaySays) {
  Json question = week(false);
  question["lines"] =
      line(1, "2026-11-20T18:00:00+00:00", "acquired", {{"pack", "C1"}, {"kind", "plate-pack-14v4-98wh"}}) +
      line(2, "2026-11-22T18:00:00+00:00", "charged", {{"pack", "C1"}, {"charge", 0.4}});
  question["now"] = "2026-11-22T20:00:00+00:00";
  const Json answer = asked(question)["answer"];
  EXPECT_EQ((*of(answer["days"][0]["packs"], "C1"))["at_call"], 1.0);
  EXPECT_NE(answer["reasons"].dump().find("C1: a plate-pack-14v4-98wh in the journal"), std::string::npos);
  EXPECT_NE(answer["reasons"].dump().find("knows no pack of these days"), std::string::npos);
}

TEST(RunDoor, SaysWhichLineOfTheJournalItCannotRead) {
  Json question = week(false);
  question["lines"] = line(1, "2026-11-22T18:00:00+00:00", "charged", {{"pack", "C1"}, {"charge", 1}}) + "{broken\n";
  EXPECT_EQ(asked(question)["error"]["message"].get<std::string>().find("now") != std::string::npos, true);
  question["now"] = "2026-11-22T20:00:00+00:00";
  const Json error = asked(question)["error"];
  EXPECT_EQ(error["source"], "the lines");
  EXPECT_EQ(error["line"], 2);
}

// Every piece is told, the days first, then the additions of each size, which are looked for once a day fails.
TEST(RunDoor, TellsHowFarItIs) {
  std::vector<std::pair<std::string, std::size_t>> parts;
  std::vector<std::size_t> done;
  Json question = week(true);
  // Nothing but a tenth in each pack, and nothing to charge it with: no addition within reach helps.
  for (Json& day : question["days"]) {
    std::string text = day["day"];
    for (std::size_t at = text.find("[[pack]]"); at != std::string::npos; at = text.find("[[pack]]", at + 8))
      text.insert(at + 8, "\ncharge = \"10 %\"");
    day["day"] = text;
  }
  const Json answer = asked(question, {.begins =
                                           [&](std::string_view part, std::size_t pieces) {
                                             parts.emplace_back(part, pieces);
                                             done.push_back(0);
                                           },
                                       .piece_done = [&] { ++done.back(); }});
  ASSERT_TRUE(answer.contains("answer")) << answer.dump();
  EXPECT_FALSE(answer["answer"]["first_failure"].is_null());
  ASSERT_GE(parts.size(), 2U);
  EXPECT_EQ(parts[0], (std::pair<std::string, std::size_t>("days", 4)));
  for (std::size_t i = 0; i < parts.size(); ++i) {
    EXPECT_EQ(done[i], parts[i].second) << parts[i].first;
    if (i > 0) {
      EXPECT_EQ(parts[i].first, "additions");
    }
  }
}

constexpr const char* kCell = R"(format = "tillwrap-params-1"
[[cell]]
id = "own"
chemistry = "nmc"
rated_ah = 3.4
capacity_ah = 3.3
cutoff_v = 2.5
ocv = [[0.0, 2.5], [0.1, 3.3], [0.5, 3.67], [1.0, 4.17]]
lag_gain = [0.6667, 0.6667]
lag_rate = [20.19, 59.68]
diffusion_s = 6000.0
series_ohm = 0.01
electrolyte_ohm = 0.015
heat_capacity_j_k = 40.0
cooling_w_k = 0.5
)";

TEST(ParamsDoor, AParameterFileAsJsonForADay) {
  const Json answer = asked({{"ask", "params"}, {"text", kCell}, {"name", "own.toml"}});
  ASSERT_TRUE(answer.contains("answer")) << answer.dump();
  const Json& params = answer["answer"]["params"];
  EXPECT_EQ(params["cell"][0]["rated_ah"], 3.4);
  const Json again = asked({{"ask", "params"}, {"text", params.dump()}, {"name", "own.json"}});
  EXPECT_EQ(again["answer"]["params"], params);
}

TEST(ParamsDoor, WhatIsWrongWithAFileIsToldByItsLine) {
  std::string text = kCell;
  text.replace(text.find("3.4\n"), 3, "\"much\"");
  const Json error = asked({{"ask", "params"}, {"text", text}, {"name", "own.toml"}})["error"];
  EXPECT_EQ(error["source"], "own.toml");
  EXPECT_EQ(error["line"], 5);
}

}  // namespace
}  // namespace tillwrap::door
