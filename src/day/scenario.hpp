// One shooting day ready to compute: places, packs, holders, wiring, devices, periods. Names are resolved to indices;
// everything is SI. Built by the day-file decoder (or by a program using the library) and checked by `validate`.
#pragma once

#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "cell/charging.hpp"
#include "cell/pack.hpp"
#include "wiring/fuse.hpp"
#include "wiring/regulator.hpp"

namespace tillwrap::day {

inline constexpr double kAuto = std::numeric_limits<double>::quiet_NaN();  // "let the forecast pick the moment"

// Where things are: decides their temperature and when hands can reach them.
struct Place {
  enum class Kind {
    air,      // at the air's temperature
    bag,      // one warm node heated by what runs in it
    fixed,    // held at `fixed_k` (a pocket, a heated van)
    between,  // air plus `share` of the way to `fixed_k` (under costume)
  };
  std::string name{};
  Kind kind = Kind::air;
  double heat_capacity_j_k = 0.0;  // bag
  double cooling_w_k = 1.0;        // bag to air
  double fixed_k = 298.15;
  double share = 0.5;
};

struct Pack {
  cell::PackParams params{};                        // label, kind and the aged cell inside
  std::optional<wiring::RegulatorLaw> regulator{};  // a bank: what its output is, not its cells
  std::string mount{};                              // what it fits into
  double start_charge = 1.0;
  int spare_place = 0;       // where it waits
  double charge_v = 0.0;     // charging end volts of the whole pack; 0 = not rechargeable, or filled by coulombs
  bool by_coulombs = false;  // nickel: rechargeable without end volts
  double taper_v = 0.0;      // see cell::taper_ohm
  double coldest_charge_k = 273.15;
  double hottest_charge_k = 318.15;
};

// A point of the wiring where leads meet: a box terminal, a device input, a holder's contacts.
struct Port {
  std::string name{};
  int place = 0;
};

struct Fuse {
  wiring::FuseLaw law{};
  double rated_a = 0.0;
  double ohm = 0.0;
};

// A connection between two ports; resistance split by what makes it, for the account and the findings.
struct Lead {
  std::string name{};
  int from = 0;  // port on the supply side
  int to = 0;
  int place = 0;
  double cable_ohm = 0.0;  // copper at 20 °C, both conductors
  double contact_ohm = 0.0;
  std::optional<Fuse> fuse{};
  bool one_way = false;
  double drop_v = 0.0;
  double ampacity_a = 0.0;     // of the wire; 0 = unknown
  double plug_rating_a = 0.0;  // of the weaker plug; 0 = unknown
  int switched_by = -1;        // device whose off mode opens it (a box's master switch)
};

enum class Need {
  optional,  // nice to have
  rolling,   // must run from call to wrap, may drop out during a planned change
  unbroken,  // must run from call to wrap, changes included
};

struct Mode {
  std::string name{};
  double power_w = 0.0;    // after the device's own converter
  double current_a = 0.0;  // at its input
  double siemens = 0.0;    // at its input
  bool off = false;
};

struct DeviceInput {
  int lead = -1;          // into the device's inner port; opened when not selected
  double least_v = 0.0;   // the input counts as present above this
  double return_v = 0.0;  // comes back to it above this
  double cutoff_v = 0.0;  // on this input the device stops below
  double restart_v = 0.0;
  double highest_v = 1e9;  // most it takes
};

struct Device {
  std::string name{};
  std::string kind{};
  int port = 0;  // its inner port
  int place = 0;
  Need need = Need::rolling;
  std::vector<Mode> modes{};  // [0] is the usual one
  double idle_w = 0.0;        // converter standing draw
  double efficiency = 1.0;
  double scale = 1.0;     // measured draw over the sum of parts
  double cutoff_v = 0.0;  // with one input, or with inputs joined by diodes
  double restart_v = 0.0;
  double highest_v = 1e9;  // without a selection of inputs
  double restart_s = 0.0;  // power back to working again
  bool restarts_itself = true;
  double hold_up_f = 0.0;             // input capacitance that carries a gap
  std::vector<DeviceInput> inputs{};  // by priority; empty or one = no selection
};

// A pack put in at `at_s`; kAuto lets the forecast choose the moment within the windows.
struct Slot {
  int pack = 0;
  double at_s = kAuto;
  double out_s = kAuto;  // when it comes out again and nothing follows: charger bays, a pack that was taken out
  double gap_s = 0.0;    // nothing is in the holder so long from `at_s` on; 0: as its change takes
};

struct Holder {
  std::string name{};
  std::vector<std::string> accepts{};  // mounts that fit
  int port = 0;                        // where its contacts are; behind a bank's regulator the output
  int place = 0;
  double contact_ohm = 0.0;
  double gap_s = 20.0;           // hands out, hands in
  bool built_in = false;         // its pack cannot be taken out on the day
  double renegotiation_s = 0.0;  // USB PD: all ports off this long when a port's load comes or goes
  bool one_way = false;          // ideal diode or Schottky in the cup
  double drop_v = 0.0;
  std::vector<Slot> slots{};  // in order
  // A charger bay feeds its pack instead of drawing from it.
  int charger_supply = -1;
  double charge_a = 0.0;
  double charge_end = 0.05;     // done when the current has tapered to this share of charge_a
  double charge_put_in = 1.25;  // by coulombs: put in for each missing
};

// Mains adapter, vehicle socket or charger feed.
struct Supply {
  std::string name{};
  int port = -1;  // -1: feeds charger bays only
  double volts = 0.0;
  double ohm = 0.05;
  double limit_a = 1e9;
  bool vehicle = false;
};

struct Regulator {
  std::string name{};
  int in_port = 0;
  int out_port = 0;
  int place = 0;
  wiring::RegulatorLaw law{};
};

struct Period {
  std::string name{};
  double from_s = 0.0;  // seconds after midnight of the first day, local
  double until_s = 0.0;
  double air_k = 298.15;
  std::vector<int> mode{};          // one a device
  std::vector<char> supply_live{};  // one a supply
};

struct NoHands {  // a stretch in which a place is out of reach
  int place = 0;
  double from_s = 0.0;
  double until_s = 0.0;
};

struct Span {
  double from_s = 0.0;
  double until_s = 0.0;
};

struct Scenario {
  std::string title{};
  double call_s = 0.0;
  double wrap_s = 0.0;       // shooting stops
  double off_s = 0.0;        // the kit may go off; wrap-out lies between
  double overrun_s = 0.0;    // how late it may go
  double reserve_s = 600.0;  // change this long before the pack would be flat
  std::vector<Place> places{};
  std::vector<Pack> packs{};
  std::vector<Port> ports{};
  std::vector<Lead> leads{};
  std::vector<Device> devices{};
  std::vector<Holder> holders{};
  std::vector<Supply> supplies{};
  std::vector<Regulator> regulators{};
  std::vector<Period> periods{};  // in order, no gaps between first and last
  std::vector<NoHands> no_hands{};
};

// Stretches in which hands can reach a place, in order, from the first period to `until_s`; after wrap the last
// period's reach goes on.
std::vector<Span> windows(const Scenario& scenario, int place, double until_s);

// Temperature of a place that is not the bag, K.
double place_k(const Place& place, double air_k);

// How a charger bay fills a pack.
cell::ChargeLaw law_in_bay(const Pack& pack, double charge_a, double end_fraction, double put_in);
[[nodiscard]] inline bool rechargeable(const Pack& pack) { return pack.charge_v > 0.0 || pack.by_coulombs; }

// Copper's resistance against 20 °C: 1 + 0.00393 (T - 20 °C) (IEC 60028, from memory).
double copper_factor(double temperature_k);

}  // namespace tillwrap::day
