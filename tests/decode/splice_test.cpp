// Where a value ends in TOML (toml.io v1.0.0) and JSON (RFC 8259), and values replaced in place.
#include "decode/splice.hpp"

#include <gtest/gtest.h>

namespace {

using namespace tillwrap::decode;

std::string value_at(std::string_view text, std::string_view before) {
  const std::size_t begin = text.find(before) + before.size();
  return std::string(text.substr(begin, value_end(text, begin) - begin));
}

TEST(Splice, ValuesEndWhereTheFormatEndsThem) {
  EXPECT_EQ(value_at("a = [1, 2] # so\n", "a = "), "[1, 2]");
  EXPECT_EQ(value_at("a = 12 # so\nb = 3", "a = "), "12");
  EXPECT_EQ(value_at("a = true\r\nb = 3", "a = "), "true");
  EXPECT_EQ(value_at("t = { k = 'x]}', l = 2 }", "k = "), "'x]}'");
  EXPECT_EQ(value_at("t = { k = 'x]}', l = 2 }", "t = "), "{ k = 'x]}', l = 2 }");
  EXPECT_EQ(value_at("t = { k = 2 }", "k = "), "2");
  EXPECT_EQ(value_at(R"(a = "b\"]", c)", "a = "), R"("b\"]")");
  EXPECT_EQ(value_at(R"(a = 'b\' # c')", "a = "), R"('b\')");  // no escapes in a literal string
  EXPECT_EQ(value_at("a = \"\"\"x\n\"] y\"\"\"\" # c", "a = "), "\"\"\"x\n\"] y\"\"\"\"");
  EXPECT_EQ(value_at("a = [\n  \"x\", # ] not yet\n  [2],\n]\nb = 1", "a = "), "[\n  \"x\", # ] not yet\n  [2],\n]");
  EXPECT_EQ(value_at("{\"a\":[{\"b\":\"]\"}],\"c\":1}", "\"a\":"), "[{\"b\":\"]\"}]");
  EXPECT_EQ(value_at("{\"a\":null}", "\"a\":"), "null");
}

// The readers say where each value begins; what stands between there and its end reads as the same value.
TEST(Splice, PlacesOfTheReadersAreFoundAgain) {
  const std::string text =
      "\xEF\xBB\xBF# \xC3\xA9\n\"t\xC3\xAFtle\" = [ \"\xC2\xB5\", 2 ] # x\n[[p]]\nl = { q = [3] }\n";
  const Document d = read_toml(text, "day.toml");
  const std::size_t list = offset_of(text, d.root.children[0].place);
  EXPECT_EQ(text.substr(list, value_end(text, list) - list), "[ \"\xC2\xB5\", 2 ]");
  const Node& q = *d.root.find("p")->children[0].find("l")->find("q");
  EXPECT_EQ(text[offset_of(text, d.root.find("p")->children[0].place)], '[');
  const std::size_t inner = offset_of(text, q.place);
  EXPECT_EQ(text.substr(inner, value_end(text, inner) - inner), "[3]");

  const std::string json = "{\n \"\xC2\xB5\": {\"a\": \"x\", \"b\": [1,\n {}]}}";
  const Document j = read_json(json, "day.json");
  const std::size_t b = offset_of(json, j.root.children[0].find("b")->place);
  EXPECT_EQ(json.substr(b, value_end(json, b) - b), "[1,\n {}]");
}

TEST(Splice, ReplacesAndInsertsInAnyOrder) {
  EXPECT_EQ(spliced("a = 1, b = 2", {{11, 12, "30"}, {4, 5, "x"}, {5, 5, "!"}}), "a = x!, b = 30");
  EXPECT_EQ(spliced("abc", {}), "abc");
}

}  // namespace
