// Lines: every form reads, what is wrong is told with its place, what is unknown is kept.
#include "journal/line.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <fstream>
#include <sstream>

#include "journal/fold.hpp"

namespace tillwrap::journal {
namespace {

std::string fixture(const std::string& name) {
  std::ifstream file(std::string(TILLWRAP_SOURCE_DIR) + "/tests/journal/fixtures/" + name);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

const std::string kHead =
    R"({"v":1,"id":"018dfe5a-2f80-7000-8000-000000000001","at":"2024-03-02T10:00:00+01:00","by":"laptop",)";

// The place and words of the complaint.
std::string refusal(const std::string& line) {
  try {
    parse_line(line, "f.jsonl", 7);
  } catch (const decode::InputError& error) {
    return error.what();
  }
  return "";
}

TEST(Line, EveryFormOfVersion1IsInTheFixture) {
  const std::vector<Line> lines = parse_lines(fixture("format-1.jsonl"), "format-1.jsonl");
  std::set<std::string> seen;
  for (const Line& line : lines) {
    ASSERT_NE(line.form, nullptr) << line.text;
    seen.insert(line.what);
    for (const Key& key : line.form->keys) seen.insert(line.what + "." + std::string(key.name));
  }
  for (const Form& form : forms()) EXPECT_TRUE(seen.contains(std::string(form.name))) << form.name;
  for (const Point& point : points()) {
    EXPECT_TRUE(std::any_of(lines.begin(), lines.end(), [&](const Line& l) { return l.words("point") == point.name; }));
  }
  // Bytes come back as they went in.
  std::string again;
  for (const Line& line : lines) again += line.text + "\n";
  EXPECT_EQ(again, fixture("format-1.jsonl"));
}

TEST(Line, ValuesOfVersion1) {
  const std::vector<Line> lines = parse_lines(fixture("format-1.jsonl"), "format-1.jsonl");
  EXPECT_EQ(lines[0].words("bought"), "2024-03-01");
  EXPECT_EQ(lines[0].number("health"), 0.97);
  EXPECT_EQ(lines[3].number("temperature"), 277.15);
  EXPECT_EQ(lines[9].number("minutes"), -10.0);
  EXPECT_EQ(lines[0].at.offset_min, 60);
}

TEST(Line, LaterVersionsAndUnknownEventsAreKeptAndTold) {
  const std::vector<Line> lines = parse_lines(fixture("later.jsonl"), "later.jsonl");
  ASSERT_EQ(lines.size(), 2U);
  EXPECT_EQ(lines[0].version, 2);
  EXPECT_EQ(lines[0].form, nullptr);
  EXPECT_EQ(lines[1].form, nullptr);
  std::string again;
  for (const Line& line : lines) again += line.text + "\n";
  EXPECT_EQ(again, fixture("later.jsonl"));
  const State state = fold(lines);
  EXPECT_TRUE(state.packs.empty());
  EXPECT_EQ(state.folded, 0U);
  EXPECT_EQ(state.counts.at(Remark::Kind::later_version), 1U);
  EXPECT_EQ(state.counts.at(Remark::Kind::unknown_event), 1U);
}

TEST(Line, WhatIsWrongIsToldWithItsPlace) {
  const std::string charged = R"("what":"charged","pack":"C2",)";
  const std::vector<std::pair<std::string, std::string>> table{
      {"", "f.jsonl:7:1: "},
      {"charged C2", "f.jsonl:7:1: not JSON"},
      {"[1]", "f.jsonl:7:1: the text is no JSON object"},
      {R"({"id":"018dfe5a-2f80-7000-8000-000000000001"})", "f.jsonl:7:1: "},
      {R"({"v":0})", "f.jsonl:7:6: "},
      {R"({"v":1,"id":"7"})", "f.jsonl:7:13: \"7\" is no id"},
      {R"({"v":1,"id":"018dfe5a-2f80-7000-8000-000000000001","at":"2024-03-02 10:00"})", "f.jsonl:7:57: "},
      {R"({"v":1,"id":"018dfe5a-2f80-7000-8000-000000000001","at":"2024-03-02T10:00:00"})",
       "f.jsonl:7:57: this time has no zone"},
      {kHead + R"("what":3})", "f.jsonl:7:106: "},
      {kHead + charged + R"("charge":80})", "f.jsonl:7:137: "},
      {kHead + charged + R"("charge":"80 %"})", "f.jsonl:7:137: "},
      {kHead + charged + R"("charge":1)", "f.jsonl:7:138: not JSON"},
      {kHead + R"("what":"charged","charge":1})", "f.jsonl:7:1: "},
      {kHead + R"("what":"charged","pack":"","charge":1})", "pack is empty"},
      {kHead + R"("what":"charged","pack":"C\u00012","charge":1})", "control character"},
      {kHead + charged + R"("charge":1,"charge":1})", "written twice"},
      {kHead + R"("what":"rested","pack":"C2","place":"van","temperature":"warm"})", "f.jsonl:7:"},
      {kHead + R"("what":"acquired","pack":"C2","kind":"x","bought":"2024-02-30"})", "bought is no date"},
      {kHead + R"("what":"reading","point":"volts","of":"recorder","value":14})", "there is no point"},
      {kHead + R"("what":"reading","point":"meter","of":"recorder","value":14})", "f.jsonl:7:"},
      {kHead + R"("what":"taken_back","of":"C2"})", "no id of a line"},
      {kHead + R"("what":"taken_back","of":"018dfe5a-2f80-7000-8000-000000000001"})", "takes itself back"},
      {kHead + "\"what\":\"charged\",\"pack\":\"C\xFF\",\"charge\":1}", "not valid UTF-8"},
      {kHead + R"("what":"x","note":")" + std::string(kMostLineBytes, 'x') + "\"}", "at most 65536"},
  };
  for (const auto& [line, says] : table)
    EXPECT_NE(refusal(line).find(says), std::string::npos) << line << "\n" << refusal(line);
}

TEST(Line, BlanksAndLineEnds) {
  const std::string one = kHead + R"("what":"charged","pack":"C2","charge":1})";
  const std::vector<Line> lines = parse_lines("\xEF\xBB\xBF" + one + "\r\n\n  \n" + one, "f");
  ASSERT_EQ(lines.size(), 2U);
  EXPECT_EQ(lines[0].text, one);
  EXPECT_EQ(lines[1].text, one);
}

RC_GTEST_PROP(Line, ComposedLinesReadBack, ()) {
  const auto letters = rc::gen::container<std::string>(rc::gen::inRange(' ', '\x7F'));
  const std::string by = "a" + *letters;
  const std::string note = *letters;
  const double charge = *rc::gen::inRange(0, 1'000'001) / 1e6;
  RC_PRE(by.size() <= kMostLabelBytes);
  const Moment at{*rc::gen::inRange<std::int64_t>(0, 4'000'000'000) * kSecond_us, *rc::gen::inRange(-720, 841)};
  const std::string text =
      compose_line("018dfe5a-2f80-7000-8000-000000000001", at, by, "charged",
                   {{"pack", "\"C2\""}, {"charge", fmt::format("{}", charge)}, {"note", json_text(note)}});
  const Line line = parse_line(text, "f", 1);
  RC_ASSERT(line.at == at);
  RC_ASSERT(line.by == by);
  RC_ASSERT(line.number("charge") == charge);
  RC_ASSERT(line.words("note") == note);
}

}  // namespace
}  // namespace tillwrap::journal
