// TOML (toml.io v1.0.0) and JSON (RFC 8259) into one tree: values, order, and the place of every complaint.
#include "decode/node.hpp"

#include <gtest/gtest.h>

#include <string>

namespace {

using namespace tillwrap::decode;

std::string complaint(Document (*read)(std::string_view, std::string), std::string_view text) {
  try {
    read(text, "day.toml");
  } catch (const InputError& error) {
    EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos);
    return error.what();
  }
  return "no complaint";
}

// True when the message starts with the place.
::testing::AssertionResult points_at(const std::string& message, const std::string& place) {
  if (message.starts_with("day.toml:" + place + ": ")) return ::testing::AssertionSuccess();
  return ::testing::AssertionFailure() << message;
}

TEST(Node, TomlValuesWithTheirPlaces) {
  const Document d = read_toml(
      "title = \"µ\"\n"
      "  count = 3\n"
      "ratio = 0.5\n"
      "on = true\n"
      "call = 07:10:00\n"
      "day = 2026-11-25\n"
      "list = [1, \"a\"]\n"
      "[kit]\n"
      "pack.label = \"C1\"\n"
      "[[device]]\n"
      "name = \"r\"\n",
      "day.toml");
  ASSERT_EQ(d.root.children.size(), 9U);
  EXPECT_EQ(d.root.children[0].key, "title");
  EXPECT_EQ(d.root.children[0].kind, Kind::text);
  EXPECT_EQ(d.root.children[0].text, "µ");
  const Node& count = *d.root.find("count");
  EXPECT_EQ(count.kind, Kind::integer);
  EXPECT_EQ(count.integer, 3);
  EXPECT_EQ(count.key_place, (Place{2, 3}));
  EXPECT_EQ(count.place, (Place{2, 11}));
  EXPECT_EQ(d.root.find("ratio")->kind, Kind::number);
  EXPECT_TRUE(d.root.find("on")->boolean);
  EXPECT_EQ(d.root.find("call")->kind, Kind::time);
  EXPECT_DOUBLE_EQ(d.root.find("call")->number, 7 * 3600.0 + 600.0);
  EXPECT_EQ(d.root.find("day")->kind, Kind::date);
  EXPECT_EQ(d.root.find("day")->text, "2026-11-25");
  const Node& list = *d.root.find("list");
  ASSERT_EQ(list.children.size(), 2U);
  EXPECT_EQ(list.children[1].place, (Place{7, 12}));
  EXPECT_EQ(d.root.find("kit")->find("pack")->find("label")->text, "C1");
  EXPECT_EQ(d.root.find("device")->children.front().find("name")->place, (Place{11, 8}));
}

TEST(Node, KeysKeepTheOrderWritten) {
  const Document t = read_toml("zebra = 1\nant = 2\nmole = 3\n", "day.toml");
  EXPECT_EQ(t.root.children[0].key, "zebra");
  EXPECT_EQ(t.root.children[2].key, "mole");
  const Document j = read_json(R"({"zebra": 1, "ant": 2, "mole": 3})", "day.toml");
  EXPECT_EQ(j.root.children[0].key, "zebra");
  EXPECT_EQ(j.root.children[2].key, "mole");
}

TEST(Node, JsonValuesWithTheirPlaces) {
  const Document d = read_json(
      "{\n"
      "  \"n\": 12 ,\n"
      "  \"x\": 1.5,\n"
      "  \"t\": \"ä:,}\", \"u\": \"z\",\n"
      "  \"list\": [[1,2],[ 3 ],{\"k\":true}],\n"
      "  \"end\":18446744073709551615}\n",
      "day.toml");
  EXPECT_EQ(d.root.place, (Place{1, 1}));
  EXPECT_EQ(d.root.find("n")->key_place, (Place{2, 3}));
  EXPECT_EQ(d.root.find("n")->place, (Place{2, 8}));
  EXPECT_EQ(d.root.find("n")->integer, 12);
  EXPECT_EQ(d.root.find("x")->place, (Place{3, 8}));
  EXPECT_EQ(d.root.find("u")->key_place, (Place{4, 16}));
  EXPECT_EQ(d.root.find("u")->place, (Place{4, 21}));
  const Node& list = *d.root.find("list");
  ASSERT_EQ(list.children.size(), 3U);
  EXPECT_EQ(list.children[0].place, (Place{5, 12}));
  EXPECT_EQ(list.children[0].children[1].place, (Place{5, 15}));
  EXPECT_EQ(list.children[1].place, (Place{5, 18}));
  EXPECT_EQ(list.children[1].children[0].place, (Place{5, 20}));
  EXPECT_EQ(list.children[2].find("k")->place, (Place{5, 29}));
  EXPECT_EQ(d.root.find("end")->kind, Kind::number);
  EXPECT_EQ(d.root.find("end")->place, (Place{6, 9}));
}

TEST(Node, BothFormsGiveTheSameTree) {
  const Document t = read_toml("a = 1\nb = [true, \"x\"]\n[c]\nd = 2.5\n", "f");
  const Document j = read_json(R"({"a": 1, "b": [true, "x"], "c": {"d": 2.5}})", "f");
  ASSERT_EQ(t.root.children.size(), j.root.children.size());
  EXPECT_EQ(t.root.find("a")->integer, j.root.find("a")->integer);
  EXPECT_EQ(t.root.find("b")->children[1].text, j.root.find("b")->children[1].text);
  EXPECT_EQ(t.root.find("c")->find("d")->number, j.root.find("c")->find("d")->number);
}

TEST(Node, BadTomlIsPointedAt) {
  EXPECT_TRUE(points_at(complaint(read_toml, "a = 1\nb = = 2\n"), "2:5"));
  EXPECT_TRUE(points_at(complaint(read_toml, "a = 1\na = 2\n"), "2:5"));
  EXPECT_TRUE(points_at(complaint(read_toml, "a = nan\n"), "1:5"));
  EXPECT_TRUE(points_at(complaint(read_toml, "a = 1\n\nb = [1, -inf]\n"), "3:9"));
  EXPECT_TRUE(points_at(complaint(read_toml, "call = 07:10\n"), "1:13"));
  EXPECT_NE(complaint(read_toml, "call = 07:10 h\n").find("call = \"07:00\""), std::string::npos);
  EXPECT_TRUE(points_at(complaint(read_toml, "a = 99999999999999999999\n"), "1:25"));
}

TEST(Node, BadJsonIsPointedAt) {
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\": 1,\n \"b\": tru}"), "2:7"));
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\": 1\n"), "2:1"));
  EXPECT_TRUE(points_at(complaint(read_json, "[1]"), "1:1"));
  EXPECT_TRUE(points_at(complaint(read_json, "17"), "1:1"));
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\": null}"), "1:7"));
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\": 1,\n \"c\": 2, \"a\": 3}"), "2:10"));
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\": 1e999}"), "1:7"));
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\": NaN}"), "1:7"));
  EXPECT_TRUE(points_at(complaint(read_json, "{} {}"), "1:4"));
  EXPECT_NE(complaint(read_json, ""), "no complaint");
}

TEST(Node, Utf8AndTheByteOrderMark) {
  EXPECT_EQ(read_toml("\xEF\xBB\xBFname = \"x\"\n", "f").root.find("name")->place, (Place{1, 8}));
  EXPECT_EQ(read_json("\xEF\xBB\xBF{\"name\": \"x\"}", "f").root.find("name")->place, (Place{1, 10}));
  EXPECT_TRUE(points_at(complaint(read_toml, "a = \"é\xFF\"\n"), "1:7"));
  EXPECT_TRUE(points_at(complaint(read_json, "{\"a\":\n \"\xC3(\"}"), "2:3"));
  // RFC 3629: overlong forms, surrogates and code points beyond U+10FFFF are not UTF-8.
  for (const char* bad : {"\xC0\xAF", "\xE0\x80\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xE2\x82", "\x80"}) {
    EXPECT_TRUE(points_at(complaint(read_toml, "a = '" + std::string(bad) + "'\n"), "1:6")) << bad;
  }
  EXPECT_EQ(read_toml("a = '\xF4\x8F\xBF\xBF'\n", "f").root.children.size(), 1U);
}

TEST(Node, LettersBeyondAsciiOutsideQuotes) {
  // TOML 1.0: a bare key is ASCII. Each of these once reached undefined behaviour inside the parser.
  EXPECT_TRUE(points_at(complaint(read_toml, "é = 1\n"), "1:1"));
  EXPECT_TRUE(points_at(complaint(read_toml, "a = 1 ñ\n"), "1:7"));
  EXPECT_NE(complaint(read_toml, "a = é\n"), "no complaint");
  EXPECT_TRUE(points_at(complaint(read_toml, "[ .\n"), "1:3"));
  EXPECT_EQ(read_toml("a = \"\"\"x\\\n  é\"\"\"\n", "f").root.find("a")->text, "xé");
  EXPECT_EQ(read_toml("\"é\" = 1 # é\n", "f").root.find("é")->integer, 1);
}

TEST(Node, TooMuchIsRefusedBeforeItHurts) {
  const std::string big(kMaxTextBytes + 1, ' ');
  EXPECT_TRUE(points_at(complaint(read_toml, big), "1:1"));
  EXPECT_NE(complaint(read_json, big).find("4 MB"), std::string::npos);
  EXPECT_NO_THROW(read_toml(std::string(kMaxTextBytes, '\n'), "f"));

  const std::string deep = "a = " + std::string(100000, '[');
  EXPECT_TRUE(points_at(complaint(read_toml, deep), "1:69"));
  EXPECT_NE(complaint(read_toml, deep).find("64 levels"), std::string::npos);
  EXPECT_NE(complaint(read_json, "{\"a\": " + std::string(100000, '[')).find("64 levels"), std::string::npos);
  std::string objects;
  for (int i = 0; i < 100000; ++i) objects += "{\"a\":";
  EXPECT_NE(complaint(read_json, objects).find("64 levels"), std::string::npos);
  std::string dotted = "a";
  for (int i = 0; i < 100000; ++i) dotted += ". a";
  EXPECT_NE(complaint(read_toml, dotted + " = 1\n").find("64 levels"), std::string::npos);
  EXPECT_NE(complaint(read_toml, "[" + dotted + "]\n").find("64 levels"), std::string::npos);
  std::string quoted = "\"a\"";
  for (int i = 0; i < 100000; ++i) quoted += ".'a'";
  EXPECT_NE(complaint(read_toml, quoted + " = 1\n").find("64 levels"), std::string::npos);
}

// Examples of TOML 1.0.0 (toml.io), "Offset Date-Time" to "Local Time": what is read is what was written.
TEST(Node, TomlDatesAndTimesKeepTheirText) {
  for (const std::string written :
       {"1979-05-27T07:32:00Z", "1979-05-27T00:32:00-07:00", "1979-05-27T00:32:00.999999-07:00", "1979-05-27T07:32:00",
        "1979-05-27T00:32:00.999999", "1979-05-27", "07:32:00", "00:32:00.999999"}) {
    EXPECT_EQ(read_toml("at = " + written + "\n", "f").root.find("at")->text, written);
  }
}

TEST(Node, NumbersNoDoubleHoldsAreRefused) {
  EXPECT_TRUE(points_at(complaint(read_toml, "a = 1\nb = 1e400\n"), "2:10"));
  EXPECT_DOUBLE_EQ(read_toml("a = 1.7976931348623157e308\n", "f").root.find("a")->number, 1.7976931348623157e308);
}

TEST(Node, AllowedDepthAndDotsInTextAreFine) {
  std::string nested = "a = " + std::string(60, '[') + std::string(60, ']') + "\n";
  EXPECT_NO_THROW(read_toml(nested, "f"));
  EXPECT_NO_THROW(read_json("{\"a\": " + std::string(60, '[') + std::string(60, ']') + "}", "f"));
  const std::string dots(500, '.');
  EXPECT_NO_THROW(read_toml("a = \"" + dots + "\" # " + dots + "\nb = '''\n" + dots + "[[[\n'''\n", "f"));
  std::string many;
  for (int i = 0; i < 200; ++i) many += "k" + std::to_string(i) + " = [1.5, 2.5]\n";
  EXPECT_NO_THROW(read_toml(many, "f"));
}

TEST(Node, MessagesStayOnOneLine) {
  const std::string message = complaint(read_json, "{\"a\nb\": 1}");
  EXPECT_EQ(message.find('\n'), std::string::npos);
  const InputError error("f", {1, 2}, "a\nb\x1b[31m", "c\rd");
  EXPECT_EQ(std::string(error.what()), "f:1:2: a b [31m; c d");
}

}  // namespace
