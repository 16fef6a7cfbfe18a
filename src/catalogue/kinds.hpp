// The kinds of things a kit is made of, as the catalogue describes them. SI unless the name says otherwise; fractions
// inside. Plugs, packs, fuses and meter profiles are referred to by id.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "catalogue/entry.hpp"
#include "cell/cell.hpp"
#include "cell/pack.hpp"

namespace tillwrap::catalogue {

// One cell's parameter set.
struct CellKind : Entry {
  cell::CellParams params;
};

// P_in = idle_w + gain * P + loss_ohm * P^2 / V^2: what a converter takes at its input (V there) to give P at its
// output.
struct Regulator {
  double output_v = 0.0;
  double idle_w = 0.0;
  double gain = 1.0;  // >= 1
  double loss_ohm = 0.0;
  double most_w = 0.0;         // shuts down above
  double input_least_v = 0.0;  // 0 = no limit known
  double input_most_v = 0.0;
  double low_load_a = 0.0;  // switches itself off under this output current ...
  double low_load_s = 0.0;  // ... after this long; 0 = never
};

// One voltage a USB PD source can offer.
struct PowerProfile {
  double volts = 0.0;
  double most_a = 0.0;
};

struct TravelClass {
  enum class Kind { lithium_ion, lithium_metal, nickel, alkaline, lead_non_spillable };
  Kind kind = Kind::lithium_ion;
  double rated_wh = 0.0;           // nominal volts x rated Ah, as on the label
  double lithium_g = 0.0;          // lithium metal content, whole set
  bool is_power_bank = false;      // made to feed other things by USB
  bool may_be_power_bank = false;  // has an output of its own besides: count it both ways
  int pieces = 1;                  // spares counted one by one (loose cells)
};

struct PackKind : Entry {
  std::string cell;        // CellKind id
  double rated_ah = 0.0;   // whole pack, label
  double nominal_v = 0.0;  // whole pack, label
  double rated_wh = 0.0;   // whole pack, label
  int series = 1;
  int parallel = 1;
  double electronics_ohm = 0.0;
  double weak_fraction = 1.0;  // typical; 1 = equal cells
  double idle_a = 0.0;
  bool has_gauge = false;
  cell::Protection protection;
  double mass_kg = 0.0;
  double heat_capacity_j_k = 0.0;
  double cooling_w_k = 0.0;
  std::vector<std::string> fits;       // holder ids
  std::string plug;                    // its own output lead or socket (connector id); empty when a holder contacts it
  std::vector<std::string> taps;       // further outputs on the pack itself (connector ids)
  std::optional<Regulator> regulator;  // banks: output volts tell nothing about what is left
  std::vector<PowerProfile> profiles;  // USB PD banks
  double renegotiation_s = 0.0;        // all ports off when a port or the mains changes
  double charge_amps = 0.0;            // usual charging current
  double charge_volts = 0.0;           // whole pack, end of charge; 0 = not charged
  TravelClass travel;
  double price_usd = 0.0;  // rough, year of `checked`
};

// The engine's parameters of a pack of this kind: capacity scaled from its cell set, aged.
cell::PackParams pack_params(const PackKind& kind, const CellKind& cell, const cell::Ageing& age = {});

// ---- devices

struct Mode {
  std::string name;
  Estimate draw_w;  // constant power when > 0
  Estimate draw_a;  // or constant current when > 0
  bool constant_current = false;
};

struct DeviceInput {
  std::string name;
  std::string plug;      // connector id (the socket on the device)
  int priority = 1;      // 1 is taken first; equal numbers: the higher volts wins
  double least_v = 0.0;  // allowed range
  double most_v = 0.0;
  double cutoff_v = 0.0;   // stops below
  double restart_v = 0.0;  // starts again above
};

struct Phantom {
  double supply_v = 48.0;
  double feed_ohm = 3400.0;  // common feed resistance R/2
  double limit_a = 0.0;      // what the supply gives to all inputs together; 0 = unknown
  int inputs = 0;
  double efficiency = 0.75;
  double idle_w = 0.0;
};

struct DeviceKind : Entry {
  std::string family;       // recorder, receiver, transmitter, body-pack, timecode, monitor, ...
  std::vector<Mode> modes;  // the first is the usual one
  std::vector<DeviceInput> inputs;
  double restart_s = 0.0;             // from volts back to working
  std::string stop_cost;              // what a stop costs: boot, re-jam, relock
  double converter_efficiency = 1.0;  // draws are at the input when 1
  double converter_idle_w = 0.0;
  double hold_up_s = 0.0;  // rides through at its usual draw; 0 = none
  double hold_up_f = 0.0;  // capacitance at its input
  double inrush_f = 0.0;
  std::optional<Phantom> phantom;
  std::vector<std::string> meters;   // meter profile ids it offers
  std::vector<std::string> holders;  // holders built in ("tray-8aa", "door-2aa")
};

// A display of what is left for packs of one chemistry and number of cells. How much it shows at which volts goes by
// the device: meters/scale.hpp.
struct MeterProfile : Entry {
  std::string chemistry;  // nickel, lithium, alkaline, lead
  int cells = 0;
  double empty_v = 0.0;  // usual end of such a pack under load
};

// ---- connections

struct ConnectorKind : Entry {
  double contact_new_ohm = 0.0;  // one contact
  double contact_worn_ohm = 0.0;
  int contacts = 2;  // in the current's path, there and back
  double rating_a = 0.0;
  bool locks = false;
  std::string polarity;                   // in words: "pin 1 negative, pin 4 positive"
  bool can_reverse = false;               // can be forced in the wrong way round
  std::vector<std::string> mates;         // connector ids, itself included when it does
  std::vector<std::string> fits_loosely;  // this plug goes into that socket but makes poor contact
  double price_usd = 0.0;                 // rough, one such end on a made-up lead; contacts: a dummy pack
};
enum class Fit { mates, loose, no };

struct WireKind : Entry {
  int awg = -1;  // -1 when sized by area
  double area_mm2 = 0.0;
  double ohm_per_m = 0.0;    // one conductor, 20 °C
  double ampacity_a = 0.0;   // short cable in free air
  bool class5 = false;       // a size of IEC 60228
  double price_usd_m = 0.0;  // rough, a metre of two conductors
};

struct FusePoint {
  double ratio = 0.0;    // current over rating
  double holds_s = 0.0;  // carries it at least so long; infinite: for ever
  double opens_s = 0.0;  // open by then; infinite: need not open
};

struct FuseKind : Entry {
  std::string standard;
  bool resets = false;                              // PPTC: latched until unloaded
  double long_fraction = 1.0;                       // load for hours at most this fraction of the rating
  std::vector<FusePoint> points;                    // ascending ratio
  Estimate drop_v;                                  // across it at its rating
  std::vector<double> ratings_a;                    // common sizes
  std::vector<std::pair<double, double>> derating;  // PPTC: (K, factor on hold current)
};

struct BoxOutput {
  std::string name;
  std::string plug;
  std::string fuse;  // FuseKind id; empty = none
  double fuse_a = 0.0;
  bool always_on = false;              // before the master switch
  std::optional<Regulator> regulator;  // regulated output
};

struct BoxKind : Entry {
  std::vector<std::string> inputs;  // holder ids or connector ids, one each
  std::vector<BoxOutput> outputs;
  std::string main_fuse;
  double main_fuse_a = 0.0;
  bool master_switch = false;
  bool priority_inputs = false;  // true: first input that is alive; false: the higher volts wins
  double or_drop_v = 0.0;        // across the element that joins the inputs; 0 = one input
  double internal_ohm = 0.0;     // input to output, without fuses and contacts
  double idle_w = 0.0;
  double least_v = 0.0;  // input range
  double most_v = 0.0;
  double mass_kg = 0.0;
  double price_usd = 0.0;  // rough
};

struct HolderKind : Entry {
  std::vector<std::string> fits;  // pack ids
  double contact_ohm = 0.0;       // whole holder, all contacts in series
  double contact_worn_ohm = 0.0;
  std::string plug;  // its lead (connector id); empty when built in
  double rating_a = 0.0;
  double fuse_a = 0.0;
  double change_s = 0.0;          // hands needed to change the pack
  std::string place;              // usual place: bag, cart, cast, camera
  std::vector<std::string> taps;  // outputs on the holder itself (connector ids)
  double price_usd = 0.0;         // rough; 0: part of a device or a box
};

struct SourceKind : Entry {  // a mains adapter or a vehicle socket
  Estimate open_v;           // unloaded
  double most_a = 0.0;
  double series_ohm = 0.0;
  std::vector<PowerProfile> profiles;  // USB PD
  double renegotiation_s = 0.0;
  double ride_through_s = 0.0;  // mains gap it bridges
  bool dead_with_ignition = false;
  double efficiency = 1.0;  // from the mains
  std::string plug;
  double price_usd = 0.0;  // rough
};

struct ChargerKind : Entry {
  std::string chemistry;  // lithium-ion, lfp, nickel, lead
  int bays = 1;
  double amps_per_bay = 0.0;
  double amps_together = 0.0;  // limit of all bays; 0 = bays times amps_per_bay
  double volts = 0.0;          // whole pack, end of charge; 0: per cell below
  double volts_per_cell = 0.0;
  double end_fraction = 0.0;  // stops at this fraction of its current
  double put_in = 1.0;        // coulombs needed per coulomb stored
  double coldest_k = 0.0;
  double hottest_k = 0.0;
  double efficiency = 0.0;        // from the mains
  std::vector<std::string> fits;  // pack ids
  double mass_kg = 0.0;           // with its mains lead
  double price_usd = 0.0;         // rough
};

// One sentence of the rules for batteries on passenger aircraft, with the days it holds for.
struct TravelRule : Entry {
  enum class Says {
    what_may,  // where a battery of a class goes
    limit,     // how many a person may carry
    notice,    // to be read, nothing to compute
  };
  enum class Carried { spare, in_device, either };
  enum class Goes { cabin, cabin_or_hold, cargo };
  Says says = Says::notice;
  std::string valid_from, valid_until;  // ISO 8601, both days included
  std::string text;
  // what_may
  bool covers_banks = false;  // power banks, whatever is inside; otherwise `covers`
  TravelClass::Kind covers = TravelClass::Kind::lithium_ion;
  Carried carried = Carried::either;
  double over_wh = -1.0, to_wh = -1.0;                // exclusive, inclusive; negative: no bound
  double over_lithium_g = -1.0, to_lithium_g = -1.0;  // of one battery
  double to_v = -1.0;
  Goes goes = Goes::cabin;
  bool approval = false;               // the operator must agree
  std::vector<std::string> counts;     // ids of limits it counts toward
  std::vector<std::string> may_count;  // ... by a strict reading only
  std::string protect;
  // limit
  int most_a_person = 0;
};

// Wording of a mark, for people.
struct MarkWording : Entry {
  std::string wording;
  std::string meaning;
};

}  // namespace tillwrap::catalogue
