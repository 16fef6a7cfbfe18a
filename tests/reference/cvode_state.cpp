#include "reference/cvode_state.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace tillwrap::reference {

using forecast::kNever;

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double shape(const Curve& curve, double x) { return curve.empty() ? 1.0 : curve.value(x); }

}  // namespace

DayState::DayState(const forecast::Model& model) : model_(model), day_(model.day) {
  const double air_k = day_.periods.front().air_k;
  for (const day::Place& place : day_.places) place_k_.push_back(day::place_k(place, air_k));
  heat_w_.assign(place_k_.size(), 0.0);
  for (const day::Pack& pack : day_.packs) {
    spare_.push_back(
        cell::rested(pack.params, pack.start_charge, day::place_k(day_.places[at(pack.spare_place)], air_k)));
  }
  rested_to_s_.assign(day_.packs.size(), day_.periods.front().from_s);
  holder_.resize(day_.holders.size());
  device_.resize(day_.devices.size());
  lead_.resize(day_.leads.size());

  const int ports = static_cast<int>(day_.ports.size());
  now_.nodes = ports + static_cast<int>(day_.holders.size());
  for (const day::Lead& lead : day_.leads)
    now_.branches.push_back({.a = lead.from, .b = lead.to, .one_way = lead.one_way, .drop_v = lead.drop_v});
  for (const day::Device& device : day_.devices) now_.loads.push_back({.node = device.port});
  for (const day::Supply& supply : day_.supplies)
    now_.supplies.push_back({.node = supply.port, .volts = supply.volts, .ohm = supply.ohm, .limit_a = supply.limit_a});
  for (const day::Regulator& regulator : day_.regulators)
    now_.regulators.push_back({.in = regulator.in_port, .out = regulator.out_port, .law = regulator.law});
  // A holder's contacts are a node of their own; the pack's electronics draw there. Behind it a contact resistance, a
  // bank's regulator, or in a bay the charger.
  for (std::size_t h = 0; h < day_.holders.size(); ++h) {
    const day::Holder& holder = day_.holders[h];
    const int node = ports + static_cast<int>(h);
    now_.packs.push_back({.node = node, .one_way = holder.one_way, .drop_v = holder.drop_v});
    now_.loads.push_back({.node = node, .floor_v = 0.5});
    if (holder.charger_supply >= 0) {
      now_.supplies.push_back({.node = node, .ohm = 0.01, .limit_a = holder.charge_a});
    } else if (model_.holder_regulator[h] >= 0) {
      now_.regulators.push_back({.in = node, .out = holder.port});
    } else {
      now_.branches.push_back({.a = node, .b = holder.port, .ohm = holder.contact_ohm});
    }
  }
  regulator_on_.assign(now_.regulators.size(), 0);
  regulator_tries_.assign(now_.regulators.size(), 0);
}

double& DayState::number(const Slot& slot) {
  switch (slot.what) {
    case Slot::What::charge:
      return now_.packs[slot.index].state.cell.charge;
    case Slot::What::lag0:
      return now_.packs[slot.index].state.cell.lag[0];
    case Slot::What::lag1:
      return now_.packs[slot.index].state.cell.lag[1];
    case Slot::What::rc:
      return now_.packs[slot.index].state.cell.rc_v;
    case Slot::What::transfer:
      return now_.packs[slot.index].state.cell.transfer_a;
    case Slot::What::kelvin:
      return now_.packs[slot.index].state.cell.temperature_k;
    case Slot::What::weak:
      return now_.packs[slot.index].state.weak_charge;
    case Slot::What::place_kelvin:
      return place_k_[slot.index];
    case Slot::What::fuse_used:
      return lead_[slot.index].used;
  }
  throw std::logic_error("no such number");
}

void DayState::lay_out() {
  slots_.clear();
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    if (pack.heat_capacity_j_k <= 0.0) throw std::invalid_argument("a pack without heat capacity");
    slots_.push_back({Slot::What::charge, h});
    if (pack.cell.lag_gain[0] != 0.0) slots_.push_back({Slot::What::lag0, h});
    if (pack.cell.lag_gain[1] != 0.0) slots_.push_back({Slot::What::lag1, h});
    if (pack.cell.rc_ohm > 0.0) slots_.push_back({Slot::What::rc, h});
    if (pack.cell.exchange_a > 0.0 && pack.cell.exchange_s > 0.0) slots_.push_back({Slot::What::transfer, h});
    slots_.push_back({Slot::What::kelvin, h});
    // Of a pack with equal cells the weakest has the charge of the others.
    slots_.push_back({Slot::What::weak, h});
    if (pack.weak_fraction == 1.0) slots_.pop_back();
  }
  for (std::size_t p = 0; p < place_k_.size(); ++p) {
    if (day_.places[p].kind == day::Place::Kind::bag) slots_.push_back({Slot::What::place_kelvin, p});
  }
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    if (day_.leads[k].fuse && !lead_[k].open) slots_.push_back({Slot::What::fuse_used, k});
  }
}

void DayState::pack_into(double* y) const {
  for (std::size_t i = 0; i < slots_.size(); ++i) y[i] = number(slots_[i]);
}

void DayState::unpack(const double* y) {
  for (std::size_t i = 0; i < slots_.size(); ++i) number(slots_[i]) = y[i];
}

void DayState::solve_at(double, bool afresh) {
  for (std::size_t k = 0; k < lead_.size(); ++k) {  // copper at its place's temperature
    const day::Lead& lead = day_.leads[k];
    now_.branches[k].ohm = lead.cable_ohm * (1.0 + 0.00393 * (place_k_[at(lead.place)] - 293.15)) + lead.contact_ohm +
                           (lead.fuse ? lead.fuse->ohm : 0.0);
  }
  for (WiringNow::Pack& pack : now_.packs) {
    if (pack.params != nullptr) pack.rates = cell::rates_at(pack.params->cell, pack.state.cell.temperature_k);
  }
  wiring_.solve(now_, point_, afresh);
  if (!point_.settled) ++out_.unsettled;
  // Electrical heat of each place; packs give theirs through their surface (rates_of_change).
  std::fill(heat_w_.begin(), heat_w_.end(), 0.0);
  for (std::size_t d = 0; d < device_.size(); ++d) {
    heat_w_[at(day_.devices[d].place)] += point_.node_v[at(day_.devices[d].port)] * point_.load_a[d];
  }
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    heat_w_[at(day_.leads[k].place)] += now_.branches[k].ohm * point_.branch_a[k] * point_.branch_a[k];
  }
  for (std::size_t k = 0; k < now_.regulators.size(); ++k) {
    const WiringNow::Regulator& r = now_.regulators[k];
    int place = k < day_.regulators.size() ? day_.regulators[k].place : -1;
    for (std::size_t h = 0; h < holder_.size(); ++h) {
      if (model_.holder_regulator[h] == static_cast<int>(k)) place = day_.holders[h].place;
    }
    heat_w_[at(place)] += point_.node_v[at(r.in)] * point_.in_a[k] - point_.node_v[at(r.out)] * point_.out_a[k];
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    const std::size_t place = at(day_.holders[h].place);
    heat_w_[place] +=
        day_.packs[at(holder_[h].pack)].params.cooling_w_k * (now_.packs[h].state.cell.temperature_k - place_k_[place]);
  }
}

void DayState::rates_of_change(double* dydt) const {
  const double air_k = day_.periods[at(period_)].air_k;
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const Slot& slot = slots_[i];
    if (slot.what == Slot::What::place_kelvin) {
      const day::Place& place = day_.places[slot.index];
      dydt[i] = (heat_w_[slot.index] - place.cooling_w_k * (place_k_[slot.index] - air_k)) / place.heat_capacity_j_k;
      continue;
    }
    if (slot.what == Slot::What::fuse_used) {
      const day::Fuse& fuse = *day_.leads[slot.index].fuse;
      dydt[i] = wiring::opening_rate_per_s(fuse.law, fuse.rated_a, place_k_[at(day_.leads[slot.index].place)],
                                           point_.branch_a[slot.index]);
      if (dydt[i] == 0.0 && fuse.law.resettable) dydt[i] = -lead_[slot.index].used / 60.0;
      continue;
    }
    const std::size_t h = slot.index;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    const cell::PackState& state = now_.packs[h].state;
    const double pack_a = point_.pack_a[h];
    const double cell_a = pack_a / pack.parallel;
    const double per_s = cell_a * (cell_a < 0.0 ? pack.cell.charge_efficiency : 1.0) / pack.cell.capacity_as;
    const double a = 1.0 / state.cell.temperature_k - 1.0 / 298.15;
    const auto lag = [&](std::size_t n) {
      const double td = pack.cell.diffusion_s * shape(pack.cell.diffusion_shape, state.cell.charge) *
                        std::exp(pack.cell.diffusion_activation_k * a);
      return pack.cell.lag_gain[n] * per_s - state.cell.lag[n] * pack.cell.lag_rate[n] / td;
    };
    switch (slot.what) {
      case Slot::What::charge:
        dydt[i] = -per_s;
        break;
      case Slot::What::weak:
        dydt[i] = -per_s / pack.weak_fraction;
        break;
      case Slot::What::lag0:
        dydt[i] = lag(0);
        break;
      case Slot::What::lag1:
        dydt[i] = lag(1);
        break;
      case Slot::What::rc:
        dydt[i] = (cell_a * pack.cell.rc_ohm * std::exp(pack.cell.electrolyte_activation_k * a) - state.cell.rc_v) /
                  pack.cell.rc_s;
        break;
      case Slot::What::transfer:
        dydt[i] =
            (cell_a - state.cell.transfer_a) / (pack.cell.exchange_s * std::exp(pack.cell.exchange_activation_k * a));
        break;
      case Slot::What::kelvin:
        dydt[i] = (pack_a * point_.pack[h].lost_v -
                   pack.cooling_w_k * (state.cell.temperature_k - place_k_[at(day_.holders[h].place)])) /
                  pack.heat_capacity_j_k;
        break;
      default:
        dydt[i] = 0.0;
    }
  }
}

double DayState::cutoff_v(std::size_t d) const {
  return several(d) ? day_.devices[d].inputs[at(device_[d].input)].cutoff_v : day_.devices[d].cutoff_v;
}
double DayState::restart_v(std::size_t d) const {
  return several(d) ? day_.devices[d].inputs[at(device_[d].input)].restart_v : day_.devices[d].restart_v;
}
bool DayState::is_off(std::size_t d) const { return day_.devices[d].modes[at(device_[d].mode)].off; }
double DayState::input_v(std::size_t d, int input) const {
  return point_.node_v[at(day_.leads[at(day_.devices[d].inputs[at(input)].lead)].from)];
}

// Everything that stands still between events: switches, modes.
void DayState::set_conditions() {
  const day::Period& period = day_.periods[at(period_)];
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    const day::Lead& lead = day_.leads[k];
    now_.branches[k].ohm = lead.cable_ohm * (1.0 + 0.00393 * (place_k_[at(lead.place)] - 293.15)) + lead.contact_ohm +
                           (lead.fuse ? lead.fuse->ohm : 0.0);
    now_.branches[k].closed = !lead_[k].open && (lead.switched_by < 0 || !is_off(at(lead.switched_by)));
  }
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const day::Device& device = day_.devices[d];
    const day::Mode& mode = device.modes[at(device_[d].mode)];
    const bool runs = device_[d].powered && !mode.off;
    WiringNow::Load& load = now_.loads[d];
    load.floor_v = std::max(0.8 * cutoff_v(d), 0.3);
    load.power_w = runs && mode.power_w > 0.0 ? (mode.power_w / device.efficiency + device.idle_w) * device.scale : 0.0;
    load.current_a = runs ? mode.current_a * device.scale : 0.0;
    load.siemens = runs ? mode.siemens * device.scale : 0.0;
    for (std::size_t i = 0; several(d) && i < device.inputs.size(); ++i) {
      if (static_cast<int>(i) != device_[d].input) now_.branches[at(device.inputs[i].lead)].closed = false;
    }
  }
  for (std::size_t k = 0; k < day_.supplies.size(); ++k) now_.supplies[k].live = period.supply_live[k] != 0;
  for (std::size_t k = 0; k < now_.regulators.size(); ++k) now_.regulators[k].on = regulator_on_[k] != 0;
  std::size_t bay = day_.supplies.size();
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    const Holder& in = holder_[h];
    const bool connected = in.pack >= 0 && in.connected;
    const day::Pack* pack = in.pack >= 0 ? &day_.packs[at(in.pack)] : nullptr;
    now_.packs[h].params = connected ? &pack->params : nullptr;
    now_.loads[device_.size() + h].current_a = connected && !pack->regulator ? pack->params.idle_a : 0.0;
    if (model_.holder_regulator[h] >= 0) {
      const std::size_t r = at(model_.holder_regulator[h]);
      now_.regulators[r].on = now_.regulators[r].on && connected && in.dark_s == kNever;
      if (pack != nullptr && pack->regulator) now_.regulators[r].law = *pack->regulator;
    }
    if (day_.holders[h].charger_supply >= 0) {
      const double k = now_.packs[h].state.cell.temperature_k;
      WiringNow::Supply& supply = now_.supplies[bay++];
      supply.live = connected && pack->charge_v > 0.0 && period.supply_live[at(day_.holders[h].charger_supply)] != 0 &&
                    k >= pack->coldest_charge_k && k <= pack->hottest_charge_k;
      supply.volts = supply.live ? pack->charge_v : 0.0;
    }
  }
}

void DayState::resolve() {
  set_conditions();
  solve_at(0.0, true);
}

void DayState::remember_volts() {
  for (std::size_t d = 0; d < device_.size(); ++d) {
    if (device_[d].powered && !is_off(d)) device_[d].last_good_v = point_.node_v[at(day_.devices[d].port)];
  }
}

}  // namespace tillwrap::reference
