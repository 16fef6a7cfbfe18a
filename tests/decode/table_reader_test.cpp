// Each complaint of the table reader: its place, what is wrong, what is allowed.
#include "decode/table_reader.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <string>

namespace {

using namespace tillwrap::decode;
using D = Dimension;

std::string complaint(const std::string& text, const std::function<void(TableReader&)>& read) {
  const Document d = read_toml(text, "kit.toml");
  TableReader reader(d, d.root, "cable \"r\"");
  try {
    read(reader);
  } catch (const InputError& error) {
    return error.what();
  }
  return "no complaint";
}

TEST(TableReader, ReadsEveryKind) {
  const Document d = read_toml(
      "name = \"r\"\non = true\ncount = 3\nratio = 2\nlength = \"50 cm\"\nload_w = 8\nwire = \"AWG 22\"\n"
      "draw = \"1.2 A at 12 V\"\nnames = [\"a\", \"b\"]\nnumbers = [1, 2.5]\nat = 07:10:00\nsince = \"06:15\"\n"
      "share = 0.5\ntwice = \"2 ×\"\nmeasured = \"22 W\"\n[sub]\nx = 1\n[[item]]\nx = 1\n[[item]]\nx = 2\n",
      "kit.toml");
  TableReader r(d, d.root, "cable");
  EXPECT_EQ(r.text("name"), "r");
  EXPECT_TRUE(r.boolean("on"));
  EXPECT_EQ(r.integer("count", 1, 9), 3);
  EXPECT_EQ(r.number("ratio"), 2.0);
  EXPECT_EQ(r.quantity("length", D::length), 0.5);
  EXPECT_EQ(r.quantity("load", D::power), 8.0);
  EXPECT_EQ(r.wire_size("wire").awg, 22);
  EXPECT_DOUBLE_EQ(r.draw("draw").value, 14.4);
  EXPECT_EQ(r.texts("names").size(), 2U);
  EXPECT_EQ(r.numbers("numbers")[1], 2.5);
  EXPECT_EQ(r.quantity("at", D::clock), 25800.0);
  EXPECT_EQ(r.quantity("since", D::clock), 22500.0);
  EXPECT_EQ(r.quantity("share", D::fraction), 0.5);
  EXPECT_EQ(r.quantity("twice", D::factor), 2.0);
  EXPECT_EQ(r.readings("measured").front().watts_w, 22.0);
  TableReader sub = r.table("sub");
  EXPECT_EQ(sub.integer("x", 0, 9), 1);
  sub.finish();
  auto items = r.tables("item");
  ASSERT_EQ(items.size(), 2U);
  EXPECT_EQ(items[1].integer("x", 0, 9), 2);
  EXPECT_EQ(items[1].what(), "item 2");
  EXPECT_FALSE(r.maybe_text("nothing"));
  EXPECT_FALSE(r.maybe_quantity("nothing", D::length));
  EXPECT_EQ(r.quantity_or("nothing", D::length, 1.5), 1.5);
  EXPECT_EQ(r.text_or("nothing", "x"), "x");
  EXPECT_TRUE(r.boolean_or("nothing", true));
  EXPECT_EQ(r.integer_or("nothing", 0, 9, 4), 4);
  EXPECT_TRUE(r.tables("nothing").empty());
  EXPECT_TRUE(r.has("length"));
  EXPECT_TRUE(r.has("load"));
  EXPECT_FALSE(r.has("loa"));
  EXPECT_NO_THROW(r.finish());
}

TEST(TableReader, KeysThatCarryTheirUnit) {
  const Document d =
      read_toml("length_cm = 40\nambient_f = 28\nrated_ah = 6.8\nat_s = 90\nshare_percent = 30\nidle_ma = 5\n", "f");
  TableReader r(d, d.root, "it");
  EXPECT_DOUBLE_EQ(r.quantity("length", D::length), 0.4);
  EXPECT_NEAR(r.quantity("ambient", D::temperature), 270.927778, 1e-6);
  EXPECT_DOUBLE_EQ(r.quantity("rated_ah", D::charge), 24480.0);
  EXPECT_DOUBLE_EQ(r.quantity("at", D::clock), 90.0);
  EXPECT_DOUBLE_EQ(r.quantity("share", D::fraction), 0.3);
  EXPECT_DOUBLE_EQ(r.quantity("idle", D::current), 0.005);
  EXPECT_NO_THROW(r.finish());
}

TEST(TableReader, MissingKey) {
  EXPECT_EQ(complaint("a = 1\n", [](TableReader& r) { r.text("plug"); }),
            "kit.toml:1:1: cable \"r\" has no key \"plug\"; add plug = \"...\"");
  EXPECT_EQ(complaint("a = 1\n", [](TableReader& r) { r.quantity("length", D::length); }),
            "kit.toml:1:1: cable \"r\" has no key \"length\"; add length = a length in quotes (m, cm, mm, ft, in)");
  // A misspelt required key is pointed at where it stands.
  EXPECT_EQ(complaint("a = 1\n  lenght = \"1 m\"\n", [](TableReader& r) { r.quantity("length", D::length); }),
            "kit.toml:2:3: cable \"r\" has no key \"length\" but an unknown key \"lenght\"; did you mean \"length\"?");
}

TEST(TableReader, UnknownKeyWithTheNearestKnown) {
  EXPECT_EQ(complaint("plug = \"x\"\nplgu = \"y\"\n",
                      [](TableReader& r) {
                        r.text("plug");
                        r.finish();
                      }),
            "kit.toml:2:1: cable \"r\" has an unknown key \"plgu\"; did you mean \"plug\"?");
  EXPECT_EQ(complaint("zzz = 1\n",
                      [](TableReader& r) {
                        r.maybe_text("plug");
                        r.allow("wire");
                        r.finish();
                      }),
            "kit.toml:1:1: cable \"r\" has an unknown key \"zzz\"; known keys: plug, wire");
}

TEST(TableReader, WrongKind) {
  EXPECT_EQ(complaint("plug = 3\n", [](TableReader& r) { r.text("plug"); }),
            "kit.toml:1:8: cable \"r\": \"plug\" is a whole number; write text in quotes");
  EXPECT_EQ(complaint("on = \"yes\"\n", [](TableReader& r) { r.boolean("on"); }),
            "kit.toml:1:6: cable \"r\": \"on\" is text; write true or false");
  EXPECT_EQ(complaint("n = 1.5\n", [](TableReader& r) { r.integer("n", 0, 9); }),
            "kit.toml:1:5: cable \"r\": \"n\" is a number; write a whole number");
  EXPECT_EQ(complaint("length = [1]\n", [](TableReader& r) { r.quantity("length", D::length); }),
            "kit.toml:1:10: cable \"r\": \"length\" is a list; write length in quotes; allowed: m, cm, mm, ft, in");
  EXPECT_EQ(complaint("device = 1\n", [](TableReader& r) { r.tables("device"); }),
            "kit.toml:1:10: cable \"r\": \"device\" is a whole number; write a list of tables: [[device]]");
  EXPECT_EQ(complaint("device = [1]\n", [](TableReader& r) { r.tables("device"); }),
            "kit.toml:1:11: device 1 is a whole number; write a table: { ... }");
  EXPECT_EQ(complaint("names = [\"a\", 2]\n", [](TableReader& r) { r.texts("names"); }),
            "kit.toml:1:15: cable \"r\": \"names\" is a whole number; write a list of text: [\"...\", \"...\"]");
}

TEST(TableReader, UnitsAndRanges) {
  EXPECT_EQ(complaint("length = \"5 W\"\n", [](TableReader& r) { r.quantity("length", D::length); }),
            "kit.toml:1:10: cable \"r\": \"length\": length in W: \"5 W\" is a power; allowed: m, cm, mm, ft, in");
  EXPECT_EQ(complaint("length = 5\n", [](TableReader& r) { r.quantity("length", D::length); }),
            "kit.toml:1:10: cable \"r\": \"length\" is a number without a unit; write it with its unit, in quotes; "
            "allowed: m, cm, mm, ft, in; or name the key length_m");
  EXPECT_EQ(complaint("length = \"-1 m\"\n", [](TableReader& r) { r.quantity("length", D::length, {.above = 0.0}); }),
            "kit.toml:1:10: cable \"r\": \"length\" is -1 m; allowed: more than 0 m");
  EXPECT_EQ(complaint("air = \"90 °C\"\n",
                      [](TableReader& r) { r.quantity("air", D::temperature, {.least = 213.15, .most = 343.15}); }),
            "kit.toml:1:7: cable \"r\": \"air\" is 90 °C; allowed: -60 °C to 70 °C");
  EXPECT_EQ(complaint("share = 30\n", [](TableReader& r) { r.quantity("share", D::fraction); }),
            "kit.toml:1:9: cable \"r\": \"share\" is 30; write \"30 %\" with quotes, or a fraction from 0 to 1");
  EXPECT_EQ(complaint("n = 12\n", [](TableReader& r) { r.integer("n", 1, 9); }),
            "kit.toml:1:5: cable \"r\": \"n\" is 12; allowed: 1 to 9");
  EXPECT_EQ(complaint("k = 0.0\n", [](TableReader& r) { r.number("k", {.above = 0.0, .below = 1.0}); }),
            "kit.toml:1:5: cable \"r\": \"k\" is 0; allowed: more than 0 and less than 1");
  EXPECT_EQ(complaint("length = \"1 m\"\nlength_m = 2\n", [](TableReader& r) { r.quantity("length", D::length); }),
            "kit.toml:2:1: cable \"r\" has both \"length\" and \"length_m\"; keep one of them");
  EXPECT_EQ(complaint("draw = \"-3 W\"\n", [](TableReader& r) { r.draw("draw"); }),
            "kit.toml:1:8: cable \"r\": \"draw\" is negative; a draw is 0 or more");
  EXPECT_EQ(complaint("plug = \"barel\"\n",
                      [](TableReader& r) {
                        r.one_of("plug", {"barrel", "xlr"});
                      }),
            "kit.toml:1:8: cable \"r\": \"plug\" is \"barel\"; did you mean \"barrel\"? allowed: barrel, xlr");
  EXPECT_EQ(complaint("wire = \"22\"\n", [](TableReader& r) { r.wire_size("wire"); }),
            "kit.toml:1:8: cable \"r\": \"wire\": \"22\" has no unit; allowed: \"AWG 22\", \"0.5 mm²\"");
  EXPECT_EQ(complaint("call = \"7.10\"\n", [](TableReader& r) { r.quantity("call", D::clock); }),
            "kit.toml:1:8: cable \"r\": \"call\": \"7.10\" is no clock time; allowed: \"07:10\", \"25:30\" (past "
            "midnight), \"1:05 pm\"");
}

TEST(TableReader, JsonReadsTheSame) {
  const Document d = read_json("{\"length\": \"50 cm\",\n \"load_w\": 8.5, \"plgu\": 1}", "kit.json");
  TableReader r(d, d.root, "cable");
  EXPECT_EQ(r.quantity("length", D::length), 0.5);
  EXPECT_EQ(r.quantity("load", D::power), 8.5);
  r.maybe_text("plug");
  try {
    r.finish();
    FAIL();
  } catch (const InputError& error) {
    EXPECT_STREQ(error.what(), "kit.json:2:17: cable has an unknown key \"plgu\"; did you mean \"plug\"?");
  }
}

}  // namespace
