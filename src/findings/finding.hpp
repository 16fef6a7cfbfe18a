// What is wrong, or worth knowing, in the wiring of a day: reason codes and numbers, no prose.
#pragma once

#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "catalogue/entry.hpp"
#include "decode/node.hpp"

namespace tillwrap::findings {

enum class Severity {
  stops,  // a must-run device goes dark
  harms,  // may hurt gear or people
  costs,  // takes, time or charge
  note,   // worth knowing
};

enum class Rule {
  collapse,         // constant power near the most its line can give
  drop,             // volts lost on the way to a device
  overload,         // above the rating of a wire, plug, holder, regulator, supply or pack
  near_limit,       // close below one of these
  fuse_load,        // loaded beyond what its standard allows for hours
  pptc_warm,        // resettable fuse derated by the warmth around it
  fuse_wire,        // rating above the wire's ampacity
  fuse_slow,        // opens, by its standard, only far above the ampacity
  fuse_missing,     // nothing at the battery end that saves the wire
  inrush,           // charging input capacitors against fuse and protection
  reversible,       // plug that can go in the wrong way round
  centre_negative,  // a barrel lead against the usual polarity
  check_polarity,   // a lead between two plug classes, one of them only "usually" centre positive
  loose_plug,       // 2.5 mm plug on a 2.1 mm pin
  not_locking,      // on a must-run device's only feed
  worn_contacts,    // what worn contacts cost against new ones
  shield_return,    // supply current in an audio shield
  splitter,         // two leads from one socket
  over_volts,       // a full pack gives more than the input takes
  phantom_limit,    // more microphone current than the supply gives
  stored_drain,     // what empties a pack left in its holder
  back_feed,        // two sources in parallel without one-way elements
  unequal_packs,    // sources in OR carry in turn
  pd_outage,        // ports dark while they renegotiate
  vehicle,          // socket that dies with the ignition
  bank_sleep,       // a bank that switches itself off on a small load
  mixed_cells,      // one weak cell among good ones
  cold_alkaline,    // alkaline cells in the cold
  knocked_switch,   // one switch between the packs and what must run
  single_point,     // one cable, cup or box whose loss ends the day
};

struct Figure {
  std::string_view name;  // with its unit: "drop_v"
  double value = 0.0;
};

// Where a rule applies, with its numbers.
struct Item {
  decode::Place place{};
  std::string what{};   // "box.out-1 to recorder.dc", "recorder", "C1"
  std::string other{};  // the second thing the sentence needs; may be empty
  std::vector<std::string> names{};
  std::vector<Figure> figures{};
  // Of the inventory, for marks on the drawing; -1: none.
  int wire = -1, box = -1, device = -1, holder = -1;
  // Where the limit comes from, when it is a catalogue figure.
  const catalogue::Entry* entry = nullptr;
  std::string_view entry_key{};

  [[nodiscard]] bool has(std::string_view name) const {
    for (const Figure& figure : figures) {
      if (figure.name == name) return true;
    }
    return false;
  }
  [[nodiscard]] double operator[](std::string_view name) const {
    for (const Figure& figure : figures) {
      if (figure.name == name) return figure.value;
    }
    throw std::logic_error("a finding lacks its figure " + std::string(name));
  }
};

struct Finding {
  Rule rule = Rule::drop;
  Severity severity = Severity::note;
  std::vector<Item> items{};
};

std::string_view rule_key(Rule rule);              // "fuse_load"
std::string_view severity_key(Severity severity);  // "stops"

}  // namespace tillwrap::findings
