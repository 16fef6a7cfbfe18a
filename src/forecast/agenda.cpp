// What the day brings from outside: periods, mains coming and going, packs put in and taken out, timers.
#include <algorithm>

#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

void Simulator::make_agenda() {
  agenda_.clear();
  next_agenda_ = 0;
  for (std::size_t k = 0; k < day_.periods.size(); ++k) {
    agenda_.push_back({day_.periods[k].from_s, 0, static_cast<int>(k)});
  }
  for (std::size_t k = 0; k < plan_.size(); ++k) {
    agenda_.push_back({plan_[k].at_s, 1, static_cast<int>(k)});
    if (plan_[k].out_s < kNever) agenda_.push_back({plan_[k].out_s, 2, static_cast<int>(k)});
  }
  for (std::size_t k = 0; k < options_.probe_s.size(); ++k)
    agenda_.push_back({options_.probe_s[k], 3, static_cast<int>(k)});
  // At one moment: the period first, then out of holders, then changes, then looks; among equals as they came.
  const auto rank = [](const Agenda& item) { return item.kind == 0 ? 0 : (item.kind == 2 ? 1 : item.kind + 1); };
  std::sort(agenda_.begin(), agenda_.end(), [&](const Agenda& a, const Agenda& b) {
    if (a.at_s != b.at_s) return a.at_s < b.at_s;
    return rank(a) != rank(b) ? rank(a) < rank(b) : a.index < b.index;
  });
}

void Simulator::rest_spares() {
  std::fill(in_use_.begin(), in_use_.end(), 0);
  for (const HolderNow& now : holder_) {
    if (now.pack >= 0) in_use_[at(now.pack)] = 1;
  }
  for (std::size_t p = 0; p < pack_state_.size(); ++p) {
    const double rest_s = t_ - rested_to_s_[p];
    rested_to_s_[p] = t_;
    if (in_use_[p] || rest_s <= 0.0) continue;
    const cell::PackParams& params = day_.packs[p].params;
    cell::PackState& state = pack_state_[p];
    const double around_k = place_k_[at(day_.packs[p].spare_place)];
    const double end_k = cell::warmed_k(params, state.cell.temperature_k, rest_s, 0.0, around_k);
    const cell::CellRates rates = cell::rates_at(params.cell, 0.5 * (end_k + state.cell.temperature_k));
    state = cell::advance(params, rates, state, rest_s, 0.0, 0.0);
    state.cell.temperature_k = end_k;
  }
}

void Simulator::forgive_flapping() {
  for (DeviceNow& now : device_) now.restarts = now.returns = 0;
  std::fill(regulator_restarts_.begin(), regulator_restarts_.end(), 0);
}

bool Simulator::apply_period(int index) {
  bool switched = period_ < 0;
  rest_spares();
  forgive_flapping();
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
      const std::vector<int>& holders = model_.feeding[d].holders;
      if (off_in(before, d) != off_in(index, d) &&
          std::find(holders.begin(), holders.end(), static_cast<int>(h)) != holders.end()) {
        switched = true;
        holder_[h].renegotiated_s = t_ + day_.holders[h].renegotiation_s;
      }
    }
  }
  for (std::size_t d = 0; d < device_.size(); ++d) {
    DeviceNow& now = device_[d];
    const bool was_off = before < 0 || day_.devices[d].modes[at(now.mode)].off;
    switched = switched || now.mode != period.mode[d];
    now.mode = period.mode[d];
    if (day_.devices[d].modes[at(now.mode)].off) {
      end_outage(d);
      now.powered = false;
      now.down_s = now.deadline_s = kNever;
    } else if (was_off) {
      now.ready_s = t_;  // switched on ahead of time
      now.stays_off = false;
    }
  }
  // A tripped protector comes back once everything behind it is switched off.
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    if (!lead_[k].open || !day_.leads[k].fuse->law.resettable) continue;
    bool unloaded = true;
    for (std::size_t d = 0; d < device_.size(); ++d) {
      const std::vector<int>& leads = model_.feeding[d].leads;
      if (!off_in(index, d) && std::find(leads.begin(), leads.end(), static_cast<int>(k)) != leads.end())
        unloaded = false;
    }
    if (!unloaded) continue;
    lead_[k] = {};
    switched = true;
    note({.at_s = t_, .kind = EventKind::protector_closed, .index = static_cast<int>(k)});
  }
  for (std::size_t k = 0; k < day_.supplies.size(); ++k) {
    const bool was = before >= 0 && day_.periods[at(before)].supply_live[k] != 0;
    if (was != (period.supply_live[k] != 0)) {
      switched = true;
      note({.at_s = t_, .kind = was ? EventKind::supply_gone : EventKind::supply_back, .index = static_cast<int>(k)});
    }
  }
  note({.at_s = t_, .kind = EventKind::period, .index = index});
  // Devices that had given up for the last period may try again.
  for (const DeviceNow& now : device_) switched = switched || now.down_s < kNever;
  return switched;
}

void Simulator::remove_pack(int h) {
  HolderNow& now = holder_[at(h)];
  if (now.pack < 0) return;
  Stint& stint = out_.stints[at(now.stint)];
  stint.out_s = t_;
  if (!closed_) stint.end_charge = state_[at(h)].cell.charge;
  pack_state_[at(now.pack)] = state_[at(h)];
  rested_to_s_[at(now.pack)] = t_;
  solution_.pack_a[at(h)] = 0.0;
  now.pack = -1;
  now.connected = false;
  now.stint = -1;
  now.sleeps_s = kNever;
}

void Simulator::insert_pack(int h, int pack) {
  rest_spares();
  forgive_flapping();
  for (std::size_t other = 0; other < holder_.size(); ++other) {
    if (holder_[other].pack == pack) remove_pack(static_cast<int>(other));
  }
  HolderNow& now = holder_[at(h)];
  const bool left_empty = now.left_empty;
  now = {.pack = pack, .connected = true};
  now.stint = static_cast<int>(out_.stints.size());
  state_[at(h)] = pack_state_[at(pack)];
  rates_k_[at(h)] = 0.0;
  out_.stints.push_back({.holder = h,
                         .pack = pack,
                         .in_s = t_,
                         .start_charge = state_[at(h)].cell.charge,
                         .end_charge = state_[at(h)].cell.charge,
                         .lowest_k = state_[at(h)].cell.temperature_k});
  // Hands are here: what gave up is switched on again.
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const std::vector<int>& holders = model_.feeding[d].holders;
    if (std::find(holders.begin(), holders.end(), h) == holders.end()) continue;
    device_[d].stays_off = false;
    device_[d].by_hand = left_empty;
  }
  if (model_.holder_regulator[at(h)] >= 0) regulator_on_[at(model_.holder_regulator[at(h)])] = 1;
  note({.at_s = t_,
        .kind = day_.holders[at(h)].charger_supply >= 0 ? EventKind::pack_charging : EventKind::change_in,
        .index = h,
        .pack = pack});
}

void Simulator::apply_change(const PlannedChange& change) {
  HolderNow& now = holder_[at(change.holder)];
  const bool left_empty = change.gap_s > 0.0;
  if ((now.pack < 0 && !left_empty) || day_.holders[at(change.holder)].charger_supply >= 0) {
    if (now.pack >= 0) remove_pack(change.holder);
    insert_pack(change.holder, change.pack);
    return;
  }
  if (now.pack >= 0) {
    out_.changes.push_back({.holder = change.holder, .out_pack = now.pack, .in_pack = change.pack, .at_s = t_});
    note({.at_s = t_, .kind = EventKind::change_out, .index = change.holder, .pack = now.pack});
    remove_pack(change.holder);
  }
  now.arriving = change.pack;
  now.left_empty = left_empty;
  now.arrives_s = t_ + (left_empty ? change.gap_s : day_.holders[at(change.holder)].gap_s);
}

double Simulator::next_timer_s() const {
  double next_s = kNever;
  for (const HolderNow& now : holder_) next_s = std::min({next_s, now.arrives_s, now.sleeps_s, now.renegotiated_s});
  for (const DeviceNow& now : device_) {
    if (now.powered && now.ready_s > t_ + 1e-6) next_s = std::min(next_s, now.ready_s);
    if (now.deadline_s > t_ + 1e-6) next_s = std::min(next_s, now.deadline_s);
  }
  return next_s;
}

void Simulator::timers() {
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    HolderNow& now = holder_[h];
    if (now.arrives_s <= t_ + 1e-6) insert_pack(static_cast<int>(h), now.arriving);
    if (now.renegotiated_s <= t_ + 1e-6) now.renegotiated_s = kNever;
    if (now.sleeps_s <= t_ + 1e-6) pack_off(static_cast<int>(h), Cause::pack_asleep);
  }
}

}  // namespace tillwrap::forecast
