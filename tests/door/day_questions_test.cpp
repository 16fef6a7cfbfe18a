// The page's questions about a running day and the night after it: what was noted moves the day, readings do not until
// they are weighed, and the packs go to the chargers as the day left them.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "door/decide.hpp"
#include "door/door.hpp"

namespace tillwrap::door {
namespace {

using Json = nlohmann::json;

Json asked(Json question, bool whole = false) {
  Door door(whole ? &decisions() : nullptr);
  question["id"] = 7;
  return Json::parse(door.ask(question.dump()));
}

std::string demo() {
  std::ifstream file(std::string(TILLWRAP_SOURCE_DIR) + "/examples/saltmarsh-ferry.toml");
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

std::string line(int n, const std::string& clock, const std::string& rest) {
  return R"({"v":1,"id":"01a213c1-15c5-70d4-af6f-0000000000)" + std::to_string(10 + n) + R"(","at":"2026-11-25T)" +
         clock + R"(:00+00:00","by":"page",)" + rest + "}\n";
}

double change_into(const Json& answer, const std::string& holder, const std::string& pack) {
  for (const Json& change : answer["changes"])
    if (change["holder"] == holder && change["in"] == pack) return change["planned_s"];
  return -1.0;
}

TEST(DayDoor, NothingNotedIsTheDayAsWritten) {
  const Json stands = asked({{"ask", "stands"}, {"day", demo()}, {"lines", ""}})["answer"];
  const Json plain = asked({{"ask", "forecast"}, {"day", demo()}, {"strip", true}, {"one_loss", false}})["answer"];
  EXPECT_EQ(stands["forecast"]["likely_s"], plain["forecast"]["likely_s"]);
  EXPECT_EQ(stands["strip"]["columns"], plain["strip"]["columns"]);
  EXPECT_EQ(stands["changes"], asked({{"ask", "changes"}, {"day", demo()}})["answer"]);
}

// Half an hour late from 09:00 on: off and what is written for later come half an hour later, by arithmetic.
TEST(DayDoor, WhatIsNotedMovesTheDay) {
  const std::string late = line(1, "09:00", R"("what":"late","minutes":30)");
  const Json before = asked({{"ask", "stands"}, {"day", demo()}, {"lines", ""}})["answer"];
  const Json after = asked({{"ask", "stands"}, {"day", demo()}, {"lines", late}})["answer"];
  EXPECT_EQ(after["late_s"], 1800.0);
  EXPECT_EQ(after["strip"]["off_s"].get<double>() - before["strip"]["off_s"].get<double>(), 1800.0);
  EXPECT_EQ(change_into(after, "cup", "C2") - change_into(before, "cup", "C2"), 1800.0);
  const std::string in = line(2, "10:40", R"("what":"put_in","pack":"C2","holder":"cup")");
  const Json changed = asked({{"ask", "stands"}, {"day", demo()}, {"lines", late + in}})["answer"];
  bool found = false;
  for (const Json& column : changed["strip"]["columns"])
    for (const Json& stint : column["stints"])
      found = found || (column["holder"] == "cup" && stint["pack"] == "C2" &&
                        std::fabs(stint["in_s"].get<double>() - 38400.0) < 60.0);
  EXPECT_TRUE(found);
  const std::string back = line(3, "10:41", R"("what":"taken_back","of":"01a213c1-15c5-70d4-af6f-000000000011")");
  EXPECT_EQ(asked({{"ask", "stands"}, {"day", demo()}, {"lines", back + late}})["answer"]["late_s"], 0.0);
}

// Out of the cup at 09:00 and nothing in: its column ends there until the 10:20 of the day file, and so it is told.
TEST(DayDoor, WhatIsTakenOutLeavesItsHolderEmpty) {
  const std::string out = line(1, "09:00", R"("what":"taken_out","pack":"C1")");
  const Json stands =
      asked({{"ask", "stands"}, {"day", demo()}, {"lines", out}, {"at_s", 9.0 * 3600.0 + 60.0}})["answer"];
  std::vector<double> in_s, out_s;
  for (const Json& column : stands["strip"]["columns"]) {
    for (const Json& stint : column["stints"]) {
      if (column["holder"] != "cup") continue;
      in_s.push_back(stint["in_s"].get<double>());
      out_s.push_back(stint["out_s"].get<double>());
    }
  }
  ASSERT_GE(in_s.size(), 2u);
  EXPECT_NEAR(out_s[0], 9.0 * 3600.0, 60.0);  // of the picture's rows
  EXPECT_NEAR(in_s[1], 10.0 * 3600.0 + 20.0 * 60.0, 60.0);
  EXPECT_NEAR(stands["forecast"]["first_loss"]["at_s"].get<double>(), 9.0 * 3600.0, 1.0);
  EXPECT_EQ(stands["forecast"]["first_loss"]["cause"], "holder_empty");  // not the mains adapter, gone since rigging
  const Json track =
      asked({{"ask", "track"}, {"day", demo()}, {"lines", out}, {"at_s", 9.0 * 3600.0 + 60.0}})["answer"];
  ASSERT_EQ(track["empty"].size(), 1u);
  EXPECT_EQ(track["empty"][0]["holder"], "cup");
  EXPECT_EQ(track["empty"][0]["next"], "C2");
  EXPECT_NE(track["warning"].get<std::string>().find("Put something into cup"), std::string::npos);
}

TEST(DayDoor, ALineTheDayDoesNotKnowIsSaidWithItsPlace) {
  const std::string lines = line(1, "09:00", R"("what":"late","minutes":30)") +
                            line(2, "10:40", R"("what":"put_in","pack":"Z9","holder":"cup")");
  const Json error = asked({{"ask", "stands"}, {"day", demo()}, {"lines", lines}})["error"];
  EXPECT_EQ(error["line"], 2);
  EXPECT_NE(error["message"].get<std::string>().find("Z9"), std::string::npos);
}

// 14.5 V typed as 1.45: the point one place to the right.
TEST(DayDoor, ASlippedPointIsAskedAbout) {
  const std::string lines = line(1, "09:00", R"("what":"reading","point":"input volts","of":"recorder","value":1.45)");
  const Json one = asked({{"ask", "track"}, {"day", demo()}, {"lines", lines}})["answer"]["readings"][0];
  EXPECT_EQ(one["doubted"], true);
  EXPECT_NEAR(one["slipped"].get<double>(), 14.5, 1e-9);
  EXPECT_EQ(one["fits"], nullptr);
}

// Two places that do not see each other, each given what both have found so far; one of them begins anew on the way, as
// a worker does that took another's place.
TEST(DayDoor, TrackingInSharesIsTheSameAnswer) {
  const std::string lines = line(1, "09:00", R"("what":"reading","point":"input volts","of":"recorder","value":15.3)") +
                            line(2, "09:30", R"("what":"reading","point":"gauge","of":"C1","value":0.46)");
  Json question{{"id", 7}, {"ask", "track_share"}, {"day", demo()}, {"lines", lines}, {"roll_s", 1800.0}};
  std::array<Door, 2> doors;
  std::vector<double> so_far;
  Json track;
  for (int step = 0; track.is_null(); ++step) {
    ASSERT_LT(step, 20);
    if (step == 1) doors[1] = Door();
    std::vector<double> found = so_far;
    for (std::size_t k = 0; k < doors.size(); ++k) {
      question["share"] = k;
      doors[k].samples() = so_far;
      const Json reply = Json::parse(doors[k].ask(question.dump()))["answer"];
      if (reply.contains("track")) {
        EXPECT_EQ(so_far.empty(), false);
        track = reply["track"];
        continue;
      }
      found.push_back(static_cast<double>(doors[k].samples().size()));
      found.insert(found.end(), doors[k].samples().begin(), doors[k].samples().end());
    }
    so_far = found;
  }
  EXPECT_EQ(track, asked({{"ask", "track"}, {"day", demo()}, {"lines", lines}, {"roll_s", 1800.0}})["answer"]);
}

TEST(DayDoor, NumbersOfNoStepAreRefused) {
  Json question{{"ask", "track_share"}, {"day", demo()}, {"lines", ""}, {"share", 0}};
  for (const std::vector<double>& wrong : std::vector<std::vector<double>>{
           {1.0}, {-1.0, 2.0}, {NAN}, {2.0, 1.0, 1.0, 0.0}, std::vector<double>(5000, 10.0)}) {
    Door door;
    door.samples() = wrong;
    const Json reply = Json::parse(door.ask(question.dump()));
    ASSERT_TRUE(reply.contains("error"));
    EXPECT_NE(reply["error"]["message"].get<std::string>().find("earlier steps"), std::string::npos);
  }
  question["share"] = 2;
  EXPECT_TRUE(asked(question).contains("error"));
}

Json night(const std::string& lines) {
  return asked({{"ask", "recharge"},
                {"day", demo()},
                {"lines", lines},
                {"there", "20:30-23:30, 06:00-06:30"},
                {"date", "2026-11-25"},
                {"stamp", "20261125T200000Z"}},
               true)["answer"];
}

double left(const Json& answer, const std::string& label) {
  for (const Json& pack : answer["packs"])
    if (pack["label"] == label) return pack["left"];
  return -1.0;
}

TEST(SheetDoor, IsTheOtherAnswersAndWhatIsPrinted) {
  const Json sheet = asked({{"ask", "sheet"}, {"day", demo()}}, true)["answer"];
  for (const char* name : {"meters", "findings"}) {
    Json own = asked({{"ask", name}, {"day", demo()}}, true)["answer"];
    own.erase("drawing");
    EXPECT_EQ(sheet[name], own) << name;
  }
  EXPECT_EQ(sheet["format"], "tillwrap-sheet-1");
  EXPECT_NE(sheet["html"].get<std::string>().find(sheet["verdict"].get<std::string>()), std::string::npos);
  int figures = 0;
  for (const Json& section : sheet["sections"]) {
    if (section["figure"].is_null()) continue;
    EXPECT_TRUE(section["figure"].get<std::string>().starts_with("<svg")) << section["title"];
    ++figures;
  }
  EXPECT_EQ(figures, 2);  // the day, the wiring
}

// Kept at work an hour longer, a pack comes in emptier; the calendar says when as RFC 5545 writes it.
TEST(NightDoor, PacksComeInAsTheDayLeftThem) {
  const Json planned = night("");
  const Json late = night(line(1, "17:00", R"("what":"late","minutes":60)"));
  EXPECT_LT(left(late, "tray NiMH") + left(late, "C3") + left(late, "C4"),
            left(planned, "tray NiMH") + left(planned, "C3") + left(planned, "C4"));
  const std::string calendar = planned["calendar"];
  EXPECT_EQ(calendar.find("BEGIN:VCALENDAR\r\n"), 0U);
  EXPECT_NE(calendar.find("\r\nDTSTART:20261125T"), std::string::npos);
  const Json undated = asked({{"ask", "recharge"}, {"day", demo()}, {"there", "20:30-23:30"}}, true)["answer"];
  EXPECT_EQ(undated["calendar"], nullptr);
}

// Two chargers stand apart in the night's picture: under each name its own bays, and the packs of those bays between it
// and the next. Places by the picture itself: SVG's text has x and y, y grows downwards.
TEST(RechargeDoor, DrawsEachBayUnderItsCharger) {
  std::string day = demo();
  day += "\n[[charger]]\nname = \"van charger\"\nkind = \"charger-smart-2\"\namps = \"3 A\"\nplace = \"indoors\"\n";
  const Json answer = asked({{"ask", "recharge"}, {"day", day}, {"there", "20:30-23:30"}}, true)["answer"];
  const std::string drawing = answer["drawing"];
  struct Words {
    double y;
    std::string text;
  };
  std::vector<Words> all;
  const std::regex one("<text x=\"[-0-9.]+\" y=\"([-0-9.]+)\"[^>]*>([^<]*)</text>");
  for (auto found = std::sregex_iterator(drawing.begin(), drawing.end(), one); found != std::sregex_iterator(); ++found)
    all.push_back({std::stod((*found)[1]), (*found)[2]});
  const auto y_of = [&](const std::string& text) {
    const auto found = std::find_if(all.begin(), all.end(), [&](const Words& w) { return w.text == text; });
    return found == all.end() ? -1.0 : found->y;
  };
  const double first = y_of("charger, 2 bays"), second = y_of("van charger, 2 bays"), foot = y_of("somebody there");
  ASSERT_TRUE(0.0 < first && first < second && second < foot) << drawing;
  int compared = 0;
  for (const Json& stay : answer["stays"]) {
    const double from = stay["charger"] == "charger" ? first : second;
    const double until = stay["charger"] == "charger" ? second : foot;
    const auto inside = [&](const std::string& text) {
      return std::any_of(all.begin(), all.end(),
                         [&](const Words& w) { return w.text == text && from < w.y && w.y < until; });
    };
    EXPECT_TRUE(inside(stay["label"])) << stay;
    EXPECT_TRUE(inside("bay " + std::to_string(stay["bay"].get<int>()))) << stay;
    ++compared;
  }
  EXPECT_GE(compared, 3);
}

// Each piece a part is said to have is told once, before the next part begins.
TEST(DayDoor, SlowQuestionsTellHowFarTheyAre) {
  for (const char* ask : {"choose", "remedies"}) {
    struct Part {
      std::string name;
      std::size_t pieces, done;
    };
    std::vector<Part> parts;
    Door door(&decisions(), {.begins =
                                 [&](std::string_view part, std::size_t pieces) {
                                   parts.push_back({std::string(part), pieces, 0});
                                 },
                             .piece_done = [&] { ++parts.at(parts.size() - 1).done; }});
    const Json question = {{"id", 7}, {"ask", ask}, {"day", demo()}, {"fresh", 600}, {"days", 32}};
    ASSERT_TRUE(Json::parse(door.ask(question.dump())).contains("answer")) << ask;
    ASSERT_FALSE(parts.empty()) << ask;
    for (const Part& part : parts) EXPECT_EQ(part.done, part.pieces) << ask << ": " << part.name;
  }
}

}  // namespace
}  // namespace tillwrap::door
