// Small days for the tests, built in a few lines: a `Kit` collects ports, packs, holders, leads and devices and runs.
//
// `straight_pack` is made for answers by hand: open-circuit volts in a straight line over charge, one resistance,
// isothermal, so U(q) = u_full - slope q and V = U - I R.
#pragma once

#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "day/scenario.hpp"
#include "forecast/changes.hpp"
#include "forecast/forecast.hpp"
#include "forecast/simulator.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::test {

inline constexpr double kHour_s = 3600.0;
inline constexpr double kMinute_s = 60.0;
inline constexpr double kRoom_k = 293.15;

inline std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Straight {
  double full_v = 16.0;
  double empty_v = 12.0;
  double capacity_ah = 1.0;
  double ohm = 0.0;
};

// Volts and resistance of the whole pack; one cell.
inline cell::PackParams straight_pack(const Straight& s) {
  cell::PackParams pack;
  pack.label = "straight";
  pack.heat_capacity_j_k = 1e12;
  pack.electronics_ohm = s.ohm;
  // A whisper of cell resistance keeps dV/dI negative where the pack is asked to be ideal.
  pack.cell.series_ohm = s.ohm > 0.0 ? 0.0 : 1e-6;
  pack.cell.capacity_as = s.capacity_ah * kSecondsPerHour;
  pack.cell.rated_ah = s.capacity_ah;
  pack.cell.ocv = Curve({0.0, 0.5, 1.0}, {s.empty_v, 0.5 * (s.empty_v + s.full_v), s.full_v});
  return pack;
}

inline cell::PackParams catalogue_pack(const std::string& kind) {
  const catalogue::Catalogue& all = catalogue::builtin();
  const catalogue::PackKind* pack = all.pack(kind);
  if (pack == nullptr) throw std::invalid_argument("no pack kind " + kind);
  return catalogue::pack_params(*pack, *all.cell(pack->cell));
}

inline wiring::FuseLaw catalogue_fuse(const std::string& kind) {
  const catalogue::FuseKind* found = catalogue::builtin().fuse(kind);
  if (found == nullptr) throw std::invalid_argument("no fuse kind " + kind);
  wiring::FuseLaw law;
  law.standard = found->standard;
  law.long_load_ratio = found->long_fraction;
  law.resettable = found->resets;
  for (const catalogue::FusePoint& point : found->points) {
    if (point.opens_s < 1e12) law.points.push_back({.ratio = point.ratio, .within_s = point.opens_s});
  }
  std::vector<double> x;
  std::vector<double> y;
  for (const auto& [kelvin, factor] : found->derating) {
    x.push_back(kelvin);
    y.push_back(factor);
  }
  if (!x.empty()) law.derating = Curve(x, y);
  return law;
}

class Kit {
 public:
  day::Scenario day;

  // One place at 20 °C, one period of `hours` that is the whole day.
  explicit Kit(double hours = 24.0) {
    day.title = "test";
    day.places.push_back({.name = "room", .kind = day::Place::Kind::fixed, .fixed_k = kRoom_k});
    day.periods.push_back({.name = "day", .from_s = 0.0, .until_s = hours * kHour_s, .air_k = kRoom_k});
    day.call_s = 0.0;
    day.wrap_s = day.off_s = hours * kHour_s;
  }

  int port(const std::string& name, int place = 0) {
    day.ports.push_back({.name = name, .place = place});
    return static_cast<int>(day.ports.size()) - 1;
  }

  int pack(const cell::PackParams& params, double charge = 1.0) {
    day::Pack p;
    p.params = params;
    p.start_charge = charge;
    p.mount = "any";
    p.charge_v = params.series * params.cell.ocv.value(1.0);
    day.packs.push_back(p);
    return static_cast<int>(day.packs.size()) - 1;
  }

  // A holder with its first pack in from the start; more slots are added by hand.
  int holder(const std::string& name, int at_port, int first_pack, double contact_ohm = 0.0) {
    day::Holder h;
    h.name = name;
    h.accepts = {"any"};
    h.port = at_port;
    h.contact_ohm = contact_ohm;
    if (first_pack >= 0) h.slots.push_back({.pack = first_pack, .at_s = day.periods.front().from_s});
    day.holders.push_back(h);
    return static_cast<int>(day.holders.size()) - 1;
  }

  int lead(int from, int to, double cable_ohm, double contact_ohm = 0.0) {
    day.leads.push_back({.name = "lead " + std::to_string(day.leads.size()),
                         .from = from,
                         .to = to,
                         .cable_ohm = cable_ohm,
                         .contact_ohm = contact_ohm});
    return static_cast<int>(day.leads.size()) - 1;
  }

  // Constant power at an inner port of its own behind a lead of `ohm` (copper at 20 °C) from `from`.
  int device(const std::string& name, int from, double watts, double cutoff_v, double restart_v, double ohm = 0.0) {
    const int inner = port(name);
    const int wire = lead(from, inner, ohm);
    return device_at(name, inner, wire, {.name = "on", .power_w = watts}, cutoff_v, restart_v);
  }

  int device_at(const std::string& name, int inner, int wire, const day::Mode& mode, double cutoff_v,
                double restart_v) {
    day::Device d;
    d.name = name;
    d.port = inner;
    d.cutoff_v = cutoff_v;
    d.restart_v = restart_v;
    d.modes = {mode, {.name = "off", .off = true}};
    if (wire >= 0) d.inputs.push_back({.lead = wire, .cutoff_v = cutoff_v, .restart_v = restart_v});
    day.devices.push_back(d);
    for (day::Period& period : day.periods) period.mode.push_back(0);
    return static_cast<int>(day.devices.size()) - 1;
  }

  int supply(const std::string& name, int at_port, double volts, double ohm, double limit_a = 1e9) {
    day.supplies.push_back({.name = name, .port = at_port, .volts = volts, .ohm = ohm, .limit_a = limit_a});
    for (day::Period& period : day.periods) period.supply_live.push_back(1);
    return static_cast<int>(day.supplies.size()) - 1;
  }

  // Cuts the period in force at `at_s` in two; returns the index of the later one, to be changed.
  int split(double at_s, const std::string& name = "next") {
    for (std::size_t k = 0; k < day.periods.size(); ++k) {
      if (day.periods[k].from_s < at_s && at_s < day.periods[k].until_s) {
        day::Period later = day.periods[k];
        later.name = name;
        later.from_s = at_s;
        day.periods[k].until_s = at_s;
        day.periods.insert(day.periods.begin() + static_cast<std::ptrdiff_t>(k) + 1, later);
        return static_cast<int>(k) + 1;
      }
    }
    throw std::invalid_argument("no period holds that moment");
  }
  void mode_from(double at_s, int device, int mode) {
    const int first = split(at_s);
    for (std::size_t k = at(first); k < day.periods.size(); ++k) day.periods[k].mode[at(device)] = mode;
  }
  void supply_from(double at_s, int supply, bool live) {
    const int first = split(at_s);
    for (std::size_t k = at(first); k < day.periods.size(); ++k) day.periods[k].supply_live[at(supply)] = live ? 1 : 0;
  }

  [[nodiscard]] double until_s(double beyond_s = 0.0) const { return day.off_s + beyond_s; }

  // The day as planned by the forecast, looked at until off plus `beyond_s`.
  [[nodiscard]] forecast::DayRun run(double beyond_s = 0.0, double tolerance = 1.0, bool trace = false) const {
    const forecast::Model model(day);
    const forecast::ChangePlan plan = forecast::plan_changes(model, until_s(beyond_s));
    return forecast::run_day(model, plan,
                             {.search_until_s = until_s(beyond_s), .trace = trace, .tolerance = tolerance});
  }
};

inline int count(const forecast::DayRun& run, forecast::EventKind kind, int index = -1) {
  int n = 0;
  for (const forecast::Event& event : run.events)
    n += event.kind == kind && (index < 0 || event.index == index) ? 1 : 0;
  return n;
}

// Time of the `nth` (from 0) event of a kind; kNever when there is none.
inline double time_of(const forecast::DayRun& run, forecast::EventKind kind, int index = -1, int nth = 0) {
  for (const forecast::Event& event : run.events) {
    if (event.kind == kind && (index < 0 || event.index == index) && nth-- == 0) return event.at_s;
  }
  return forecast::kNever;
}

inline const forecast::Event* find(const forecast::DayRun& run, forecast::EventKind kind, int index = -1) {
  for (const forecast::Event& event : run.events) {
    if (event.kind == kind && (index < 0 || event.index == index)) return &event;
  }
  return nullptr;
}

}  // namespace tillwrap::test
