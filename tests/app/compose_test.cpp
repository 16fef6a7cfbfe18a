// A day made from wishes: it decodes, it runs, and its wiring keeps to the catalogue's ratings and to the trade's rules
// for fuses and plugs.
#include "app/compose.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>

#include "app/day_file.hpp"
#include "decode/node.hpp"
#include "forecast/forecast.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::app {
namespace {

const catalogue::Catalogue& known() { return catalogue::builtin(); }

Wishes wishes(std::vector<DeviceWish> devices, std::string pack, int packs = 2) {
  Wishes out;
  out.devices = std::move(devices);
  out.pack = std::move(pack);
  out.packs = packs;
  out.call = "08:00";
  out.wrap = "18:00";
  out.air = "10 °C";
  return out;
}

DeviceWish of(std::string kind, int count = 1) {
  DeviceWish wish;
  wish.kind = std::move(kind);
  wish.count = count;
  return wish;
}

DayFile decoded(const Json& day) { return read_day(decode::read_json(day.dump(1), "composed"), known()); }

Composed asked(const std::string& text) {
  const decode::Document document = decode::read_json(text, "wishes");
  decode::TableReader reader(document, document.root, "the wishes");
  return compose(reader, known());
}

std::vector<std::string> main_packs() {
  std::vector<std::string> ids{""};
  for (const catalogue::PackKind& pack : known().packs) {
    if (pack.series > 1 || pack.regulator) ids.push_back(pack.id);
  }
  return ids;
}

// What must hold of any composed day, by the rules a findings check applies: every plug goes into its socket, no wire
// is thinner than the fuse before it (IEC 60364-4-43: rated current at most what the conductor carries), nothing gets
// more volts than it takes.
void expect_sound(const Composed& made) {
  const DayFile file = decoded(made.day);
  std::size_t wires = 0;
  for (const kit::WireItem& wire : file.inventory.wires) {
    ++wires;
    const double area_mm2 = wire.awg >= 0 ? wiring::awg_area_mm2(wire.awg) : wire.area_mm2;
    EXPECT_LE(wire.guard_a, wiring::ampacity_a(area_mm2)) << wire.from << " to " << wire.to;
    if (!wire.from_socket.empty()) {
      EXPECT_NE(known().fit(wire.from_plug, wire.from_socket), catalogue::Fit::no) << wire.from;
    }
    EXPECT_EQ(known().fit(wire.to_plug, wire.to_socket), catalogue::Fit::mates) << wire.to;
  }
  EXPECT_EQ(wires, made.day.value("wire", Json::array()).size());
  for (const Warning& warning : file.warnings) {
    EXPECT_EQ(warning.text.find("fresh off the charger"), std::string::npos) << warning.text;
    EXPECT_EQ(warning.text.find("more than its wire carries"), std::string::npos) << warning.text;
    EXPECT_EQ(warning.text.find("poor contact"), std::string::npos) << warning.text;
  }
}

TEST(Compose, ABagOnSlideOnPacksFeedsItsReceiverFromAPlateOfItsOwn) {
  const Composed made =
      compose(wishes({of("recorder-mixer-6"), of("receiver-dual")}, "slide-on-7v2-large", 3), known());
  expect_sound(made);
  // Two on the recorder, one with a lead; the packs of the first two shared out, as many again for the third.
  EXPECT_EQ(made.day["holder"].size(), 4U) << made.day.dump(1);  // and the recorder's tray
  EXPECT_EQ(made.day["wire"].size(), 1U);
  EXPECT_EQ(made.day["wire"][0]["from"], "receiver plate");
  EXPECT_EQ(made.day["wire"][0]["to"], "receiver.dc");
  ASSERT_EQ(made.notes.size(), 1U);
  EXPECT_NE(made.notes[0].find("receiver has a plate and 2 packs of its own"), std::string::npos);
}

TEST(Compose, EveryKindOfDeviceAloneFromEveryKindOfPack) {
  for (const catalogue::DeviceKind& kind : known().devices) {
    int made_days = 0;
    for (const std::string& pack : main_packs()) {
      try {
        const Composed made = compose(wishes({of(kind.id)}, pack), known());
        SCOPED_TRACE(kind.id + " from " + pack + "\n" + made.day.dump(1));
        expect_sound(made);
        ++made_days;
      } catch (const CannotWire& error) {
        EXPECT_NE(std::string(error.what()), "") << kind.id << " " << pack;
        EXPECT_NE(error.hint, "") << kind.id << " " << pack;
      }
    }
    EXPECT_GE(made_days, 1) << kind.id;
  }
}

TEST(Compose, EveryKindRunsFromTheUsualPackOrFromItsOwnCells) {
  for (const catalogue::DeviceKind& kind : known().devices) {
    const Composed made = compose(wishes({of(kind.id)}, "smart-pack-14v4-98wh"), known());
    const DayFile file = decoded(made.day);
    const forecast::Forecast forecast = forecast::forecast(file.scenario);
    // Whatever it is, it works at call: nothing is lost in the first minute.
    EXPECT_GT(forecast.margin_s + file.scenario.off_s, file.scenario.call_s + 60.0) << kind.id << made.day.dump(1);
  }
}

RC_GTEST_PROP(Compose, RandomKitsDecodeAndRun, ()) {
  const std::vector<std::string> packs = main_packs();
  Wishes wished = wishes({}, packs[*rc::gen::inRange<std::size_t>(0, packs.size())], *rc::gen::inRange(1, 7));
  const int kinds = *rc::gen::inRange(1, 9);
  for (int i = 0; i < kinds; ++i) {
    DeviceWish wish =
        of(known().devices[*rc::gen::inRange<std::size_t>(0, known().devices.size())].id, *rc::gen::inRange(1, 4));
    wish.sets = *rc::gen::inRange(0, 4);
    wish.on_cells = *rc::gen::inRange(0, 4) == 0;
    wished.devices.push_back(wish);
  }
  wished.bridge = *rc::gen::arbitrary<bool>();
  wished.cells = *rc::gen::elementOf(std::vector<std::string>{"aa-lithium", "aa-nimh-lsd", "aa-alkaline", "aa-nimh"});
  if (*rc::gen::arbitrary<bool>()) wished.off = "18:30";
  if (*rc::gen::arbitrary<bool>()) wished.meal = "13:00";
  std::string hint;
  try {
    const Composed made = compose(wished, known());
    RC_LOG() << made.day.dump(1);
    expect_sound(made);
    const DayFile file = decoded(made.day);
    const forecast::Forecast forecast = forecast::forecast(file.scenario);
    RC_ASSERT(forecast.margin_s > -1e6);
    std::size_t wanted = 0;
    for (const DeviceWish& wish : wished.devices) wanted += static_cast<std::size_t>(wish.count);
    RC_ASSERT(made.day["device"].size() == wanted);
    RC_TAG(std::string("wired"));
  } catch (const CannotWire& error) {
    RC_ASSERT(!error.hint.empty());
    RC_TAG(std::string("cannot be wired, said so"));
  }
}

// Facts of the class: a bag with one smart pack carries recorder, three receivers and what needs at most 15 V.
TEST(Compose, UsualBagOnItsOwnOutputs) {
  const Composed made = compose(wishes({of("recorder-mixer-8"), of("receiver-dual", 2), of("transmitter-hop"),
                                        of("transmitter-cue"), of("antenna-distribution"), of("body-pack-2aa", 3)},
                                       "smart-pack-14v4-98wh", 4),
                                known());
  EXPECT_EQ(made.box, "box-1cup");
  expect_sound(made);
  const auto& wires = made.day["wire"];
  const auto from_of = [&](const std::string& to) {
    for (const Json& wire : wires) {
      if (wire["to"] == to) return wire["from"].get<std::string>();
    }
    return std::string();
  };
  EXPECT_EQ(from_of("recorder.dc"), "box.out-1");                 // the largest fuse
  EXPECT_EQ(from_of("transmitter-cue.dc"), "");                   // names hold no hyphen
  EXPECT_EQ(from_of("transmitter cue.dc"), "box.regulated-12v");  // takes at most 15 V, four cells charge to 16.8 V
  EXPECT_EQ(made.day["device"][0]["need"], "unbroken");
  // Three body-packs with two sets each.
  EXPECT_EQ(made.day["holder"].back()["packs"].size(), 2U);
  EXPECT_EQ(made.notes.size(), 0U);
}

TEST(Compose, TwoCupsTakePacksInTurn) {
  Wishes wished = wishes({of("recorder-mixer-8")}, "smart-pack-14v4-98wh", 4);
  wished.box = "box-2cup";
  wished.bridge = false;
  const Composed made = compose(wished, known());
  EXPECT_EQ(made.day["holder"][0]["packs"], Json::array({"P1", "P3"}));
  EXPECT_EQ(made.day["holder"][1]["packs"], Json::array({"P2", "P4"}));
  EXPECT_EQ(made.day["device"][0]["need"], "unbroken");  // one cup carries while the other changes
}

TEST(Compose, OneCupWithoutBridgePromisesNoUnbrokenRecorder) {
  Wishes wished = wishes({of("recorder-mixer-8")}, "smart-pack-14v4-98wh", 2);
  wished.bridge = false;
  EXPECT_FALSE(compose(wished, known()).day["device"][0].contains("need"));
}

TEST(Compose, SlideOnPacksSitInTheRecorder) {
  const Composed made = compose(wishes({of("recorder-mixer-6")}, "slide-on-7v2-large", 4), known());
  EXPECT_EQ(made.box, "");
  EXPECT_EQ(made.day["holder"][0]["in"], "recorder.slide-on-left");
  EXPECT_EQ(made.day["holder"][1]["in"], "recorder.slide-on-right");
}

TEST(Compose, SaysWhichBoxIsLarger) {
  Wishes wished = wishes({of("recorder-mixer-16"), of("receiver-quad", 8)}, "plate-pack-14v4-150wh", 2);
  wished.box = "plate-splitter";
  try {
    compose(wished, known());
    FAIL() << "nine devices on four outputs";
  } catch (const CannotWire& error) {
    EXPECT_NE(std::string(error.what()).find("plate-splitter has no output left for \"receiver"), std::string::npos)
        << error.what();
    EXPECT_EQ(error.hint, "box-xlr-6 does: take that box");
  }
  wished.box = "";
  EXPECT_EQ(compose(wished, known()).box, "box-cart-8");
}

TEST(Compose, ErrorsPointAtTheWish) {
  try {
    asked("{\"devices\": [\n{\"kind\": \"recorder-mixer-8\"},\n{\"kind\": \"receiver-dul\"}]}");
    FAIL();
  } catch (const decode::InputError& error) {
    EXPECT_EQ(error.place.line, 3U);
    EXPECT_NE(std::string(error.what()).find("receiver-dual"), std::string::npos) << error.what();
  }
  EXPECT_THROW(asked("{\"devices\": []}"), decode::InputError);
  EXPECT_THROW(asked("{\"devices\": [{\"kind\": \"recorder-2\"}], \"call\": \"late\"}"), decode::InputError);
  EXPECT_THROW(asked("{\"devices\": [{\"kind\": \"receiver-dual\"}]}"), decode::InputError);  // nothing to feed it
  EXPECT_THROW(asked("{\"devices\": [{\"kind\": \"recorder-2\"}], \"pak\": \"x\"}"), decode::InputError);
}

TEST(Compose, SameWishesSameBytes) {
  const char* text = R"({"devices": [{"kind": "recorder-mixer-8"}, {"kind": "receiver-dual", "count": 3}],
                         "pack": "smart-pack-14v4-98wh", "packs": 3, "meal": "13:00"})";
  EXPECT_EQ(asked(text).day.dump(), asked(text).day.dump());
}

}  // namespace
}  // namespace tillwrap::app
