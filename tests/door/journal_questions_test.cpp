// The page's questions about a journal: what it keeps, what it shows, what is refused.
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "door/decide.hpp"
#include "door/door.hpp"

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

TEST(JournalDoor, TheSmallModuleSaysItCannot) {
  const Json error = asked({{"ask", "journal"}, {"now", kNow}, {"lines", ""}}, false)["error"];
  EXPECT_NE(error["message"].get<std::string>().find("beyond this part of the engine"), std::string::npos);
}

}  // namespace
}  // namespace tillwrap::door
