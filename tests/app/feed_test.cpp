// Other packs for a holder: its own leads follow, whatever other leads the day has and in whatever order.
#include <gtest/gtest.h>

#include "app/day_feed.hpp"

namespace tillwrap::app {
namespace {

const catalogue::Catalogue& known() { return catalogue::builtin(); }

// The camera hop's lead stands first; it starts at another socket than the pouches' do.
const char* const kDay = R"(format = 1
[day]
call = "08:00"
wrap = "12:00"
[[pack]]
labels = ["B1", "B2"]
kind = "bank-12v-barrel"
[[pack]]
label = "N1"
kind = "nimh-12v"
[[holder]]
name = "hop pouch"
kind = "pouch-barrel"
packs = ["N1"]
[[holder]]
name = "pouch"
kind = "pouch-barrel"
packs = ["B1", "B2"]
[[device]]
name = "hop"
kind = "receiver-dual"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
[[wire]]
from = "hop pouch"
to = "hop"
plugs = ["barrel-2mm5", "round-lock-4"]
length = "0.3 m"
wire = "AWG 22"
[[wire]]
from = "pouch"
to = "recorder"
plugs = ["OWN", "round-lock-4"]
length = "0.5 m"
wire = "AWG 22"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
)";

// The lead to the recorder, which began with a plug `own`, after the pouch was given packs of `kind`.
kit::WireItem with(const std::string& own, const std::string& kind) {
  std::string day = kDay;
  day.replace(day.find("OWN"), 3, own);
  const decode::Document document = decode::read_toml(day, "day");
  const DayFile file = read_day(document, known());
  const Feed feed{.holder = "pouch",
                  .holder_kind = known().holder("pouch-barrel"),
                  .pack_kind = known().pack(kind),
                  .labels = {"1"}};
  const DayFile made = changed_day(document, file, {feed_change(file, known(), feed).change}, known());
  for (const kit::WireItem& wire : made.inventory.wires) {
    if (wire.from == "pouch") return wire;
  }
  throw std::runtime_error("no lead from the pouch");
}

// Packs with the same plug go onto the lead that is there: which plugs it has is the user's word.
TEST(Feed, PacksOfTheSamePlugLeaveTheLeadAlone) {
  for (const char* kind : {"bank-12v-barrel", "bank-12v-regulated"}) {
    const kit::WireItem wire = with("barrel-2mm5", kind);
    EXPECT_EQ(wire.from_plug, "barrel-2mm5") << kind;
    EXPECT_EQ(wire.from_socket, "barrel-2mm1") << kind;
    EXPECT_EQ(wire.to_plug, "round-lock-4") << kind;
  }
}

// A 12 V nickel pack has a 5.5/2.5 mm socket, as the hop's lead starts at: the recorder's lead changes all the same.
TEST(Feed, PacksOfAnotherPlugGetALeadThatFits) {
  const kit::WireItem wire = with("barrel-2mm1", "nimh-12v");
  EXPECT_EQ(wire.from_socket, "barrel-2mm5");
  EXPECT_EQ(wire.from_plug, "barrel-2mm5");
}

}  // namespace
}  // namespace tillwrap::app
