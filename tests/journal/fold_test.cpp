// State from facts, and the laws a union has (idempotent, commutative, associative) on random journals.
#include "journal/fold.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "journal/clock_check.hpp"
#include "journal/uuid.hpp"

namespace tillwrap::journal {
namespace {

std::string id_of(std::int64_t ms, int n) {
  RandomBytes random{};
  random[9] = static_cast<std::uint8_t>(n);
  random[8] = static_cast<std::uint8_t>(n >> 8);
  return make_uuid7(ms, random);
}

constexpr std::int64_t kBegin_ms = 1'700'000'000'000;

Line line_of(int n, std::int64_t at_s, const std::string& what, std::vector<std::pair<std::string, std::string>> rest,
             std::int64_t written_s = -1, const std::string& by = "phone") {
  const std::int64_t ms = kBegin_ms + 1000 * (written_s < 0 ? at_s : written_s);
  return parse_line(compose_line(id_of(ms, n), {(kBegin_ms / 1000 + at_s) * kSecond_us, 60}, by, what, rest), "f", 1);
}

std::string q(const std::string& text) { return json_text(text); }

// Whose a reading is: of the holder a pack sits in, of the pack, or nobody's for certain.
TEST(Fold, ReadingsGoToThePackThatWasInThen) {
  int n = 0;
  std::vector<Line> lines;
  const auto at = [&](std::int64_t minute, const std::string& what,
                      std::vector<std::pair<std::string, std::string>> rest) {
    lines.push_back(line_of(++n, 60 * minute, what, std::move(rest)));
  };
  const auto read = [&](std::int64_t minute, const std::string& point, const std::string& of,
                        const std::string& value) {
    at(minute, "reading", {{"point", q(point)}, {"of", q(of)}, {"value", value}});
  };
  for (const char* label : {"C2", "C3"}) at(0, "acquired", {{"pack", q(label)}, {"kind", q("k")}});
  at(1, "charged", {{"pack", q("C2")}, {"charge", "0.9"}});
  at(10, "put_in", {{"pack", q("C2")}, {"holder", q("cup")}});
  read(20, "amps", "cup", "1.5");
  read(21, "input volts", "recorder", "14.1");  // C2 alone is in use
  read(22, "amps", "box", "2");
  at(30, "put_in", {{"pack", q("C3")}, {"holder", q("tray")}});
  read(40, "amps", "cup", "1.6");
  read(41, "input volts", "recorder", "14.0");  // either's
  read(42, "meter", "recorder", "0.5");
  at(50, "taken_out", {{"pack", q("C2")}, {"charge", "0.4"}});
  read(55, "amps", "tray", "0.7");
  at(60, "taken_out", {{"pack", q("C3")}});
  read(65, "gauge", "C3", "0.3");  // off its own gauge, before it is charged again
  at(70, "put_in", {{"pack", q("C2")}, {"holder", q("cup")}});
  at(80, "used", {{"pack", q("C2")}, {"ah", "1"}});
  const State state = fold(lines);
  const PackState& c2 = *state.pack("C2");
  ASSERT_EQ(c2.turns.size(), 2U);
  const Turn& first = c2.turns[0];
  EXPECT_EQ(first.holder, "cup");
  EXPECT_EQ(*first.out_us - first.in_us, 40 * 60 * kSecond_us);
  EXPECT_EQ(first.start->fraction, 0.9);
  EXPECT_EQ(first.left, 0.4);
  ASSERT_EQ(first.amps.size(), 2U);
  EXPECT_EQ(first.amps[1].value, 1.6);
  ASSERT_EQ(first.volts.size(), 1U);
  EXPECT_EQ(first.volts[0].value, 14.1);
  EXPECT_EQ(first.volts_of_several, 1U);
  EXPECT_EQ(first.amps_elsewhere, 1U);
  EXPECT_EQ(first.meters, 1U);
  EXPECT_EQ(c2.turns[1].start->fraction, 0.4) << "told when it came out, nothing drawn since";
  EXPECT_FALSE(c2.turns[1].out_us);
  EXPECT_TRUE(first.counted_by_used && c2.turns[1].counted_by_used) << "all since it was charged";
  const PackState& c3 = *state.pack("C3");
  ASSERT_EQ(c3.turns.size(), 1U);
  EXPECT_FALSE(c3.turns[0].start);
  EXPECT_EQ(c3.turns[0].left, 0.3);
  EXPECT_EQ(c3.turns[0].amps.size(), 1U);
  EXPECT_EQ(c3.turns[0].volts_of_several, 1U);
  EXPECT_FALSE(c3.turns[0].counted_by_used);
}

// A test that sums up a day stands for what was read and used on it, and a later one of that day for the earlier.
TEST(Fold, ADayThatWasSummedUpCountsOnce) {
  std::vector<Line> lines;
  int n = 0;
  const auto at = [&](std::int64_t minute, const std::string& what,
                      std::vector<std::pair<std::string, std::string>> rest) {
    lines.push_back(line_of(++n, 60 * minute, what, std::move(rest)));
  };
  at(0, "acquired", {{"pack", q("C2")}, {"kind", q("k")}});
  at(1, "charged", {{"pack", q("C2")}, {"charge", "1"}});
  at(10, "put_in", {{"pack", q("C2")}, {"holder", q("cup")}});
  const std::string day = moment_text(lines.back().at).substr(0, 10);
  at(40, "taken_out", {{"pack", q("C2")}});
  for (const char* capacity : {"0.7", "0.8"})
    at(41, "tested", {{"pack", q("C2")}, {"capacity", capacity}, {"resistance", "1.5"}, {"day", q(day)}});
  at(50, "used", {{"pack", q("C2")}, {"ah", "4"}, {"charge", "0.3"}});
  at(2000, "charged", {{"pack", q("C2")}, {"charge", "1"}});
  at(2010, "put_in", {{"pack", q("C2")}, {"holder", q("cup")}});
  const State state = fold(lines);
  const PackState& c2 = *state.pack("C2");
  ASSERT_EQ(c2.tests.size(), 1U);
  EXPECT_EQ(c2.tests[0].capacity, 0.8);
  EXPECT_TRUE(c2.field_days.empty());
  ASSERT_EQ(c2.turns.size(), 2U);
  EXPECT_TRUE(c2.turns[0].counted_by_day);
  EXPECT_FALSE(c2.turns[1].counted_by_day);
}

TEST(Fold, TheFixture) {
  std::ifstream file(std::string(TILLWRAP_SOURCE_DIR) + "/tests/journal/fixtures/format-1.jsonl");
  std::stringstream text;
  text << file.rdbuf();
  const State state = fold(parse_lines(text.str(), "format-1.jsonl"));
  ASSERT_EQ(state.packs.size(), 2U);
  const PackState& c2 = state.packs[0];
  EXPECT_EQ(c2.label, "C2");
  EXPECT_EQ(c2.kind, "smart-pack-14v4-98wh");
  EXPECT_EQ(c2.health, 0.97);
  EXPECT_EQ(c2.charge->fraction, 0.37);
  EXPECT_EQ(c2.charge->by, Event::taken_out);
  EXPECT_EQ(c2.charges, 1);
  EXPECT_EQ(moment_text(*c2.last_used), "2024-03-03T10:30:00+01:00");
  EXPECT_TRUE(c2.stays.back().holder.empty());
  EXPECT_FALSE(c2.retired);  // taken back
  ASSERT_EQ(c2.tests.size(), 1U);
  EXPECT_EQ(c2.tests[0].capacity_sd, 0.02);
  const PackState& c3 = state.packs[1];
  EXPECT_EQ(c3.charge->fraction, 0.22);
  EXPECT_EQ(c3.used_ah, 5.1);
  EXPECT_EQ(c3.retired_reason, "swollen");
  EXPECT_EQ(state.taken_back, 1U);
  EXPECT_TRUE(state.remarks.size() == state.counts.at(Remark::Kind::clock))
      << "only the fixture's ids, which lie early";
}

TEST(Fold, TakingBackIsTakenBack) {
  const Line charged = line_of(1, 0, "charged", {{"pack", q("C2")}, {"charge", "1"}});
  const Line back = line_of(2, 10, "taken_back", {{"of", q(charged.id)}});
  const Line back_again = line_of(3, 20, "taken_back", {{"of", q(back.id)}});
  EXPECT_TRUE(fold({charged, back}).packs.empty());
  EXPECT_EQ(fold({charged, back, back_again}).packs.at(0).charges, 1);
  // Two that take back each other, as only a file made by hand can: the later written one counts, whatever the order.
  const std::string later_id = id_of(kBegin_ms + 40000, 5);
  const Line early = line_of(4, 30, "taken_back", {{"of", q(later_id)}});
  const Line later = line_of(5, 40, "taken_back", {{"of", q(early.id)}});
  ASSERT_EQ(later.id, later_id);
  EXPECT_EQ(survey({early, later}).void_ids, std::set<std::string>{early.id});
  EXPECT_EQ(survey({later, early}).void_ids, std::set<std::string>{early.id});
  // What is not here (yet) is told.
  EXPECT_EQ(fold({back}).counts.at(Remark::Kind::taken_back_unknown), 1U);
}

TEST(Fold, ContradictionsAreTold) {
  const auto acquired = [](int n, const char* label) {
    return line_of(n, 0, "acquired", {{"pack", q(label)}, {"kind", q("k")}});
  };
  const auto told = [](std::vector<Line> lines) {
    const State state = fold(lines);
    return state.counts.contains(Remark::Kind::contradiction) ? state.remarks.at(0).text : std::string();
  };
  const Line c2 = acquired(1, "C2");
  const Line c3 = acquired(2, "C3");
  const Line in2 = line_of(3, 60, "put_in", {{"pack", q("C2")}, {"holder", q("cup")}});
  const Line in3 = line_of(4, 90, "put_in", {{"pack", q("C3")}, {"holder", q("cup")}});
  EXPECT_EQ(told({c2, c3, in2}), "");
  EXPECT_NE(told({c2, c3, in2, in3}).find("while C2 was in it"), std::string::npos);
  const Line elsewhere = line_of(5, 90, "put_in", {{"pack", q("C2")}, {"holder", q("plate")}});
  EXPECT_NE(told({c2, in2, elsewhere}).find("while it was in \"cup\""), std::string::npos);
  EXPECT_NE(told({in2}).find("never acquired"), std::string::npos);
  const Line gone = line_of(6, 30, "retired", {{"pack", q("C2")}});
  EXPECT_NE(told({c2, gone, in2}).find("yet it was retired"), std::string::npos);
  const Line again = line_of(7, 7200, "acquired", {{"pack", q("C2")}, {"kind", q("k")}});
  EXPECT_NE(told({c2, again}).find("acquired again"), std::string::npos);
  // A label used for a new pack once the old one is retired.
  EXPECT_EQ(told({c2, gone, again}), "");
  EXPECT_EQ(fold({c2, gone, again}).packs.size(), 2U);
  EXPECT_FALSE(fold({c2, gone, again}).pack("C2")->retired);
}

TEST(Fold, SameIdWithOtherContentIsToldAndBothAreKept) {
  const Line a = line_of(1, 0, "charged", {{"pack", q("C2")}, {"charge", "0.8"}});
  const Line b = line_of(1, 0, "charged", {{"pack", q("C2")}, {"charge", "0.9"}});
  ASSERT_EQ(a.id, b.id);
  EXPECT_EQ(united({a}, {b}).size(), 2U);
  for (const auto& lines : {std::vector<Line>{a, b}, std::vector<Line>{b, a}, std::vector<Line>{b, a, b}}) {
    const State state = fold(lines);
    EXPECT_EQ(state.packs.at(0).charge->fraction, 0.8);
    EXPECT_EQ(state.counts.at(Remark::Kind::same_id), 1U);
  }
  // The same line twice is one.
  EXPECT_EQ(united({a, a}, {a}).size(), 1U);
  EXPECT_EQ(fold({a, a}).packs.at(0).charges, 1);
}

TEST(Fold, TheSameFactTwiceIsTold) {
  const auto used = [](int n, std::int64_t at_s, const char* ah) {
    return line_of(n, at_s, "used", {{"pack", q("C2")}, {"ah", ah}});
  };
  const auto twice = [](std::vector<Line> lines) {
    const State state = fold(lines);
    return state.counts.contains(Remark::Kind::told_twice) ? state.counts.at(Remark::Kind::told_twice) : 0U;
  };
  EXPECT_EQ(twice({used(1, 0, "5.2"), used(2, 120, "5.2")}), 1U);
  EXPECT_EQ(twice({used(1, 0, "5.2"), used(2, 120, "5.1")}), 0U);
  EXPECT_EQ(twice({used(1, 0, "5.2"), used(2, 7200, "5.2")}), 0U);
  EXPECT_EQ(twice({used(1, 0, "5.2"), used(1, 0, "5.2")}), 0U);  // one line, merged twice
  // By two devices: which.
  const State merged =
      fold({used(1, 0, "5.2"), line_of(2, 60, "used", {{"pack", q("C2")}, {"ah", "5.2"}}, -1, "laptop")});
  bool told = false;
  for (const Remark& remark : merged.remarks)
    told = told || remark.text.find("by \"phone\", this by \"laptop\"") != std::string::npos;
  EXPECT_TRUE(told);
}

TEST(Clock, JumpsAreTold) {
  const auto jumps = [](std::vector<Line> lines) {
    ClockCheck check((kBegin_ms / 1000 + 86400) * kSecond_us);
    for (const Line& line : lines) check.add(line);
    return check.count();
  };
  const auto late = [](int n, std::int64_t at_s, std::int64_t written_s, const char* by) {
    return line_of(n, at_s, "late", {{"minutes", "5"}}, written_s, by);
  };
  EXPECT_EQ(jumps({late(1, 0, 0, "phone"), late(2, 100, 100, "phone")}), 0U);
  EXPECT_EQ(jumps({late(1, 7200, 7200, "phone"), late(2, 100, 100, "phone")}), 1U);
  // Another device's lines, and an entry made afterwards.
  EXPECT_EQ(jumps({late(1, 7200, 7200, "phone"), late(2, 100, 100, "laptop")}), 0U);
  EXPECT_EQ(jumps({late(1, 7200, 7200, "phone"), late(2, 100, 7300, "phone")}), 0U);
  // Sorted by when it was so, as exports are.
  EXPECT_EQ(jumps({late(2, 100, 7300, "phone"), late(1, 7200, 7200, "phone")}), 0U);
  // Written two days from now.
  EXPECT_EQ(jumps({late(1, 0, 3 * 86400, "phone")}), 1U);
  // Told before it was so: the fold says it.
  EXPECT_EQ(fold({late(1, 7200, 0, "phone")}).counts.at(Remark::Kind::clock), 1U);
}

// ---- laws

rc::Gen<Line> any_line() {
  return rc::gen::exec([] {
    const int n = *rc::gen::inRange(0, 40);  // few ids, so that some are shared
    const std::int64_t at_s = 60 * *rc::gen::inRange(0, 12);
    const std::string pack = *rc::gen::element<std::string>("C1", "C2", "C3");
    const std::string holder = *rc::gen::element<std::string>("cup", "plate");
    const std::string charge = fmt::format("{}", *rc::gen::inRange(0, 101) / 100.0);
    switch (*rc::gen::inRange(0, 10)) {
      case 0:
        return line_of(n, at_s, "acquired", {{"pack", q(pack)}, {"kind", q("k" + holder)}});
      case 1:
        return line_of(n, at_s, "charged", {{"pack", q(pack)}, {"charge", charge}});
      case 2:
        return line_of(n, at_s, "rested", {{"pack", q(pack)}, {"place", q("van")}, {"temperature", q("4 °C")}});
      case 3:
        return line_of(n, at_s, "put_in", {{"pack", q(pack)}, {"holder", q(holder)}});
      case 4:
        return line_of(n, at_s, "taken_out", {{"pack", q(pack)}, {"charge", charge}});
      case 5:
        return line_of(n, at_s, "used", {{"pack", q(pack)}, {"ah", "1.5"}});
      case 6:
        return line_of(n, at_s, "tested",
                       {{"pack", q(pack)}, {"capacity", charge == "0" ? "0.5" : "0.9"}, {"resistance", "1.2"}});
      case 7:
        return line_of(n, at_s, "retired", {{"pack", q(pack)}});
      case 8:
        return line_of(n, at_s, "reading", {{"point", q("gauge")}, {"of", q(pack)}, {"value", charge}});
      default: {
        const int target = *rc::gen::inRange(0, 40);
        const std::int64_t target_s = 60 * *rc::gen::inRange(0, 12);
        const std::string of = id_of(kBegin_ms + 1000 * target_s, target == n ? 41 : target);
        return line_of(n, at_s, "taken_back", {{"of", q(of)}});
      }
    }
  });
}

std::string printed(const State& state) {
  std::string out = std::to_string(state.lines) + " " + std::to_string(state.taken_back) + "\n";
  for (const PackState& p : state.packs) {
    out += p.label + "|" + p.kind + "|" + std::to_string(p.charges) + "|" + fmt::format("{}", p.used_ah) + "|";
    if (p.charge)
      out += fmt::format("{}", p.charge->fraction) + "@" + std::to_string(p.charge->at_us) + "-" +
             fmt::format("{}", p.charge->drawn_ah);
    for (const Stay& stay : p.stays) out += "|" + std::to_string(stay.since_us) + stay.place + "/" + stay.holder;
    for (const Test& test : p.tests) out += "|t" + std::to_string(test.at_us) + fmt::format("{}", test.capacity);
    out += p.retired ? "|retired " + moment_text(*p.retired) : "";
    out += "\n";
  }
  for (const Remark& remark : state.remarks) out += remark.id + " " + remark.text + "\n";
  return out;
}

std::string texts(const std::vector<Line>& lines) {
  std::string out;
  for (const Line& line : lines) out += line.text + "\n";
  return out;
}

RC_GTEST_PROP(Union, IdempotentCommutativeAssociative, ()) {
  const auto lines = rc::gen::container<std::vector<Line>>(any_line());
  const std::vector<Line> a = united(*lines, {});
  const std::vector<Line> b = united(*lines, {});
  const std::vector<Line> c = united(*lines, {});
  RC_ASSERT(texts(united(a, a)) == texts(a));
  RC_ASSERT(texts(united(a, b)) == texts(united(b, a)));
  RC_ASSERT(texts(united(united(a, b), c)) == texts(united(a, united(b, c))));
  // Nothing is lost.
  const std::string all = texts(united(a, b));
  for (const Line& line : a) RC_ASSERT(all.find(line.text + "\n") != std::string::npos);
}

RC_GTEST_PROP(Fold, AnyInterleavingGivesTheSameState, ()) {
  std::vector<Line> lines = *rc::gen::container<std::vector<Line>>(any_line());
  const std::string expected = printed(fold(lines));
  // Another order, some lines twice, taken together in two parts.
  std::vector<Line> shuffled = lines;
  for (std::size_t k = shuffled.size(); k > 1; --k)
    std::swap(shuffled[k - 1], shuffled[static_cast<std::size_t>(*rc::gen::inRange(0, static_cast<int>(k)))]);
  const auto cut = static_cast<std::ptrdiff_t>(*rc::gen::inRange(0, static_cast<int>(lines.size()) + 1));
  const std::vector<Line> phone(shuffled.begin(), shuffled.begin() + cut);
  std::vector<Line> laptop(shuffled.begin() + cut, shuffled.end());
  laptop.insert(laptop.end(), phone.begin(), phone.begin() + cut / 2);
  RC_ASSERT(printed(fold(united(phone, laptop))) == expected);
  RC_ASSERT(printed(fold(united(laptop, phone))) == expected);
}

}  // namespace
}  // namespace tillwrap::journal
