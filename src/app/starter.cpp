#include "app/starter.hpp"

namespace tillwrap::app {

std::string starter_day() {
  return R"toml(# A day for tillwrap: edit, then run: tillwrap forecast THIS-FILE
# Kinds come from the catalogue: tillwrap catalogue packs, tillwrap catalogue devices, ...
# Numbers carry their unit: "14.5 W", "0.5 m", "-6 °C", "28 °F", "86 %", "1 h 30 min".
format = 1
title = "My day"

[day]
call = "08:00"
wrap = "18:00"
off = "18:30"          # end of wrap-out; leave out if the kit goes off at wrap
overrun = "2 h"        # how late it may go
# date = "2026-11-25"  # a calendar and the journal need it; write yours

# Every pack by its label. health = what it still holds of its rated Wh; leave it out for a new one.
[[pack]]
labels = ["P1", "P2", "P3"]
kind = "smart-pack-14v4-98wh"
health = "92 %"
spare = "pocket"       # where spares wait: bag, pocket, van, indoors ...

[[pack]]
label = "bridge"
kind = "aa-nimh-lsd-x8"

# Holders are where packs sit. Give a pack a time, or leave it out: the forecast then picks the last safe moment.
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = [{ pack = "P1", at = "07:30" }, "P2", "P3"]

[[holder]]
name = "tray"
kind = "tray-8aa"
in = "recorder.tray"
packs = ["bridge"]

[[box]]
name = "box"
kind = "box-1cup"

# need: unbroken (changes included), rolling (may drop out in a change), optional.
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "8.2 W"                   # your own measured figure beats the catalogue's
phantom = ["2 mA", "4 mA"]       # one current a microphone
need = "unbroken"

[[device]]
name = "receiver 1"
kind = "receiver-dual"
group = "receivers"

[[device]]
name = "receiver 2"
kind = "receiver-dual"
group = "receivers"

[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 22"

[[wire]]
from = "box.out-2"
to = "receiver 1"
length = "0.4 m"
wire = "AWG 24"

[[wire]]
from = "box.out-3"
to = "receiver 2"
length = "0.4 m"
wire = "AWG 24"

# What fills packs: in a period that lists it under live = ["charger"], and after the day (tillwrap recharge).
[[charger]]
name = "charger"
kind = "charger-smart-2"

# The day in order. off = devices or groups switched off; no_hands = places nobody may reach.
[[period]]
name = "rigging"
from = "07:30"
air = "14 °C"

[[period]]
name = "morning exterior"
from = "08:00"
air = "6 °C"
no_hands = { bag = "09:30-10:15" }

[[period]]
name = "meal"
from = "13:00"
air = "18 °C"
off = ["receivers"]

[[period]]
name = "afternoon interior"
from = "13:45"
air = "20 °C"

[[period]]
name = "wrap-out"
from = "18:00"
air = "12 °C"
off = ["receivers"]

# A draw you measured outranks the sum of parts:
# [[measured]]
# at = "box"
# draw = "1.2 A at 14.6 V"
# during = "morning exterior"
)toml";
}

}  // namespace tillwrap::app
