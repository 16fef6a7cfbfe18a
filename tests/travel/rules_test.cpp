// Worked cases of 49 CFR 175.10(a)(18) (US regulation, wording from memory; the 100-160 Wh clause was read) and of
// addendum 1 to the ICAO Technical Instructions 2025-2026 (secondary source).
#include <gtest/gtest.h>

#include "app/travel_report.hpp"
#include "decode/node.hpp"
#include "travel/travel.hpp"

namespace tillwrap::travel {
namespace {

using catalogue::TravelClass;
using Goes = catalogue::TravelRule::Goes;

const catalogue::TravelRule* rule(const Battery& battery, const std::string& date = "2026-11-25") {
  return rule_for(catalogue::builtin().travel_rules, date, battery);
}

app::DayFile day(const std::string& packs) {
  const std::string text = R"(format = 1
[day]
call = "08:00"
wrap = "18:00"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
packs = ["first"]
[[pack]]
label = "first"
kind = "smart-pack-14v4-98wh"
travels = "stays"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
[[wire]]
from = "cup"
to = "recorder"
length = "1 m"
[[period]]
name = "scene"
from = "08:00"
air = "20 °C"
)" + packs;
  return app::read_day(decode::read_toml(text, "day.toml"), catalogue::builtin());
}

Answer ask(const std::string& packs, int travellers = 1, const std::string& date = "2026-11-25") {
  const app::DayFile file = day(packs);
  return app::travel_answer(file, catalogue::builtin(), date, travellers);
}

std::string packs(const std::string& kind, int count, const std::string& more = "") {
  std::string labels;
  for (int i = 0; i < count; ++i) labels += (i > 0 ? ", \"" : "\"") + kind + " " + std::to_string(i) + "\"";
  return "[[pack]]\nlabels = [" + labels + "]\nkind = \"" + kind + "\"\n" + more + "\n";
}

int count_of(const Reading& reading, const std::string& limit) {
  for (const Tally& tally : reading.tallies) {
    if (tally.limit->id == limit) return tally.count;
  }
  return -1;
}

// (a)(18)(ii): to 100 Wh; over 100 to 160 with approval; nothing larger.
TEST(TravelRules, LithiumIonAtItsBoundaries) {
  const auto ion = [](double wh, bool in_device) {
    return rule({.kind = TravelClass::Kind::lithium_ion, .in_device = in_device, .rated_wh = wh, .volts = 14.4});
  };
  EXPECT_EQ(ion(100.0, false)->goes, Goes::cabin);
  EXPECT_FALSE(ion(100.0, false)->approval);
  EXPECT_EQ(ion(14.4 * (100.0 / 14.4), false), ion(100.0, false));
  EXPECT_TRUE(ion(100.1, false)->approval);
  EXPECT_EQ(ion(100.1, false)->goes, Goes::cabin);
  EXPECT_TRUE(ion(160.0, false)->approval);
  EXPECT_EQ(ion(160.1, false)->goes, Goes::cargo);
  EXPECT_EQ(ion(100.0, true)->goes, Goes::cabin_or_hold);
  EXPECT_FALSE(ion(100.0, true)->approval);
  EXPECT_TRUE(ion(100.1, true)->approval);
  EXPECT_EQ(ion(160.1, true)->goes, Goes::cargo);
}

// (a)(18)(i): 2 g of lithium.
TEST(TravelRules, LithiumMetalAtTwoGrams) {
  const auto metal = [](double grams, bool in_device) {
    return rule(
        {.kind = TravelClass::Kind::lithium_metal, .in_device = in_device, .rated_wh = 4.5, .lithium_g = grams});
  };
  EXPECT_EQ(metal(2.0, false)->goes, Goes::cabin);
  EXPECT_EQ(metal(2.0, true)->goes, Goes::cabin_or_hold);
  EXPECT_EQ(metal(2.01, false)->goes, Goes::cargo);
  EXPECT_EQ(metal(2.01, true)->goes, Goes::cargo);
}

// (a)(18)(iii): 12 V and 100 Wh.
TEST(TravelRules, LeadAtTwelveVoltsAndHundredWattHours) {
  const auto lead = [](double volts, double wh) {
    return rule({.kind = TravelClass::Kind::lead_non_spillable, .rated_wh = wh, .volts = volts})->goes;
  };
  EXPECT_EQ(lead(12.0, 100.0), Goes::cabin_or_hold);
  EXPECT_EQ(lead(12.1, 90.0), Goes::cargo);
  EXPECT_EQ(lead(12.0, 100.1), Goes::cargo);
}

// Two 150 Wh spares a person with approval; a third needs a second person. Approval alone is no refusal.
TEST(TravelRules, TwoApprovedSparesAPerson) {
  const Answer two = ask(packs("plate-pack-14v4-150wh", 2));
  EXPECT_TRUE(two.all_fly);
  EXPECT_EQ(two.approvals.size(), 1U);
  EXPECT_EQ(two.strict.people_needed, 1);
  const Answer three = ask(packs("plate-pack-14v4-150wh", 3));
  EXPECT_FALSE(three.all_fly);
  EXPECT_EQ(three.strict.people_needed, 2);
  EXPECT_TRUE(ask(packs("plate-pack-14v4-150wh", 3), 2).all_fly);
  // Instead: 98 Wh packs for the same plate, 300 / 98 rounded up.
  const auto smaller = std::find_if(two.alternatives.begin(), two.alternatives.end(),
                                    [](const Alternative& a) { return a.what == Instead::smaller_pack; });
  ASSERT_NE(smaller, two.alternatives.end());
  EXPECT_EQ(smaller->kind->id, "plate-pack-14v4-98wh");
  EXPECT_EQ(smaller->count, 4);
}

TEST(TravelRules, TwentySparesAPerson) {
  EXPECT_TRUE(ask(packs("smart-pack-14v4-98wh", 20)).all_fly);
  const Answer over = ask(packs("smart-pack-14v4-98wh", 21));
  EXPECT_FALSE(over.all_fly);
  EXPECT_EQ(over.strict.people_needed, 2);
}

// Addendum 1: two power banks a person from 2026-03-27, not a day earlier.
TEST(TravelRules, PowerBanksFromTheAddendumOn) {
  EXPECT_TRUE(ask(packs("usb-bank-pd", 3), 1, "2026-03-26").all_fly);
  EXPECT_FALSE(ask(packs("usb-bank-pd", 3), 1, "2026-03-27").all_fly);
  EXPECT_TRUE(ask(packs("usb-bank-pd", 2), 1, "2026-03-27").all_fly);
  const Answer three = ask(packs("usb-bank-pd", 3));
  EXPECT_EQ(three.strict.people_needed, 2);
  EXPECT_EQ(three.narrow.people_needed, 2);  // a USB bank is one by any reading
  EXPECT_EQ(count_of(three.strict, "fly-limit-spares"), 3);
}

// A bank with a DC output: a spare by one reading, a power bank too by the other.
TEST(TravelRules, BothReadingsWhereItIsNotDefined) {
  const Answer three = ask(packs("bank-12v-barrel", 3));
  EXPECT_TRUE(three.readings_differ);
  EXPECT_EQ(count_of(three.narrow, "fly-limit-banks"), 0);
  EXPECT_EQ(count_of(three.strict, "fly-limit-banks"), 3);
  EXPECT_EQ(count_of(three.narrow, "fly-limit-spares"), 3);
  EXPECT_TRUE(three.narrow.fits);
  EXPECT_FALSE(three.strict.fits);
  EXPECT_FALSE(three.all_fly);  // the strictest decides
}

// Cells are counted one by one, may be shared out one by one; nickel and alkaline have no limit of number.
TEST(TravelRules, LooseCells) {
  const Answer metal = ask(packs("aa-lithium-x8", 3));  // 24 cells
  EXPECT_EQ(count_of(metal.strict, "fly-limit-spares"), 24);
  EXPECT_EQ(count_of(metal.narrow, "fly-limit-spares"), 0);
  EXPECT_EQ(metal.strict.people_needed, 2);
  for (const char* kind : {"aa-alkaline-x8", "aa-nimh-x8"}) {
    const Answer dry = ask(packs(kind, 20));
    EXPECT_TRUE(dry.all_fly) << kind;
    EXPECT_EQ(dry.strict.people_needed, 1);
    EXPECT_EQ(dry.items.front().goes(), Goes::cabin_or_hold);
  }
}

TEST(TravelRules, LeadBlocks) {
  EXPECT_TRUE(ask(packs("vrla-12v-7ah", 2)).all_fly);
  EXPECT_FALSE(ask(packs("vrla-12v-7ah", 3)).all_fly);
  const Answer large = ask(packs("vrla-12v-17ah", 1));  // 204 Wh
  EXPECT_FALSE(large.all_fly);
  EXPECT_EQ(large.items.front().goes(), Goes::cargo);
  EXPECT_EQ(large.strict.people_needed, 0);  // nothing is left to carry
}

// In a device: no spare. A second pack for the same holder cannot be in it as well; a power bank never is.
TEST(TravelRules, InDevice) {
  const std::string door = R"([[holder]]
name = "door"
kind = "door-2aa"
in = "body-pack"
packs = ["aa-lithium-x2 0", "aa-lithium-x2 1"]
[[device]]
name = "body-pack"
kind = "body-pack-2aa"
)";
  const Answer one =
      ask(door + "[[pack]]\nlabel = \"aa-lithium-x2 0\"\nkind = \"aa-lithium-x2\"\ntravels = \"in device\"\n" +
          "[[pack]]\nlabel = \"aa-lithium-x2 1\"\nkind = \"aa-lithium-x2\"\n");
  EXPECT_EQ(count_of(one.strict, "fly-limit-spares"), 2);
  EXPECT_EQ(count_of(one.strict, "fly-limit-devices"), 1);
  EXPECT_THROW(ask(door + packs("aa-lithium-x2", 2, "travels = \"in device\"")), decode::InputError);
}

TEST(TravelRules, DatesOutsideTheRules) {
  const app::DayFile file = day(packs("usb-bank-5v", 1));
  for (const char* date : {"2027-01-01", "2024-12-31", "tomorrow", "2026-02-30"}) {
    EXPECT_THROW(app::travel_answer(file, catalogue::builtin(), date, 1), decode::InputError) << date;
  }
  EXPECT_NO_THROW(app::travel_answer(file, catalogue::builtin(), "2026-12-31", 1));
  EXPECT_NO_THROW(app::travel_answer(file, catalogue::builtin(), "2025-01-01", 1));
}

// On every day between the first and the last, every kind of the catalogue has a rule: no gap between two rules.
TEST(TravelRules, NoGapBetweenRules) {
  std::vector<std::string> edges;
  for (const catalogue::TravelRule& r : catalogue::builtin().travel_rules) {
    edges.push_back(r.valid_from);
    edges.push_back(r.valid_until);
  }
  for (const catalogue::PackKind& kind : catalogue::builtin().packs) {
    for (const std::string& date : edges) {
      for (const bool in_device : {false, true}) {
        EXPECT_NE(rule({.kind = kind.travel.kind,
                        .in_device = in_device,
                        .rated_wh = kind.rated_wh,
                        .lithium_g = kind.travel.lithium_g / kind.travel.pieces,
                        .volts = kind.nominal_v},
                       date),
                  nullptr)
            << kind.id << " " << date;
      }
    }
  }
}

}  // namespace
}  // namespace tillwrap::travel
