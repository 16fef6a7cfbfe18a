// Work space of the rules and the limits they share.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "findings/circuit.hpp"
#include "findings/findings.hpp"

namespace tillwrap::findings {

inline std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Volts lost before a device, over nominal: worth a look from 2 %, a warning from 3 % (common practice); 3 % for what
// must not fail and 10 % for the rest in marine practice (secondary source).
inline constexpr double kDropNote = 0.02;
inline constexpr double kDropWarn = 0.03;
inline constexpr double kDropMost = 0.10;
// Over nine tenths of a hard limit is close (common practice).
inline constexpr double kNear = 0.9;
// A device whose cut is fixed above where the line gives most power; x = P / (V²/4R).
inline constexpr double kCollapseNote = 0.5;
// IEC 60364-4-43, 433.1: a protective device must operate surely below 1.45 times what the wire carries (from memory).
inline constexpr double kOperatesBelow = 1.45;
// Ampacity of short leads is common practice and no better than this; closer calls are left alone.
inline constexpr double kAmpacityDoubt = 1.1;
// Equivalent series resistance of input capacitors (from memory: 20 to 100 mohm for electrolytics).
inline constexpr double kCapacitorOhm = 0.05;
// Melting I²t over rated current squared, s, of quick tube fuses where the standard gives no short times (from memory:
// 0.3 to 2).
inline constexpr double kMeltingSeconds = 0.5;
// Shield of an audio lead, ohm per metre, and its two contacts (from memory: 20 to 40 mohm/m; 3 to 10 mohm a contact).
inline constexpr double kShieldOhmPerM = 0.03;
inline constexpr double kShieldContactsOhm = 0.01;

struct Work {
  const day::Scenario& day;
  const kit::Inventory& kit;
  const catalogue::Catalogue& known;
  const forecast::Forecast& forecast;
  Circuit circuit;
  Seen seen;
  std::vector<Finding> found;

  void add(Rule rule, Severity severity, std::vector<Item> items);
  // A real thing the user listed, not a box's own electronics.
  [[nodiscard]] bool listed(int device) const { return kit.devices[at(device)].kind != nullptr; }
  [[nodiscard]] const kit::WireItem* wire_of(int lead) const;
  [[nodiscard]] int wire_index(int lead) const;
  [[nodiscard]] int box_index(const std::string& name) const;
  // The wire, box or holder a lead belongs to, as an item to fill.
  [[nodiscard]] Item item_of_lead(int lead) const;
  [[nodiscard]] double nominal_v(const Feed& feed) const;
  [[nodiscard]] double full_v(const Feed& feed, std::string* pack = nullptr) const;  // rested off the charger
  // The lead whose fuse guards this one: itself or the nearest upstream with one; -1.
  [[nodiscard]] int guard(int lead) const;
  [[nodiscard]] const catalogue::FuseKind* fuse_kind(int lead) const;
  [[nodiscard]] std::string name_of_feed(const Feed& feed) const;
};

// Rated volts, Ah and the least ratio a fuse must open at within an hour.
double hour_ratio(const wiring::FuseLaw& law);
// The pack's resistance against a pulse: volts lost from 0 to 10 A over 10 A, full, at 25 °C.
double pulse_ohm(const day::Pack& pack);
// Current share of a second conductor beside the first: R1 / (R1 + R2).
double shield_share(double return_ohm, double shield_ohm);
// What a line at `volts` through `ohm` can give a constant-power load at most: V²/4R.
double most_power_w(double volts, double ohm);
// I²t of charging C to V through R: C V²/(2R).
double inrush_a2s(double farad, double volts, double ohm);
// How long that current stays above `amps`: RC ln(V / (R I)); 0 when it never is.
double inrush_above_s(double farad, double volts, double ohm, double amps);
// How long a capacitor carries `power_w` from one voltage down to another: C (V1² - V2²) / 2P.
double hold_up_s(double farad, double from_v, double to_v, double power_w);

void look_at_copper(Work& work);
void look_at_fuses(Work& work);
void look_at_plugs(Work& work);
void look_at_sources(Work& work);
void look_at_cells(Work& work);
void look_at_single_points(Work& work, bool simulate);

}  // namespace tillwrap::findings
