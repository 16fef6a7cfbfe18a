// Discrete behaviour: cut-offs and restarts, change-over of inputs, protection, fuses. After anything switches, the
// wiring is solved again until nothing more wants to switch.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "forecast/simulator.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kAfterSwitch_s = 10.0;  // first step after something switched
constexpr int kMostRestarts = 6;         // a device that keeps falling over is left off
std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

// Calls visit(watch, index, margin) for everything that may switch; margins are scaled to about one.
template <typename Visit>
void Simulator::each_watch(const View& view, Visit visit) const {
  const wiring::Solution& s = *view.solution;
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const day::Device& device = day_.devices[d];
    const DeviceNow& now = device_[d];
    const int index = static_cast<int>(d);
    if (device.inputs.size() > 1) {
      const auto input_v = [&](int i) { return s.node_v[at(day_.leads[at(device.inputs[at(i)].lead)].from)]; };
      const double selected_v = input_v(now.input);
      for (int i = 0; i < static_cast<int>(device.inputs.size()); ++i) {
        if (i == now.input) continue;
        const double other_v = input_v(i);
        // Leave the selected input when it sags and another is good; return to a better one when it is good again.
        if (i > now.input && other_v >= device.inputs[at(i)].least_v) {
          visit(Watch::input_lost, index, (selected_v - device.inputs[at(now.input)].least_v) / 10.0);
        }
        if (i < now.input && now.returns < kMostRestarts)
          visit(Watch::input_back, index, (device.inputs[at(i)].return_v - other_v) / 10.0);
      }
    }
    if (device.modes[at(now.mode)].off) continue;
    const double v = s.node_v[at(device.port)];
    if (now.powered) {
      visit(Watch::device_low, index, (v - std::max(cutoff_v(d), 0.3)) / std::max(cutoff_v(d), 1.0));
      if (!now.over_volts_seen) visit(Watch::over_volts, index, (highest_v(d) - v) / 10.0);
    } else if (!now.stays_off) {
      visit(Watch::device_back, index, (std::max(restart_v(d), 0.5) - v) / std::max(restart_v(d), 1.0));
    }
  }
  for (std::size_t k = 0; k < regulator_on_.size(); ++k) {
    const wiring::RegulatorLaw& law = now_.regulators[k].law;
    const double v = s.node_v[at(model_.topology.regulators[k].in_node)];
    const int index = static_cast<int>(k);
    if (regulator_on_[k]) {
      visit(Watch::regulator_low, index, (v - std::max(law.min_in_v, 0.3)) / 10.0);
    } else if (regulator_restarts_[k] < kMostRestarts) {
      visit(Watch::regulator_back, index, (std::max({law.restart_in_v, law.min_in_v, 0.5}) - v) / 10.0);
    }
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    const HolderNow& now = holder_[h];
    if (now.pack < 0 || !now.connected) continue;
    const int index = static_cast<int>(h);
    const cell::PackParams& pack = day_.packs[at(now.pack)].params;
    const cell::Protection& guard = pack.protection;
    const double amps = s.pack_a[h];
    const double cells = pack.series;
    if (day_.holders[h].charger_supply >= 0) {
      const day::Holder& holder = day_.holders[h];
      if (now.full_seen || !now_.supplies[at(model_.charger_supply_of[h])].live) continue;
      if (day_.packs[at(now.pack)].by_coulombs) {
        const cell::ChargeLaw law =
            day::law_in_bay(day_.packs[at(now.pack)], holder.charge_a, holder.charge_end, holder.charge_put_in);
        const double start = out_.stints[at(now.stint)].start_charge;
        visit(Watch::bay_full, index, cell::coulombs_end(law, pack.cell, start) - (*view.state)[h].cell.charge);
      } else {
        visit(Watch::bay_full, index, (-amps - holder.charge_end * holder.charge_a) / std::max(holder.charge_a, 0.1));
      }
      continue;
    }
    if (guard.under_v > 0.0) visit(Watch::pack_under, index, (s.pack[h].volts - guard.under_v) / cells);
    if (guard.under_cell_v > 0.0) visit(Watch::pack_under, index, s.pack[h].lowest_cell_v - guard.under_cell_v);
    if (guard.over_current_a > 0.0) visit(Watch::pack_current, index, 1.0 - amps / guard.over_current_a);
    const double k = (*view.state)[h].cell.temperature_k;
    if (guard.coldest_k > 0.0) visit(Watch::pack_cold, index, (k - guard.coldest_k) / 10.0);
    if (guard.hottest_k > 0.0) visit(Watch::pack_hot, index, (guard.hottest_k - k) / 10.0);
    if (!now.reversed_seen) visit(Watch::reversed, index, s.pack[h].lowest_cell_v);
    if (guard.low_load_a > 0.0 && guard.low_load_s > 0.0) {
      const int r = model_.holder_regulator[h];
      const double out_a = r >= 0 ? s.regulator_out_a[at(r)] : amps;
      if (now.sleeps_s == kNever) {
        visit(Watch::low_load, index, out_a / guard.low_load_a - 1.0);
      } else {
        visit(Watch::load_again, index, 1.0 - out_a / guard.low_load_a);
      }
    }
  }
  for (std::size_t k = 0; k < lead_.size(); ++k) {
    if (!day_.leads[k].fuse || lead_[k].open) continue;
    visit(Watch::fuse, static_cast<int>(k), 1.0 - (*view.leads)[k].used);
  }
}

double Simulator::least_margin(const View& view) const {
  double least = 1e9;
  each_watch(view, [&](Watch, int, double margin) { least = std::min(least, margin); });
  return least;
}

// Devices switched on where there is power go on at once, without asking first what the volts are without them. Where
// they do not stay above their restart volts, that question is needed after all.
void Simulator::power_up_ahead() {
  bool any = false;
  for (std::size_t d = 0; d < device_.size(); ++d) {
    DeviceNow& now = device_[d];
    now.ahead = false;
    if (now.powered || now.stays_off || now.down_s < kNever || now.restarts > 0) continue;
    if (day_.devices[d].inputs.size() > 1 || day_.devices[d].modes[at(now.mode)].off) continue;
    now.ahead = now.powered = solution_.node_v[at(day_.devices[d].port)] > std::max(restart_v(d), 0.5);
    any = any || now.ahead;
  }
  resolve();
  if (!any) return;
  bool regrets = false;
  for (std::size_t d = 0; d < device_.size(); ++d) {
    DeviceNow& now = device_[d];
    regrets = regrets || (now.ahead && solution_.node_v[at(day_.devices[d].port)] <= std::max(restart_v(d), 0.5));
  }
  for (std::size_t d = 0; d < device_.size(); ++d) {
    if (!device_[d].ahead) continue;
    device_[d].powered = false;
    if (!regrets) device_up(static_cast<int>(d));
  }
  if (regrets) resolve();
}

void Simulator::settle() {
  if (options_.loss_only) {
    power_up_ahead();
  } else {
    resolve();
  }
  int rounds = 0;
  while (settle_once()) {
    resolve();
    if (++rounds > 500) throw std::runtime_error("the switching of one moment does not come to rest");
  }
  std::fill(slope_a_s_.begin(), slope_a_s_.end(), 0.0);
  std::fill(bend_a_s2_.begin(), bend_a_s2_.end(), 0.0);
  slope_over_s_ = 0.0;
  confirm_losses();
  step_s_ = std::min(step_s_, kAfterSwitch_s);
  remember_volts();
  if (!options_.loss_only) {
    powers(solution_, power_);
    watch_volts();
  }
  record();
}

// Acts on one class of violated condition; true when something switched and the wiring must be solved again.
bool Simulator::settle_once() {
  std::vector<Hit>& hits = hits_;
  hits.clear();
  each_watch({&solution_, &state_, &lead_}, [&](Watch watch, int index, double margin) {
    if (margin < 0.0) hits.push_back({watch, index, margin});
  });
  if (hits.empty()) return false;
  const auto first_of = [&](std::initializer_list<Watch> kinds) -> const Hit* {
    const Hit* worst = nullptr;
    for (const Hit& hit : hits) {
      if (std::find(kinds.begin(), kinds.end(), hit.watch) == kinds.end()) continue;
      if (worst == nullptr || hit.margin < worst->margin) worst = &hit;
    }
    return worst;
  };
  // Notes that change nothing electrically.
  bool noted = false;
  for (const Hit& hit : hits) {
    if (hit.watch == Watch::reversed) {
      holder_[at(hit.index)].reversed_seen = true;
      note({.at_s = t_, .kind = EventKind::cell_reversed, .index = hit.index, .pack = holder_[at(hit.index)].pack});
      noted = true;
    } else if (hit.watch == Watch::over_volts) {
      device_[at(hit.index)].over_volts_seen = true;
      note({.at_s = t_,
            .kind = EventKind::over_volts,
            .index = hit.index,
            .volts = solution_.node_v[at(day_.devices[at(hit.index)].port)],
            .limit_v = highest_v(at(hit.index))});
      noted = true;
    } else if (hit.watch == Watch::bay_full) {
      holder_[at(hit.index)].full_seen = true;
      note({.at_s = t_, .kind = EventKind::pack_full, .index = hit.index, .pack = holder_[at(hit.index)].pack});
      noted = true;
    } else if (hit.watch == Watch::low_load) {
      HolderNow& now = holder_[at(hit.index)];
      now.sleeps_s = t_ + day_.packs[at(now.pack)].params.protection.low_load_s;
      noted = true;
    } else if (hit.watch == Watch::load_again) {
      holder_[at(hit.index)].sleeps_s = kNever;
      noted = true;
    }
  }
  // Regulators that stand in the dark go off, whatever else is acted on.
  std::erase_if(hits, [&](const Hit& hit) {
    if (hit.watch != Watch::regulator_low) return false;
    if (solution_.node_v[at(model_.topology.regulators[at(hit.index)].in_node)] > 0.0) return false;
    regulator_on_[at(hit.index)] = 0;
    note({.at_s = t_, .kind = EventKind::regulator_down, .index = hit.index});
    noted = true;
    return true;
  });
  if (const Hit* hit = first_of({Watch::input_lost, Watch::input_back})) {
    const day::Device& device = day_.devices[at(hit->index)];
    DeviceNow& now = device_[at(hit->index)];
    const int before = now.input;
    const auto good = [&](int i) {
      const double v = solution_.node_v[at(day_.leads[at(device.inputs[at(i)].lead)].from)];
      return v > (i < before ? device.inputs[at(i)].return_v : device.inputs[at(i)].least_v);
    };
    for (int i = 0; i < static_cast<int>(device.inputs.size()); ++i) {
      // A better input that looks good at rest and sags under load is gone back to only so often.
      if (i < before && now.returns >= kMostRestarts) continue;
      if (i != before && good(i)) {
        now.input = i;
        if (i < before) ++now.returns;
        break;
      }
    }
    if (now.input != before) {
      if (hit->watch == Watch::input_lost) {
        for (const int h : model_.input_holders[at(hit->index)][at(before)]) mark_ended(h);
      }
      note({.at_s = t_,
            .kind = EventKind::input_switched,
            .index = hit->index,
            .volts = static_cast<double>(now.input)});
      return true;
    }
  }
  if (const Hit* hit = first_of({Watch::regulator_low, Watch::regulator_back})) {
    const bool on = hit->watch == Watch::regulator_back;
    regulator_on_[at(hit->index)] = on ? 1 : 0;
    if (on) ++regulator_restarts_[at(hit->index)];
    note({.at_s = t_, .kind = on ? EventKind::regulator_up : EventKind::regulator_down, .index = hit->index});
    return true;
  }
  if (const Hit* hit = first_of({Watch::fuse})) {
    lead_[at(hit->index)].open = true;
    const bool resettable = day_.leads[at(hit->index)].fuse->law.resettable;
    note({.at_s = t_, .kind = resettable ? EventKind::protector_open : EventKind::fuse_open, .index = hit->index});
    return true;
  }
  if (const Hit* hit =
          first_of({Watch::pack_under, Watch::pack_current, Watch::pack_cold, Watch::pack_hot, Watch::device_low})) {
    if (hit->watch == Watch::device_low) {
      const std::size_t d = at(hit->index);
      const double v = solution_.node_v[at(day_.devices[d].port)];
      device_down(hit->index, v <= now_.loads[d].floor_v && v > 0.0);
      // All that stand in the dark go together.
      for (const Hit& other : hits) {
        if (other.watch != Watch::device_low || other.index == hit->index) continue;
        if (solution_.node_v[at(day_.devices[at(other.index)].port)] < 0.3 * cutoff_v(at(other.index)))
          device_down(other.index, false);
      }
    } else {
      pack_off(hit->index, hit->watch == Watch::pack_under     ? Cause::pack_flat
                           : hit->watch == Watch::pack_current ? Cause::pack_tripped
                                                               : Cause::pack_temperature);
    }
    return true;
  }
  bool started = false;
  for (const Hit& hit : hits) {
    if (hit.watch != Watch::device_back) continue;
    device_up(hit.index);
    started = true;
  }
  return started || noted;
}

void Simulator::mark_ended(int h) {
  const int stint = holder_[at(h)].stint;
  if (stint >= 0 && out_.stints[at(stint)].ended_s == kNever) out_.stints[at(stint)].ended_s = t_;
}

void Simulator::pack_off(int h, Cause cause) {
  HolderNow& now = holder_[at(h)];
  now.connected = false;
  now.sleeps_s = kNever;
  now.off_why = describe({.cause = cause, .holder = h, .pack = now.pack});
  mark_ended(h);
  note({.at_s = t_,
        .kind = EventKind::pack_off,
        .index = h,
        .pack = now.pack,
        .volts = solution_.pack[at(h)].volts,
        .why = now.off_why});
}

CauseNote Simulator::find_cause(int d, bool collapsed) const {
  const Feeding& feeding = model_.feeding[at(d)];
  for (const int k : feeding.leads) {
    if (lead_[at(k)].open) {
      const bool resettable = day_.leads[at(k)].fuse->law.resettable;
      return {.cause = resettable ? Cause::protector_tripped : Cause::fuse_open, .lead = k};
    }
  }
  CauseNote empty;
  int present = -1;
  for (const int h : feeding.holders) {
    const HolderNow& now = holder_[at(h)];
    if (now.arriving >= 0) return {.cause = Cause::change, .holder = h, .pack = now.arriving};
    if (now.renegotiated_s < kNever) return {.cause = Cause::ports_off, .holder = h, .pack = now.pack};
    if (now.pack >= 0 && !now.connected && empty.cause == Cause::none) empty = now.off_why;
    if (now.pack >= 0 && now.connected && present < 0) present = h;
  }
  if (empty.cause != Cause::none && present < 0) return empty;
  const double v = solution_.node_v[at(day_.devices[at(d)].port)];
  if (present >= 0) {
    for (const int k : feeding.regulators) {
      if (!regulator_on_[at(k)])
        return {.cause = Cause::regulator_off, .holder = present, .pack = holder_[at(present)].pack, .regulator = k};
    }
    if (v > 0.05) {
      return {.cause = collapsed ? Cause::collapse : Cause::low_volts,
              .holder = present,
              .pack = holder_[at(present)].pack};
    }
    if (empty.cause != Cause::none) return empty;
  }
  for (const int h : feeding.holders) {
    if (holder_[at(h)].left_empty) return {.cause = Cause::holder_empty, .holder = h};
  }
  for (const int k : feeding.supplies) {
    if (!day_.periods[at(period_)].supply_live[at(k)]) return {.cause = Cause::supply_off, .supply = k};
  }
  if (!feeding.holders.empty()) return {.cause = Cause::holder_empty, .holder = feeding.holders.front()};
  return {.cause = feeding.supplies.empty() ? Cause::not_connected : Cause::low_volts};
}

// Adds how the pack stood at this moment.
CauseNote Simulator::describe(CauseNote why) const {
  if (why.holder < 0 || holder_[at(why.holder)].pack < 0 || holder_[at(why.holder)].pack != why.pack ||
      why.pack_k > 0.0)
    return why;
  why.charge = state_[at(why.holder)].cell.charge;
  why.pack_v = solution_.pack[at(why.holder)].volts;
  why.pack_k = state_[at(why.holder)].cell.temperature_k;
  return why;
}

// Until when a device without power may be without it: what may drop out in a change, until that is over; any, where
// hands left its holder empty.
double Simulator::dark_until_s(std::size_t d, double otherwise_s) const {
  const day::Device& device = day_.devices[d];
  const CauseNote& why = device_[d].why;
  if (why.cause != Cause::change) return otherwise_s;
  if (device.need != day::Need::rolling && !holder_[at(why.holder)].left_empty) return otherwise_s;
  return holder_[at(why.holder)].arrives_s + device.restart_s + 1.0;
}

void Simulator::device_down(int d, bool collapsed) {
  DeviceNow& now = device_[at(d)];
  const day::Device& device = day_.devices[at(d)];
  const bool was_ready = now.ready_s <= t_;
  now.powered = false;
  now.why = describe(find_cause(d, collapsed));
  // The input capacitor carries the load from the last good volts V1 down to cut-off V2: C (V1² - V2²) / 2P seconds at
  // constant power. A constant current I is the same with P = I (V1 + V2) / 2, exactly (docs/model.md).
  const double before_v = last_good_v_[at(d)];
  const double least_v = cutoff_v(at(d));
  const double middle_v = 0.5 * (before_v + least_v);
  const wiring::LoadNow& load = now_.loads[at(d)];
  const double input_w = std::max(load.power_w + (load.current_a + load.siemens * middle_v) * middle_v, 1e-3);
  const double held_s =
      before_v > least_v ? device.hold_up_f * (before_v * before_v - least_v * least_v) / (2.0 * input_w) : 0.0;
  if (was_ready) {
    now.down_s = t_;
    now.held_until_s = t_ + held_s;
    if (now.out_since_s == kNever) now.out_since_s = now.held_until_s;
  }
  if (now.why.cause == Cause::low_volts || now.why.cause == Cause::collapse || now.why.cause == Cause::regulator_off) {
    const auto& by_input = model_.input_holders[at(d)];
    for (const int h : by_input.empty() ? model_.feeding[at(d)].holders : by_input[at(now.input)]) {
      if (holder_[at(h)].pack >= 0) mark_ended(h);
    }
  }
  if (now.deadline_s == kNever) now.deadline_s = dark_until_s(at(d), now.held_until_s);
  note({.at_s = t_,
        .kind = EventKind::device_down,
        .index = d,
        .volts = solution_.node_v[at(device.port)],
        .why = now.why});
}

void Simulator::device_up(int d) {
  DeviceNow& now = device_[at(d)];
  const day::Device& device = day_.devices[at(d)];
  const bool comes_back = device.restarts_itself || now.by_hand || now.down_s == kNever || t_ < now.held_until_s;
  if (now.restarts >= kMostRestarts || !comes_back) {
    now.stays_off = true;
    return;
  }
  now.powered = true;
  now.by_hand = false;
  ++now.restarts;
  const bool first_time = now.down_s == kNever && now.out_since_s == kNever;
  now.ready_s = first_time || t_ < now.held_until_s ? t_ : t_ + device.restart_s;
  note({.at_s = now.ready_s, .kind = EventKind::device_up, .index = d, .volts = solution_.node_v[at(device.port)]});
}

// Marks losses whose time has run out and forgives those that came back in time.
void Simulator::confirm_losses() {
  for (std::size_t d = 0; d < device_.size(); ++d) {
    DeviceNow& now = device_[d];
    const day::Device& device = day_.devices[d];
    const bool wanted = !device.modes[at(now.mode)].off;
    const bool works = !wanted || (now.powered && now.ready_s <= t_ + 1e-9);
    if (works) {
      end_outage(d);
      now.down_s = kNever;
      now.deadline_s = kNever;
      continue;
    }
    if (now.out_since_s == kNever) now.out_since_s = t_;
    if (now.down_s == kNever) {  // wanted but never had power
      now.down_s = t_;
      now.why = describe(find_cause(static_cast<int>(d), false));
      now.deadline_s = dark_until_s(d, t_);
    }
    if (device.need == day::Need::optional || t_ < day_.call_s) continue;
    // The unbroken must also survive changes; the time counts from call.
    if (t_ + 1e-9 < std::max(now.deadline_s, day_.call_s)) continue;
    const double at_s = std::max(now.down_s, day_.call_s);
    if (at_s < out_.first_loss.at_s) {
      out_.first_loss = {
          .device = static_cast<int>(d), .at_s = at_s, .volts = solution_.node_v[at(device.port)], .why = now.why};
    }
  }
}

bool Simulator::all_known() const {
  if (!options_.stop_at_loss && options_.stop_served.empty()) return false;
  const bool searched = !options_.stop_served.empty() && t_ >= options_.search_until_s;
  if (options_.stop_at_loss && !searched && (out_.first_loss.device < 0 || loss_pending())) return false;
  const auto served = [this](const Served& one) {
    const Stint* stint = stint_of(out_, one);
    return stint != nullptr && stint->ended_s < kNever;
  };
  const std::vector<Served>& all = options_.stop_served;
  return options_.first_served ? std::any_of(all.begin(), all.end(), served)
                               : std::all_of(all.begin(), all.end(), served);
}

// A device that is down but not yet counted lost may turn out to be the first.
bool Simulator::loss_pending() const {
  for (const DeviceNow& now : device_) {
    if (now.down_s < out_.first_loss.at_s && now.deadline_s < kNever && now.deadline_s > t_) return true;
  }
  return false;
}

void Simulator::note(Event event) {
  if (!closed_ && !options_.loss_only) out_.events.push_back(event);
}

}  // namespace tillwrap::forecast
