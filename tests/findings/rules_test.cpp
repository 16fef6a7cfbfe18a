// Each rule has a day that brings it up and one that differs in a single thing and does not.
#include "findings/rules.hpp"

#include <gtest/gtest.h>

#include <set>

#include "findings/days.hpp"
#include "forecast/forecast.hpp"

namespace tillwrap::findings {
namespace {

using test::edited;
using test::Edits;
using test::kQuietDay;
using test::look;

struct Case {
  Rule rule;
  Severity severity;
  Edits both;  // common to the two days
  Edits yes;   // brings it up
  Edits no;    // the near-identical day
};

const std::string kBankDay = R"(format = 1
[day]
call = "08:00"
wrap = "10:00"
[[pack]]
labels = ["B1"]
kind = "bank-12v-regulated"
[[holder]]
name = "pouch"
kind = "pouch-barrel"
packs = ["B1"]
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "8 W"
[[wire]]
from = "pouch"
to = "recorder.dc"
plugs = ["barrel-2mm1", "round-lock-4"]
length = "0.5 m"
wire = "AWG 18"
[[period]]
name = "scene"
from = "08:00"
air = "20 °C"
)";

const std::string kTwoCups = R"(format = 1
[day]
call = "08:00"
wrap = "10:00"
[[pack]]
label = "P1"
kind = "smart-pack-14v4-98wh"
[[pack]]
label = "P2"
kind = "smart-pack-14v4-98wh"
charge = "100 %"
[[holder]]
name = "left"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1"]
[[holder]]
name = "right"
kind = "cup-smart-14v4"
in = "box"
packs = ["P2"]
[[box]]
name = "box"
kind = "box-2cup"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "8 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 20"
[[period]]
name = "scene"
from = "08:00"
air = "20 °C"
)";

void compare(const std::string& base, const Case& c) {
  SCOPED_TRACE(std::string(rule_key(c.rule)));
  const std::string common = edited(base, c.both);
  const test::Looked yes = look(edited(common, c.yes));
  const Finding* finding = yes.rule(c.rule);
  ASSERT_NE(finding, nullptr);
  EXPECT_EQ(finding->severity, c.severity);
  ASSERT_FALSE(finding->items.empty());
  EXPECT_GT(finding->items.front().place.line, 1U);
  EXPECT_EQ(look(edited(common, c.no)).rule(c.rule), nullptr);
}

TEST(Rules, a_quiet_day_has_a_short_list) {
  const test::Looked quiet = look(kQuietDay);
  std::set<Rule> rules;
  for (const Finding& finding : quiet.found) {
    EXPECT_TRUE(rules.insert(finding.rule).second) << "twice: " << rule_key(finding.rule);
    EXPECT_GE(finding.severity, Severity::costs) << rule_key(finding.rule);
  }
  EXPECT_LE(quiet.found.size(), 2U);  // the switch and the single points every one-cup bag has
}

TEST(Rules, volts_lost) {
  compare(kQuietDay, {Rule::drop,
                      Severity::costs,
                      {},
                      {{"\"0.5 m\"\nwire = \"AWG 20\"", "\"9 m\"\nwire = \"AWG 24\""}},
                      {{"\"0.5 m\"\nwire = \"AWG 20\"", "\"2 m\"\nwire = \"AWG 20\""}}});
}

TEST(Rules, plug_overloaded) {
  // The 4-pin round plug carries about 2 A a contact (secondary source): 36 W at 14 to 16 V is more.
  compare(kQuietDay, {Rule::overload, Severity::harms, {}, {{"8 W", "36 W"}}, {{"8 W", "20 W"}}});
}

TEST(Rules, close_to_a_plug_s_rating) {
  compare(kQuietDay, {Rule::near_limit, Severity::note, {}, {{"8 W", "23 W"}}, {{"8 W", "17 W"}}});
}

TEST(Rules, adapter_at_its_limit) {
  // 12 V and 0.8 A: 9 W is 0.75 A, 11 W is more than it gives.
  const std::string mains = edited(
      kBankDay,
      {{"[[pack]]\nlabels = [\"B1\"]\nkind = \"bank-12v-regulated\"\n[[holder]]\nname = \"pouch\"\nkind = "
        "\"pouch-barrel\"\npacks = [\"B1\"]\n",
        ""},
       {"[[wire]]\nfrom = \"pouch\"",
        "[[source]]\nname = \"mains\"\nkind = \"mains-12v-5a\"\nvolts = \"12 V\"\namps = \"0.8 A\"\n[[wire]]\nfrom = "
        "\"mains\""},
       {"air = \"20 °C\"", "air = \"20 °C\"\nlive = [\"mains\"]"}});
  compare(mains, {Rule::overload, Severity::stops, {}, {{"8 W", "11 W"}}, {{"8 W", "7 W"}}});
}

TEST(Rules, fuse_loaded_for_hours) {
  // UL 248-14: three quarters of 2 A is 1.5 A; IEC 60127 F may carry its rating.
  const Edits heavy = {
      {"8 W", "26 W"},
      {"wire = \"AWG 20\"\n[[wire]]", "wire = \"AWG 20\"\nfuse = \"2 A\"\nfuse_kind = \"KIND\"\n[[wire]]"}};
  compare(kQuietDay, {Rule::fuse_load, Severity::costs, heavy, {{"KIND", "fuse-ul"}}, {{"KIND", "fuse-iec-f"}}});
}

TEST(Rules, resettable_fuse_in_a_warm_bag) {
  // 1.4 to 1.5 A through the tap's 2 A part: the bag is about 28 K warmer than the air, and at 50 °C 0.74 of the hold
  // current is left (from memory), at 18 °C all of it.
  const Edits tap = {{"name = \"receiver\"\nkind = \"receiver-dual\"\ndraw = \"3 W\"",
                      "name = \"receiver\"\nkind = \"monitor-bag\"\nneed = \"optional\"\ndraw = \"20 W\""},
                     {"box.out-2", "box.tap"},
                     {"receiver.dc", "receiver"}};
  compare(kQuietDay, {Rule::pptc_warm, Severity::costs, tap, {{"20 °C", "22 °C"}}, {{"20 °C", "-10 °C"}}});
}

TEST(Rules, fuse_above_its_wire) {
  compare(kQuietDay, {Rule::fuse_wire,
                      Severity::harms,
                      {},
                      {{"wire = \"AWG 20\"", "wire = \"AWG 24\""}},
                      {{"wire = \"AWG 20\"", "wire = \"AWG 22\""}}});
}

TEST(Rules, fuse_too_slow_for_its_wire) {
  // An IEC 60127 type need not open below 2.1 times its rating: 3.1 A on a wire for 2.05 A; the UL type must at 1.35.
  const Edits fused = {
      {"wire = \"AWG 20\"\n[[wire]]", "wire = \"AWG 24\"\nfuse = \"2 A\"\nfuse_kind = \"KIND\"\n[[wire]]"}};
  compare(kQuietDay, {Rule::fuse_slow, Severity::note, fused, {{"KIND", "fuse-iec-f"}}, {{"KIND", "fuse-ul"}}});
}

TEST(Rules, no_fuse_at_the_battery) {
  compare(kBankDay, {Rule::fuse_missing,
                     Severity::harms,
                     {{"AWG 18", "AWG 26"}},
                     {},
                     {{"wire = \"AWG 26\"", "wire = \"AWG 26\"\nfuse = \"1 A\""}}});
}

TEST(Rules, inrush_against_a_quick_fuse) {
  // 1000 µF charged to 16.8 V behind 1 A: the quick IEC type is sure to stand 0.16 A²s (400 % for 10
  // ms), the slow one 2 A²s (1000 % for 20 ms).
  const Edits small = {
      {"wire = \"AWG 20\"\n[[wire]]", "wire = \"AWG 20\"\nfuse = \"1 A\"\nfuse_kind = \"KIND\"\n[[wire]]"}};
  compare(kQuietDay, {Rule::inrush, Severity::stops, small, {{"KIND", "fuse-iec-f"}}, {{"KIND", "fuse-iec-t"}}});
}

TEST(Rules, taps_can_be_reversed) {
  const Edits monitor = {{"kind = \"receiver-dual\"", "kind = \"monitor-bag\"\nneed = \"optional\""},
                         {"receiver.dc", "receiver"},
                         {"box.out-2", "box.tap"}};
  const Edits hop = {{"kind = \"receiver-dual\"", "kind = \"transmitter-hop\"\nneed = \"optional\""},
                     {"receiver.dc", "receiver"},
                     {"box.out-2", "box.out-5"}};
  compare(kQuietDay, {Rule::reversible, Severity::harms, {}, monitor, hop});
}

TEST(Rules, centre_negative_lead) {
  compare(kBankDay, {Rule::centre_negative,
                     Severity::harms,
                     {},
                     {{"length", "centre = \"negative\"\nlength"}},
                     {{"length", "centre = \"positive\"\nlength"}}});
}

TEST(Rules, made_up_leads_are_measured) {
  compare(kBankDay, {Rule::check_polarity,
                     Severity::note,
                     {},
                     {},
                     {{"[[wire]]\nfrom = \"pouch\"\nto = \"recorder.dc\"\nplugs = [\"barrel-2mm1\", "
                       "\"round-lock-4\"]\nlength = \"0.5 m\"\nwire = \"AWG 18\"",
                       "[[wire]]\nfrom = \"pouch\"\nto = \"join.in-1\"\n[[wire]]\nfrom = \"join.out\"\nto = "
                       "\"recorder.dc\"\nlength = \"0.5 m\"\n[[box]]\nname = \"join\"\nkind = \"box-diode-pair\""}}});
}

TEST(Rules, loose_plug_stops_the_day) {
  compare(kBankDay,
          {Rule::loose_plug, Severity::stops, {}, {{"\"barrel-2mm1\", \"round", "\"barrel-2mm5\", \"round"}}, {}});
}

TEST(Rules, no_lock_on_the_only_feed) {
  compare(kQuietDay, {Rule::not_locking,
                      Severity::costs,
                      {{"kind = \"receiver-dual\"\ndraw = \"3 W\"", "kind = \"transmitter-cue\"\ndraw = \"1 W\""},
                       {"box.out-2", "box.regulated-12v"}},
                      {},
                      {{"name = \"receiver\"", "name = \"receiver\"\nneed = \"optional\""}}});
}

TEST(Rules, worn_contacts) {
  compare(kQuietDay, {Rule::worn_contacts,
                      Severity::costs,
                      {},
                      {{"to = \"recorder.dc\"", "to = \"recorder.dc\"\ncontacts = \"worn\""}},
                      {{"to = \"recorder.dc\"", "to = \"recorder.dc\"\ncontacts = \"new\""}}});
}

TEST(Rules, supply_current_in_a_shield) {
  compare(kQuietDay, {Rule::shield_return,
                      Severity::costs,
                      {},
                      {{"to = \"recorder.dc\"", "to = \"recorder.dc\"\nreturn = \"audio shield\""}},
                      {{"to = \"recorder.dc\"", "to = \"recorder.dc\"\nreturn = \"own conductor\""}}});
}

TEST(Rules, two_leads_from_one_socket) {
  compare(kQuietDay, {Rule::splitter, Severity::note, {}, {{"box.out-2", "box.out-1"}}, {{"box.out-2", "box.out-3"}}});
}

TEST(Rules, too_many_volts) {
  // A full 4S pack is 16.8 V; many accessories stop at 15 to 16 V (common practice).
  compare(kQuietDay, {Rule::over_volts,
                      Severity::harms,
                      {},
                      {{"draw = \"3 W\"", "draw = \"3 W\"\nmost_volts = \"16 V\""}},
                      {{"draw = \"3 W\"", "draw = \"3 W\"\nmost_volts = \"17 V\""}}});
}

TEST(Rules, too_much_phantom_current) {
  const std::string ten = "\"10 mA\", \"10 mA\", \"10 mA\", \"10 mA\", \"10 mA\", \"10 mA\"";
  compare(kQuietDay, {Rule::phantom_limit,
                      Severity::costs,
                      {},
                      {{"draw = \"8 W\"", "draw = \"8 W\"\nphantom = [" + ten + ", \"10 mA\"]"}},
                      {{"draw = \"8 W\"", "draw = \"8 W\"\nphantom = [" + ten + "]"}}});
}

TEST(Rules, keep_alive_empties_a_stored_pack) {
  // 0.5 W from 98 Wh: about eight days.
  const Edits timecode = {{"kind = \"receiver-dual\"\ndraw = \"3 W\"", "kind = \"transmitter-cue\"\ndraw = \"0.5 W\""}};
  compare(kQuietDay, {Rule::stored_drain,
                      Severity::costs,
                      timecode,
                      {{"from = \"box.out-2\"\nto = \"receiver.dc\"",
                        "from = \"box.keep-alive\"\nto = \"receiver.dc\"\nplugs = [\"barrel-1mm7\", \"barrel-2mm5\"]"}},
                      {{"from = \"box.out-2\"", "from = \"box.regulated-12v\""}}});
}

TEST(Rules, adapter_and_pack_push_into_each_other) {
  const Edits adapter = {
      {"[[device]]", "[[source]]\nname = \"mains\"\nkind = \"mains-15v-4a\"\nin = \"cup\"\n[[device]]"}};
  compare(
      kQuietDay,
      {Rule::back_feed, Severity::harms, adapter, {{"air = \"20 °C\"", "air = \"20 °C\"\nlive = [\"mains\"]"}}, {}});
}

TEST(Rules, joined_packs_drain_in_turn) {
  compare(kTwoCups, {Rule::unequal_packs, Severity::note, {}, {{"charge = \"100 %\"", "charge = \"60 %\""}}, {}});
}

TEST(Rules, ports_dark_on_a_usb_bank) {
  const std::string usb = edited(kBankDay, {{"bank-12v-regulated", "usb-bank-pd\"\npd = \"15 V"},
                                            {"pouch-barrel", "pouch-usb"},
                                            {"barrel-2mm1\", \"round", "usb-c\", \"round"}});
  // 1000 µF hold 8 W from 15 V down to 10 V for C (V1² - V2²)/2P = 7.8 ms; the ports are dark for a second.
  compare(usb, {Rule::pd_outage, Severity::costs, {}, {}, {{"draw = \"8 W\"", "draw = \"8 W\"\nhold_up = \"0.5 F\""}}});
}

TEST(Rules, vehicle_socket) {
  const std::string car =
      edited(kBankDay, {{"[[wire]]\nfrom = \"pouch\"",
                         "[[source]]\nname = \"car\"\nkind = \"vehicle-socket\"\n[[wire]]\nfrom = \"car\""},
                        {"plugs = [\"barrel-2mm1\", \"round", "plugs = [\"vehicle-plug\", \"round"},
                        {"[[pack]]\nlabels = [\"B1\"]\nkind = \"bank-12v-regulated\"\n[[holder]]\nname = "
                         "\"pouch\"\nkind = \"pouch-barrel\"\npacks = [\"B1\"]\n",
                         ""},
                        {"air = \"20 °C\"", "air = \"20 °C\"\nlive = [\"car\"]"}});
  compare(
      car,
      {Rule::vehicle, Severity::note, {}, {}, {{"vehicle-socket", "mains-12v-5a"}, {"vehicle-plug", "barrel-2mm1"}}});
  EXPECT_EQ(look(edited(car, {{"live = [\"car\"]",
                               "live = [\"car\"]\nuntil = \"09:00\"\n[[period]]\nname = \"parked\"\nfrom = "
                               "\"09:00\"\nair = \"20 °C\""}}))
                .rule(Rule::vehicle)
                ->severity,
            Severity::stops);
}

TEST(Rules, bank_that_falls_asleep) {
  // 80 mA is its limit: 0.5 W at 12 V is 42 mA, 4 W is 333 mA.
  compare(kBankDay, {Rule::bank_sleep, Severity::stops, {}, {{"8 W", "0.5 W"}}, {{"8 W", "4 W"}}});
}

const std::string kSled = R"(format = 1
[day]
call = "08:00"
wrap = "08:30"
[[pack]]
label = "set"
kind = "aa-alkaline-x8"
[[holder]]
name = "sled"
kind = "sled-8aa"
place = "open"
packs = ["set"]
[[device]]
name = "recorder"
kind = "recorder-mixer-6"
draw = "2 W"
place = "open"
[[wire]]
from = "sled"
to = "recorder.dc"
plugs = ["barrel-2mm1", "round-lock-4"]
length = "0.3 m"
wire = "AWG 18"
[[period]]
name = "scene"
from = "08:00"
air = "20 °C"
)";

TEST(Rules, cold_alkaline_cells) {
  compare(kSled, {Rule::cold_alkaline, Severity::costs, {}, {{"20 °C", "-5 °C"}}, {{"20 °C", "15 °C"}}});
}

TEST(Rules, mixed_cells) {
  compare(kSled, {Rule::mixed_cells,
                  Severity::costs,
                  {},
                  {{"kind = \"aa-alkaline-x8\"", "kind = \"aa-alkaline-x8\"\nweakest_cell = \"60 %\""}},
                  {{"kind = \"aa-alkaline-x8\"", "kind = \"aa-alkaline-x8\"\nweakest_cell = \"97 %\""}}});
}

TEST(Rules, close_to_collapse) {
  compare(kSled, {Rule::collapse,
                  Severity::costs,
                  {{"2 W", "7 W"}, {"20 °C", "-8 °C"}},
                  {},
                  {{"aa-alkaline-x8", "aa-lithium-x8"}}});
}

TEST(Rules, a_switch_that_can_be_knocked) {
  const std::string tray =
      "[[holder]]\nname = \"tray\"\nkind = \"tray-8aa\"\nin = \"recorder.tray\"\npacks = [\"AA\"]\n[[box]]";
  const std::string alone =
      edited(kQuietDay,
             {{"[[device]]\nname = \"receiver\"\nkind = \"receiver-dual\"\ndraw = \"3 W\"\n", ""},
              {"[[wire]]\nfrom = \"box.out-2\"\nto = \"receiver.dc\"\nlength = \"0.4 m\"\nwire = \"AWG 20\"\n", ""}});
  compare(alone,
          {Rule::knocked_switch,
           Severity::costs,
           {},
           {},
           {{"[[box]]", tray}, {"[[holder]]", "[[pack]]\nlabel = \"AA\"\nkind = \"aa-lithium-x8\"\n[[holder]]"}}});
  // With eight iron-disulfide cells in its tray the recorder outlives the loss of any cable, cup or box for 4 h at 4 W.
  compare(alone,
          {Rule::single_point,
           Severity::note,
           {{"8 W", "3 W"}},
           {},
           {{"[[box]]", tray}, {"[[holder]]", "[[pack]]\nlabel = \"AA\"\nkind = \"aa-lithium-x8\"\n[[holder]]"}}});
}

// The tray is too small for the whole day: the simulated day without the cable says so, with the time.
TEST(Rules, a_small_bridge_does_not_carry_the_day) {
  const std::string tray =
      "[[holder]]\nname = \"tray\"\nkind = \"tray-8aa\"\nin = \"recorder.tray\"\npacks = [\"AA\"]\n[[box]]";
  const test::Looked seen =
      look(edited(kQuietDay, {{"[[box]]", tray},
                              {"[[holder]]", "[[pack]]\nlabel = \"AA\"\nkind = \"aa-alkaline-x8\"\n[[holder]]"}}));
  const Finding* single = seen.rule(Rule::single_point);
  ASSERT_NE(single, nullptr);
  const auto cable = std::find_if(single->items.begin(), single->items.end(),
                                  [](const Item& i) { return i.what == "box.out-1 to recorder.dc"; });
  ASSERT_NE(cable, single->items.end());
  EXPECT_EQ((*cable)["ends"], 1.0);
  EXPECT_GT((*cable)["loss_at_s"], seen.file.scenario.call_s);
  EXPECT_LT((*cable)["loss_at_s"], seen.file.scenario.off_s);
}

// A day that fails elsewhere anyway says the same of the cable: when a body-pack goes dark is no matter of the bag's.
TEST(Rules, a_small_bridge_is_judged_alike_on_a_day_that_fails_elsewhere) {
  const std::string tray =
      "[[holder]]\nname = \"tray\"\nkind = \"tray-8aa\"\nin = \"recorder.tray\"\npacks = [\"AA\"]\n[[box]]";
  const Edits bridged = {{"[[box]]", tray},
                         {"[[holder]]", "[[pack]]\nlabel = \"AA\"\nkind = \"aa-alkaline-x8\"\n[[holder]]"}};
  Edits failing = bridged;
  failing.push_back({"[[holder]]",
                     "[[pack]]\nlabel = \"T\"\nkind = \"aa-alkaline-x1\"\ncharge = \"20 %\"\n[[device]]\nname = "
                     "\"transmitter\"\nkind = \"body-pack-1aa\"\n[[holder]]\nname = \"door\"\nkind = "
                     "\"door-1aa\"\nin = \"transmitter\"\npacks = [\"T\"]\n[[holder]]"});
  const auto cable_lost_s = [](const Edits& edits, bool reaches) {
    const test::Looked seen = look(edited(kQuietDay, edits));
    EXPECT_EQ(forecast::forecast(seen.file.scenario).reaches_wrap, reaches);
    const Finding* single = seen.rule(Rule::single_point);
    if (single == nullptr) return 0.0;
    for (const Item& i : single->items) {
      if (i.what == "box.out-1 to recorder.dc" && i.has("loss_at_s")) return i["loss_at_s"];
    }
    return 0.0;
  };
  const double alone_s = cable_lost_s(bridged, true);
  EXPECT_GT(alone_s, 0.0);
  EXPECT_NEAR(cable_lost_s(failing, false), alone_s, 1.0);
}

}  // namespace
}  // namespace tillwrap::findings
