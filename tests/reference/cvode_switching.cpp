// The switching rules of docs/model-day.md, a second time.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "reference/cvode_state.hpp"

namespace tillwrap::reference {

using forecast::kNever;

namespace {

constexpr int kMostTries = 6;  // restarts of a device, returns to an input, restarts of a regulator, in one period
constexpr double kSame_s = 1e-6;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

void DayState::note(double at_s, std::string what) {
  if (out_.events.size() > kMostEvents) throw GaveUp{};
  if (noting_) out_.events.push_back({at_s, std::move(what)});
}

void DayState::find_watches() {
  watches_.clear();
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const int index = static_cast<int>(d);
    for (int i = 0; several(d) && i < static_cast<int>(day_.devices[d].inputs.size()); ++i) {
      if (i > device_[d].input) watches_.push_back({Kind::input_lost, index, i});
      if (i < device_[d].input && device_[d].returns < kMostTries) watches_.push_back({Kind::input_back, index, i});
    }
    if (is_off(d)) continue;
    if (device_[d].powered) {
      watches_.push_back({Kind::device_low, index});
      if (!device_[d].seen_over_volts) watches_.push_back({Kind::over_volts, index});
    } else if (!device_[d].stays_off) {
      watches_.push_back({Kind::device_back, index});
    }
  }
  for (std::size_t k = 0; k < regulator_on_.size(); ++k) {
    if (regulator_on_[k]) {
      watches_.push_back({Kind::regulator_low, static_cast<int>(k)});
    } else if (regulator_tries_[k] < kMostTries) {
      watches_.push_back({Kind::regulator_back, static_cast<int>(k)});
    }
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0 || !holder_[h].connected || day_.holders[h].charger_supply >= 0) continue;
    const int index = static_cast<int>(h);
    const cell::Protection& guard = day_.packs[at(holder_[h].pack)].params.protection;
    if (guard.under_v > 0.0) watches_.push_back({Kind::pack_low, index});
    if (guard.under_cell_v > 0.0) watches_.push_back({Kind::pack_low_cell, index});
    if (guard.over_current_a > 0.0) watches_.push_back({Kind::pack_current, index});
    if (guard.coldest_k > 0.0) watches_.push_back({Kind::pack_cold, index});
    if (guard.hottest_k > 0.0) watches_.push_back({Kind::pack_hot, index});
    if (!holder_[h].reversed) watches_.push_back({Kind::reversed, index});
    if (guard.low_load_a > 0.0 && guard.low_load_s > 0.0)
      watches_.push_back({holder_[h].sleeps_s == kNever ? Kind::low_load : Kind::load_again, index});
  }
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    if (day_.leads[k].fuse && !lead_[k].open) watches_.push_back({Kind::fuse, static_cast<int>(k)});
  }
}

// Below zero: it switches. Scaled as in docs: the most violated goes first.
double DayState::margin(const Watch& watch) const {
  const std::size_t i = at(watch.index);
  switch (watch.kind) {
    case Kind::input_lost: {
      const auto& inputs = day_.devices[i].inputs;
      const double selected = input_v(i, device_[i].input) - inputs[at(device_[i].input)].least_v;
      return std::max(selected, inputs[at(watch.other)].least_v - input_v(i, watch.other)) / 10.0;
    }
    case Kind::input_back:
      return (day_.devices[i].inputs[at(watch.other)].return_v - input_v(i, watch.other)) / 10.0;
    case Kind::device_low:
      return (point_.node_v[at(day_.devices[i].port)] - std::max(cutoff_v(i), 0.3)) / std::max(cutoff_v(i), 1.0);
    case Kind::over_volts:
      return (day_.devices[i].highest_v - point_.node_v[at(day_.devices[i].port)]) / 10.0;
    case Kind::device_back:
      return (std::max(restart_v(i), 0.5) - point_.node_v[at(day_.devices[i].port)]) / std::max(restart_v(i), 1.0);
    case Kind::regulator_low:
      return (point_.node_v[at(now_.regulators[i].in)] - std::max(now_.regulators[i].law.min_in_v, 0.3)) / 10.0;
    case Kind::regulator_back: {
      const wiring::RegulatorLaw& law = now_.regulators[i].law;
      return (std::max({law.restart_in_v, law.min_in_v, 0.5}) - point_.node_v[at(now_.regulators[i].in)]) / 10.0;
    }
    case Kind::fuse:
      return 1.0 - lead_[i].used;
    default:
      break;
  }
  const cell::PackParams& pack = day_.packs[at(holder_[i].pack)].params;
  const cell::Protection& guard = pack.protection;
  const double kelvin = now_.packs[i].state.cell.temperature_k;
  const int r = model_.holder_regulator[i];
  const double out_a = r >= 0 ? point_.out_a[at(r)] : point_.pack_a[i];
  switch (watch.kind) {
    case Kind::pack_low:
      return (point_.pack[i].volts - guard.under_v) / pack.series;
    case Kind::pack_low_cell:
      return point_.pack[i].lowest_cell_v - guard.under_cell_v;
    case Kind::pack_current:
      return 1.0 - point_.pack_a[i] / guard.over_current_a;
    case Kind::pack_cold:
      return (kelvin - guard.coldest_k) / 10.0;
    case Kind::pack_hot:
      return (guard.hottest_k - kelvin) / 10.0;
    case Kind::reversed:
      return point_.pack[i].lowest_cell_v;
    case Kind::low_load:
      return out_a / guard.low_load_a - 1.0;
    case Kind::load_again:
      return 1.0 - out_a / guard.low_load_a;
    default:
      throw std::logic_error("no such watch");
  }
}

void DayState::settle(const std::vector<Watch>& crossed) {
  std::vector<Watch> first = crossed;
  resolve();
  for (int rounds = 0; switch_once(first); ++rounds) {
    first.clear();
    resolve();
    if (rounds > 500) throw std::runtime_error("switching does not come to rest");
  }
  confirm_losses();
  remember_volts();
}

// One class at a time, in the documented order: inputs, regulators, fuses, packs and devices, restarts.
bool DayState::switch_once(const std::vector<Watch>& crossed) {
  find_watches();
  struct Hit {
    Watch watch;
    double margin;
  };
  std::vector<Hit> hits;
  for (const Watch& watch : watches_) {
    double m = margin(watch);
    for (const Watch& c : crossed) {
      // A located root has a margin of rounding's size on either side of zero.
      if (c.kind == watch.kind && c.index == watch.index && c.other == watch.other) m = std::min(m, -1e-15);
    }
    if (m < 0.0) hits.push_back({watch, m});
  }
  const auto worst = [&](std::initializer_list<Kind> kinds) -> const Watch* {
    const Hit* found = nullptr;
    for (const Hit& hit : hits) {
      if (std::find(kinds.begin(), kinds.end(), hit.watch.kind) == kinds.end()) continue;
      if (found == nullptr || hit.margin < found->margin) found = &hit;
    }
    return found == nullptr ? nullptr : &found->watch;
  };
  bool noted = false;
  for (const Hit& hit : hits) {
    const std::size_t i = at(hit.watch.index);
    if (hit.watch.kind == Kind::reversed) {
      holder_[i].reversed = noted = true;
      note(t_, "reversed " + std::to_string(i));
    }
    if (hit.watch.kind == Kind::over_volts) device_[i].seen_over_volts = noted = true;
    if (hit.watch.kind == Kind::low_load) {
      holder_[i].sleeps_s = t_ + day_.packs[at(holder_[i].pack)].params.protection.low_load_s;
      noted = true;
    }
    if (hit.watch.kind == Kind::load_again) {
      holder_[i].sleeps_s = kNever;
      noted = true;
    }
  }
  if (const Watch* hit = worst({Kind::input_lost, Kind::input_back})) {
    const std::size_t d = at(hit->index);
    const auto& inputs = day_.devices[d].inputs;
    const int before = device_[d].input;
    for (int i = 0; i < static_cast<int>(inputs.size()); ++i) {
      const double least = i < before ? inputs[at(i)].return_v : inputs[at(i)].least_v;
      const bool just_crossed = i == hit->other && !crossed.empty();
      if (i == before || !(input_v(d, i) > least - (just_crossed ? 1e-9 : 0.0))) continue;
      if (i < before) ++device_[d].returns;
      device_[d].input = i;
      note(t_, "input " + std::to_string(d) + " to " + std::to_string(i));
      return true;
    }
  }
  if (const Watch* hit = worst({Kind::regulator_low, Kind::regulator_back})) {
    const std::size_t k = at(hit->index);
    regulator_on_[k] = hit->kind == Kind::regulator_back ? 1 : 0;
    if (regulator_on_[k]) ++regulator_tries_[k];
    note(t_, "regulator " + std::to_string(k) + (regulator_on_[k] ? " up" : " down"));
    return true;
  }
  if (const Watch* hit = worst({Kind::fuse})) {
    lead_[at(hit->index)].open = true;
    note(t_, "fuse " + std::to_string(hit->index));
    return true;
  }
  if (const Watch* hit = worst({Kind::pack_low, Kind::pack_low_cell, Kind::pack_current, Kind::pack_cold,
                                Kind::pack_hot, Kind::device_low})) {
    if (hit->kind == Kind::device_low) {
      device_down(hit->index);
    } else {
      pack_off(hit->index);
    }
    return true;
  }
  if (const Watch* hit = worst({Kind::device_back})) {
    device_up(hit->index);
    return true;
  }
  return noted;
}

void DayState::pack_off(int h) {
  holder_[at(h)].connected = false;
  holder_[at(h)].sleeps_s = kNever;
  note(t_, "pack off " + std::to_string(h));
}

// Until when a device may be without power: between pack out and pack in, what may drop out there.
double DayState::dark_until_s(int d, double otherwise_s) const {
  const day::Device& device = day_.devices[at(d)];
  const forecast::Feeding& feeding = model_.feeding[at(d)];
  if (device.need != day::Need::rolling ||
      std::any_of(feeding.leads.begin(), feeding.leads.end(), [&](int k) { return lead_[at(k)].open; }))
    return otherwise_s;
  for (const int h : feeding.holders) {
    if (holder_[at(h)].dark_s < kNever) break;
    if (holder_[at(h)].arriving >= 0) return holder_[at(h)].arrives_s + device.restart_s + 1.0;
  }
  return otherwise_s;
}

void DayState::device_down(int d) {
  Device& now = device_[at(d)];
  const day::Device& device = day_.devices[at(d)];
  now.powered = false;
  if (now.ready_s <= t_) {
    const double least_v = cutoff_v(at(d));
    const double v1 = now.last_good_v;
    const double middle_v = 0.5 * (v1 + least_v);
    const WiringNow::Load& load = now_.loads[at(d)];
    const double watts = std::max(load.power_w + (load.current_a + load.siemens * middle_v) * middle_v, 1e-3);
    const double held_s = v1 > least_v ? device.hold_up_f * (v1 * v1 - least_v * least_v) / (2.0 * watts) : 0.0;
    now.down_s = t_;
    now.held_until_s = t_ + held_s;
    now.ever_out = true;
  }
  if (now.deadline_s == kNever) {
    now.deadline_s = dark_until_s(d, now.held_until_s);
  }
  note(t_, "down " + std::to_string(d));
  if (noting_) {
    out_.down_s.push_back(t_);
    out_.down_device.push_back(d);
  }
}

void DayState::device_up(int d) {
  Device& now = device_[at(d)];
  const day::Device& device = day_.devices[at(d)];
  if (now.restarts >= kMostTries || (now.down_s < kNever && !device.restarts_itself && t_ >= now.held_until_s)) {
    now.stays_off = true;
    return;
  }
  now.powered = true;
  ++now.restarts;
  now.ready_s = !now.ever_out || t_ < now.held_until_s ? t_ : t_ + device.restart_s;
  note(t_, "up " + std::to_string(d));
}

void DayState::confirm_losses() {
  for (std::size_t d = 0; d < device_.size(); ++d) {
    Device& now = device_[d];
    if (is_off(d) || (now.powered && now.ready_s <= t_ + 1e-9)) {
      now.down_s = now.deadline_s = kNever;
      now.ever_out = false;
      continue;
    }
    now.ever_out = true;
    if (now.down_s == kNever) {
      now.down_s = t_;
      now.deadline_s = dark_until_s(static_cast<int>(d), t_);
    }
    if (day_.devices[d].need == day::Need::optional || t_ < day_.call_s) continue;
    if (t_ + 1e-9 < std::max(now.deadline_s, day_.call_s)) continue;
    const double at_s = std::max(now.down_s, day_.call_s);
    if (at_s < out_.lost_s) {
      out_.lost_s = at_s;
      out_.lost_device = static_cast<int>(d);
    }
  }
}

// Packs in no holder relax and take their surroundings' temperature; classical Runge and Kutta in steps far below the
// time constants.
void DayState::rest_spares() {
  for (std::size_t p = 0; p < spare_.size(); ++p) {
    const double rest_s = t_ - rested_to_s_[p];
    rested_to_s_[p] = t_;
    const bool in_use =
        std::any_of(holder_.begin(), holder_.end(), [&](const Holder& h) { return h.pack == static_cast<int>(p); });
    if (in_use || rest_s <= 0.0) continue;
    const cell::PackParams& pack = day_.packs[p].params;
    const double around_k = place_k_[at(day_.packs[p].spare_place)];
    cell::CellState& cell = spare_[p].cell;
    const auto kelvin_after = [&](double s) {
      return around_k + (cell.temperature_k - around_k) * std::exp(-s * pack.cooling_w_k / pack.heat_capacity_j_k);
    };
    const double shape = pack.cell.diffusion_shape.empty() ? 1.0 : pack.cell.diffusion_shape.value(cell.charge);
    // x' = -x lambda / td(T(s)): the logarithm of x is an integral over s alone, by Simpson's rule.
    constexpr int kPanels = 2000;
    double integral = 0.0;
    for (int k = 0; k <= kPanels; ++k) {
      const double a = 1.0 / kelvin_after(rest_s * k / kPanels) - 1.0 / 298.15;
      const double weight = k == 0 || k == kPanels ? 1.0 : (k % 2 == 1 ? 4.0 : 2.0);
      integral += weight / (pack.cell.diffusion_s * shape * std::exp(pack.cell.diffusion_activation_k * a));
    }
    integral *= rest_s / (3.0 * kPanels);
    for (std::size_t n = 0; n < 2; ++n) {
      if (pack.cell.lag_gain[n] != 0.0) cell.lag[n] *= std::exp(-pack.cell.lag_rate[n] * integral);
    }
    if (pack.cell.rc_ohm > 0.0) cell.rc_v *= std::exp(-rest_s / pack.cell.rc_s);
    if (pack.cell.exchange_a > 0.0 && pack.cell.exchange_s > 0.0) {
      double faded = 0.0;  // It' = -It exp(-Ec a) / exchange_s, the same way
      for (int k = 0; k <= kPanels; ++k) {
        const double a = 1.0 / kelvin_after(rest_s * k / kPanels) - 1.0 / 298.15;
        const double weight = k == 0 || k == kPanels ? 1.0 : (k % 2 == 1 ? 4.0 : 2.0);
        faded += weight * std::exp(-pack.cell.exchange_activation_k * a);
      }
      cell.transfer_a *= std::exp(-faded * rest_s / (3.0 * kPanels) / pack.cell.exchange_s);
    }
    cell.temperature_k = kelvin_after(rest_s);
  }
}

void DayState::try_again() {
  for (Device& now : device_) now.restarts = now.returns = 0;
  std::fill(regulator_tries_.begin(), regulator_tries_.end(), 0);
}

void DayState::apply_period(int index) {
  rest_spares();
  try_again();
  const int before = period_;
  period_ = index;
  const day::Period& period = day_.periods[at(index)];
  for (std::size_t p = 0; p < day_.places.size(); ++p) {
    if (day_.places[p].kind != day::Place::Kind::bag) place_k_[p] = day::place_k(day_.places[p], period.air_k);
  }
  const auto off_in = [&](int which, std::size_t d) {
    return which < 0 || day_.devices[d].modes[at(day_.periods[at(which)].mode[d])].off;
  };
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (day_.holders[h].renegotiation_s <= 0.0 || holder_[h].pack < 0 || before < 0) continue;
    for (std::size_t d = 0; d < device_.size(); ++d) {
      const auto& holders = model_.feeding[d].holders;
      if (off_in(before, d) != off_in(index, d) &&
          std::find(holders.begin(), holders.end(), static_cast<int>(h)) != holders.end())
        holder_[h].dark_s = t_ + day_.holders[h].renegotiation_s;
    }
  }
  for (std::size_t d = 0; d < device_.size(); ++d) {
    Device& now = device_[d];
    const bool was_off = before < 0 || is_off(d);
    now.mode = period.mode[d];
    if (is_off(d)) {
      now.powered = now.ever_out = false;
      now.down_s = now.deadline_s = kNever;
    } else if (was_off) {
      now.ready_s = t_;
      now.stays_off = false;
    }
  }
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    if (!lead_[k].open || !day_.leads[k].fuse->law.resettable) continue;
    bool loaded = false;
    for (std::size_t d = 0; d < device_.size(); ++d) {
      const auto& leads = model_.feeding[d].leads;
      loaded = loaded || (!is_off(d) && std::find(leads.begin(), leads.end(), static_cast<int>(k)) != leads.end());
    }
    if (!loaded) lead_[k] = {};
  }
}

void DayState::remove_pack(int h) {
  Holder& now = holder_[at(h)];
  if (now.pack < 0) return;
  spare_[at(now.pack)] = now_.packs[at(h)].state;
  if (day_.packs[at(now.pack)].params.weak_fraction == 1.0)
    spare_[at(now.pack)].weak_charge = spare_[at(now.pack)].cell.charge;
  rested_to_s_[at(now.pack)] = t_;
  now.pack = -1;
  now.connected = false;
  now.sleeps_s = kNever;
}

void DayState::insert_pack(int h, int pack) {
  rest_spares();
  try_again();
  for (std::size_t other = 0; other < holder_.size(); ++other) {
    if (holder_[other].pack == pack) remove_pack(static_cast<int>(other));
  }
  holder_[at(h)] = {.pack = pack, .connected = true};
  now_.packs[at(h)].state = spare_[at(pack)];
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const auto& holders = model_.feeding[d].holders;
    if (std::find(holders.begin(), holders.end(), h) != holders.end()) device_[d].stays_off = false;
  }
  if (model_.holder_regulator[at(h)] >= 0) regulator_on_[at(model_.holder_regulator[at(h)])] = 1;
  note(t_, "in " + std::to_string(h));
}

void DayState::apply_change(const forecast::PlannedChange& change) {
  const int h = change.holder;
  if (holder_[at(h)].pack < 0 || day_.holders[at(h)].charger_supply >= 0) {
    remove_pack(h);
    insert_pack(h, change.pack);
    return;
  }
  remove_pack(h);
  holder_[at(h)].arriving = change.pack;
  holder_[at(h)].arrives_s = t_ + day_.holders[at(h)].gap_s;
  note(t_, "out " + std::to_string(h));
}

double DayState::next_timer_s() const {
  double next_s = kNever;
  for (const Holder& now : holder_) next_s = std::min({next_s, now.arrives_s, now.sleeps_s, now.dark_s});
  for (const Device& now : device_) {
    if (now.powered && now.ready_s > t_ + kSame_s) next_s = std::min(next_s, now.ready_s);
    if (now.deadline_s > t_ + kSame_s) next_s = std::min(next_s, now.deadline_s);
  }
  return next_s;
}

void DayState::timers() {
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].arrives_s <= t_ + kSame_s) insert_pack(static_cast<int>(h), holder_[h].arriving);
    if (holder_[h].dark_s <= t_ + kSame_s) holder_[h].dark_s = kNever;
    if (holder_[h].sleeps_s <= t_ + kSame_s) pack_off(static_cast<int>(h));
  }
}

}  // namespace tillwrap::reference
