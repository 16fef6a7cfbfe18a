// What each thing of a day is made of, beside what the engine computes with: kinds, plugs, wires, prices, the line it
// was written in. Index for index with the scenario's vectors.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "catalogue/kinds.hpp"
#include "day/scenario.hpp"
#include "decode/node.hpp"

namespace tillwrap::kit {

// How a pack goes on a journey, as the user says.
enum class Travels { unsaid, spare, in_device, stays };

struct PackItem {
  const catalogue::PackKind* kind = nullptr;
  decode::Place place;
  double health = 1.0;             // capacity over new
  double resistance_factor = 1.0;  // over new
  bool own_cells = false;          // by a parameter file of its own
  double rated_ah = 0.0;           // label
  double rated_wh = 0.0;           // label
  double price = 0.0;              // in the user's currency when `own_price`, else the kind's rough guess in USD
  bool own_price = false;
  Travels travels = Travels::unsaid;
  std::string bought;  // as written
};

struct HolderItem {
  const catalogue::HolderKind* kind = nullptr;  // null: a charger bay
  decode::Place place;
  bool worn = false;
  std::string sits_in;  // what it was said to be in: a box, a device; empty: a lead runs from it
};

struct InputItem {
  std::string name;    // "recorder.dc"
  std::string socket;  // connector id
  int port = -1;       // of the scenario; -1: not wired
  int priority = 1;
  double least_v = 0.0, most_v = 0.0;
  double cutoff_v = 0.0, restart_v = 0.0;
};

struct DeviceItem {
  const catalogue::DeviceKind* kind = nullptr;  // null: a box's own electronics
  decode::Place place;
  std::string group;
  std::vector<InputItem> inputs;
  std::string meter;  // profile set by the user; empty: not said
  double phantom_a = 0.0;
  double phantom_w = 0.0;  // share of every mode that is phantom power
};

struct SupplyItem {
  const catalogue::SourceKind* kind = nullptr;  // null: what a charger is fed from
  decode::Place place;
  std::string stands_in;  // holder of its dummy pack
};

struct OutputItem {
  std::string name;  // "box.out-1"
  const catalogue::BoxOutput* kind = nullptr;
  int port = -1;
  double fuse_a = 0.0;  // 0: none
};

struct BoxItem {
  const catalogue::BoxKind* kind = nullptr;
  decode::Place place;
  int device = -1;  // its own electronics
  double main_fuse_a = 0.0;
  std::vector<OutputItem> outputs;
};

// A lead someone plugs in.
struct WireItem {
  int lead = -1;  // of the scenario
  decode::Place place;
  std::string from, to;                // points: "box.out-1", "recorder.dc"
  std::string from_plug, from_socket;  // connector ids; empty: fixed or none
  std::string to_plug, to_socket;
  bool worn = false;
  bool shield_return = false;    // an audio shield between the same two things shares its return current
  bool centre_negative = false;  // a barrel against the usual polarity
  double length_m = 0.0;         // 0: the pack's or adapter's own lead
  int awg = -1;                  // -1: sized by area
  double area_mm2 = 0.0;
  double fuse_a = 0.0;     // in the lead
  std::string fuse_kind;   // of the fuse in the lead
  double guard_a = 0.0;    // rating of the nearest fuse before it; 0: none
  std::string guard_kind;  // catalogue id
};

struct ChargerItem {
  const catalogue::ChargerKind* kind = nullptr;
  decode::Place place;
  std::string name;
  int supply = -1;
  int where = 0;  // place of the scenario
  double amps_per_bay = 0.0;
  double together_a = 0.0;  // all bays together; 0: no limit
  double together_w = 0.0;
  bool in_turn = false;      // one bay after another, by itself
  std::vector<int> holders;  // its bays in use
};

// The rest after the day, as the user says: who is at the chargers when. Clock times as written, seconds after
// midnight.
struct Rest {
  decode::Place place;
  std::optional<double> from_s, until_s;
  std::vector<day::Span> there;
  bool asleep = false;  // sleeping beside the chargers in between
  int get_ups = 1;      // at most
  int where = -1;       // place of the scenario the chargers stand in; -1: their own
  std::optional<double> air_k;
  std::vector<day::Span> power;  // when there is power; empty: all the time
  double watts = 0.0;            // for all chargers together; 0: no limit
};

// How the user wants to read numbers.
struct Settings {
  bool twelve_hours = false;
  bool fahrenheit = false;
  bool pounds = false;
  std::string currency = "USD";  // ISO 4217
};

struct Inventory {
  std::vector<PackItem> packs;
  std::vector<HolderItem> holders;
  std::vector<DeviceItem> devices;
  std::vector<SupplyItem> supplies;
  std::vector<BoxItem> boxes;
  std::vector<WireItem> wires;
  std::vector<ChargerItem> chargers;
  Settings settings;
  std::optional<Rest> rest;
  std::map<std::string, double>
      prices;  // the user's, in the user's currency, by catalogue id; "lead": any made-up lead
};

}  // namespace tillwrap::kit
