// What a computed day says: outages, changes, use of each pack, volts at each device, the energy account.
#pragma once

#include <limits>
#include <string>
#include <vector>

namespace tillwrap::forecast {

inline constexpr double kNever = std::numeric_limits<double>::infinity();

// Why power went away.
enum class Cause {
  none,
  low_volts,         // device's own cut-off reached
  collapse,          // no operating point: the wiring cannot carry the power
  pack_flat,         // the pack's protection cut off on volts
  pack_tripped,      // ... on current
  pack_temperature,  // ... on temperature
  pack_asleep,       // switched itself off on too small a load
  holder_empty,      // nothing in the holder
  change,            // between pack out and pack in
  ports_off,         // USB PD ports dark while they renegotiate
  fuse_open,
  protector_tripped,  // resettable fuse
  supply_off,         // mains or vehicle socket gone
  regulator_off,
  not_connected,
};

struct CauseNote {
  Cause cause = Cause::none;
  int holder = -1;
  int pack = -1;
  int lead = -1;
  int supply = -1;
  int regulator = -1;
  double charge = 0.0;  // of the pack named, at that moment
  double pack_v = 0.0;  // its terminal volts
  double pack_k = 0.0;
};

enum class EventKind {
  period,
  change_out,
  change_in,
  device_down,
  device_up,
  pack_off,
  fuse_open,
  protector_open,
  protector_closed,
  input_switched,
  regulator_down,
  regulator_up,
  supply_gone,
  supply_back,
  cell_reversed,
  over_volts,
  pack_charging,
  pack_full,
};

struct Event {
  double at_s = 0.0;
  EventKind kind = EventKind::period;
  int index = -1;  // of what the kind names: period, holder, device, lead, regulator, supply
  int pack = -1;
  double volts = 0.0;
  CauseNote why{};
  double limit_v = 0.0;  // of over_volts
};

// A pack in a holder, from in to out.
struct Stint {
  int holder = 0;
  int pack = 0;
  double in_s = 0.0;
  double out_s = kNever;
  double start_charge = 1.0;
  double end_charge = 1.0;
  double delivered_j = 0.0;
  double charged_j = 0.0;
  double lowest_k = kNever;
  double lowest_v = kNever;
  double ended_s = kNever;  // when it could no longer serve
};

struct DeviceUse {
  double energy_j = 0.0;     // at its terminals
  double lowest_v = kNever;  // while on
  double lowest_at_s = 0.0;
  double lowest_source_v = 0.0;  // same moment: of the pack, supply or regulator that carries it
  double cable_drop_v = 0.0;     // on the way from there
  double contact_drop_v = 0.0;   // ... the rest of the way: plugs, holder, fuses, diodes
  double highest_v = 0.0;
  double off_s = 0.0;  // out of action, call to off, its own off modes not counted
};

struct Account {
  double drawn_j = 0.0;  // open-circuit energy from all sources
  double devices_j = 0.0;
  double cables_j = 0.0;
  double contacts_j = 0.0;
  double converters_j = 0.0;
  double cells_j = 0.0;
  [[nodiscard]] double imbalance() const {
    const double sum = devices_j + cables_j + contacts_j + converters_j + cells_j;
    return drawn_j > 0.0 ? (drawn_j > sum ? drawn_j - sum : sum - drawn_j) / drawn_j : 0.0;
  }
};

struct Loss {
  int device = -1;  // -1: none
  double at_s = kNever;
  double volts = 0.0;
  CauseNote why{};
};

struct Change {
  int holder = 0;
  int out_pack = -1;
  int in_pack = -1;
  double at_s = 0.0;
};

// Curves for drawing; one row a recorded moment.
struct Trace {
  std::vector<double> at_s;
  std::vector<std::vector<double>> device_v;      // [device][row]
  std::vector<std::vector<double>> holder_v;      // [holder][row]
  std::vector<std::vector<double>> holder_a;      // of the cells
  std::vector<std::vector<double>> holder_out_a;  // at its contacts: behind a bank's regulator the output
  std::vector<std::vector<double>> holder_charge;
  std::vector<std::vector<double>> holder_k;
  std::vector<std::vector<int>> holder_pack;
  std::vector<std::vector<double>> place_k;  // [place][row]
  std::vector<std::vector<double>> lead_a;   // [lead][row], from supply to load positive
};

// How things stand at one moment that was asked for.
struct Probe {
  std::vector<double> device_v;  // at its inner port
  std::vector<double> device_a;
  std::vector<double> holder_out_a;  // as in the trace
  std::vector<double> supply_a;
  std::vector<int> holder_pack;  // -1: none
  std::vector<double> charge;    // of every pack
};

struct DayRun {
  Loss first_loss;                // first must-run loss between call and the end of the search
  double searched_until_s = 0.0;  // no loss found up to here when first_loss.device is -1
  std::vector<Stint> stints;
  std::vector<Change> changes;
  std::vector<DeviceUse> devices;
  std::vector<double> lead_loss_j;
  std::vector<Event> events;
  Account account;             // up to off
  std::vector<double> charge;  // of every pack, when the run ended
  Trace trace;
  std::vector<Probe> probes;  // as many as were asked for and reached
  long steps = 0;
  long solves = 0;
  long unsolved = 0;  // accepted moments whose operating point did not settle: none in a sound run
};

}  // namespace tillwrap::forecast
