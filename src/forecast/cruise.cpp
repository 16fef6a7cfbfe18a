// Long quiet stretches: in each part of the wiring one pack, or several that meet at one port, carries a steady load,
// and nothing is near switching. The wiring then looks to the pack like one load that depends on its volts alone, taken
// from the last full operating point; only packs, the bag's warmth and the temperatures of what lies in it are stepped.
// Used where only the first loss is wanted; tests hold its losses to those of the full stepping.
#include "forecast/cruise.hpp"

#include <algorithm>
#include <cmath>

#include "forecast/simulator.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::forecast {

namespace {

// What a step may err by, at tolerance 1. How far the currents' going on as they went misses tells it: what is left is
// a few times less. A charge gone astray moves the day's end by as many seconds, however flat the volts are; volts
// count where they are near to switching something.
constexpr double kSecondsPerStep = 0.4;
constexpr double kVoltTolerancePerCell = 1e-4;
constexpr double kShareOfRoom = 0.005;   // of the volts left to the next switching
constexpr double kChargePerStep = 2e-4;  // of a pack on charge, gone astray where its current bends
constexpr double kKelvinPerStep = 1.5;
constexpr double kShapePerStep = 0.06;  // change of the diffusion time, over charge and with warmth
constexpr double kMissedVolts = 3.0;    // the lags miss more than the charge
// The load is taken anew when its error may have grown to this share of it. Its law is exact for devices at the pack;
// in wires it is right to first order, so the error goes with their share of the loss and the square of the change of
// volts.
constexpr double kLoadError = 5e-5;
constexpr double kShortest_s = 5.0;  // nearer to a switch than that: step in full
constexpr double kFirst_s = 240.0;
constexpr double kTowardsSwitch = 0.9;
constexpr double kMostGrowth = 6.0;
constexpr double kCarries_a = 1e-9;
constexpr double kJustBefore_s = 2.0;
constexpr double kAbove = 1.02;        // of the volts it switches itself off at
constexpr double kShareOfMost = 0.98;  // of the current a pack switches itself off at

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double step_factor(double error) { return 0.85 / std::sqrt(error); }

}  // namespace

// Power-like part P/V, constant current, conductance, and wire losses that go with the square of the current.
wiring::ValueGradient Simulator::cruise_load_a(const CruiseLoad& load, double v) {
  const double ratio = load.reference_v / v;
  const double loss_a = load.loss_w * ratio * ratio / v;
  return {load.power_w / v + load.current_a + load.siemens * v + loss_a,
          -load.power_w / (v * v) + load.siemens - 3.0 * loss_a / v};
}

// What one pack itself may leave its stretch for.
bool Simulator::prepare_pack(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  const cell::Protection& guard = day_.packs[at(holder_[h].pack)].params.protection;
  if (guard.low_load_a > 0.0 || holder_[h].renegotiated_s < kNever) return false;
  load.leave_cell_v = std::max(guard.under_cell_v, 0.1) + 0.05;
  load.most_a = guard.over_current_a > 0.0 ? kShareOfMost * guard.over_current_a : kNoLimit_a;
  load.amps = solution_.pack_a[h];
  load.point = solution_.pack[h];
  load.active = true;
  return load.point.lowest_cell_v > load.leave_cell_v && load.amps < load.most_a;
}

// The load of a pack, or of the packs that meet with it, and the volts below which something behind it may switch.
bool Simulator::prepare_load(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  const int part = network_.part_of(load.meet_node);
  const double v = solution_.node_v[at(load.meet_node)];
  const double amps = carried_a(h);
  load.at_v = v;
  load.leave_v = 0.2 * v;
  load.loss_w = load.current_a = load.siemens = 0.0;
  for (std::size_t k = h; k < cruise_load_.size(); ++k) {
    if (!carries_with(k, h)) continue;
    const CruiseLoad& one = cruise_load_[k];
    const double own_a = solution_.pack_a[k] - one.own_idle_a;
    load.loss_w -= own_a * own_a * one.own_ohm;
    load.leave_v = std::max(load.leave_v, kAbove * day_.packs[at(holder_[k].pack)].params.protection.under_v);
  }
  const auto guard = [&](double least_v, double own_v) {
    load.leave_v = std::max(load.leave_v, 1.01 * least_v + 1.3 * std::max(v - own_v, 0.0));
  };
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const day::Device& device = day_.devices[d];
    // Behind a regulator a device is guarded by the regulator's input.
    if (!device_[d].powered || device.modes[at(device_[d].mode)].off || network_.part_of(device.port) != part) continue;
    const double input_v = device.inputs.size() > 1 ? device.inputs[at(device_[d].input)].least_v : 0.0;
    guard(std::max(cutoff_v(d), input_v), solution_.node_v[at(device.port)]);
  }
  for (std::size_t k = 0; k < regulator_on_.size(); ++k) {
    const int in_node = model_.topology.regulators[k].in_node;
    if (regulator_on_[k] && network_.part_of(in_node) == part)
      guard(now_.regulators[k].law.min_in_v, solution_.node_v[at(in_node)]);
  }
  for (std::size_t k = 0; k < now_.supplies.size(); ++k) {  // supplies that wait for lower volts
    const int supply_node = model_.topology.supply_node[k];
    if (now_.supplies[k].live && network_.part_of(supply_node) == part) {
      guard(now_.supplies[k].volts, solution_.node_v[at(supply_node)]);
    }
  }
  for (std::size_t other = 0; other < holder_.size(); ++other) {  // packs in OR that wait for lower volts
    const wiring::PackNow& waiting = now_.packs[other];
    if (carries_with(other, h) || network_.part_of(model_.holder_node[other]) != part || !waits(other)) continue;
    // While it waits it recovers, up to its rested volts.
    const double waiting_v = std::max(solution_.pack[other].volts, solution_.pack[other].open_v);
    load.leave_v = std::max(load.leave_v, 1.002 * (waiting_v - waiting.drop_v) + 0.05);
  }
  if (v <= load.leave_v) return false;
  if (load.packs > 1 && !ways_hold(h)) return false;
  std::fill(load.place_share.begin(), load.place_share.end(), 0.0);
  for (std::size_t k = 0; k < solution_.branch_a.size(); ++k) {
    const wiring::Branch& branch = model_.topology.branches[k];
    if (network_.part_of(branch.a) != part) continue;
    const double branch_a = solution_.branch_a[k];
    load.loss_w += branch_a * branch_a * now_.branch_ohm[k];
    if (k >= day_.leads.size() || !day_.leads[k].fuse) continue;
    const day::Fuse& fuse = *day_.leads[k].fuse;
    const double hold_a = wiring::hold_current_a(fuse.law, fuse.rated_a, place_k_[at(day_.leads[k].place)]);
    if (std::fabs(branch_a) * v / load.leave_v > kFuseRoom * hold_a) return false;
  }
  for (std::size_t k = 0; k < regulator_on_.size(); ++k) {  // the I²R part of a regulator goes with 1/V² as well
    const int in_node = model_.topology.regulators[k].in_node;
    if (network_.part_of(in_node) != part) continue;
    const wiring::RegulatorLaw& law = now_.regulators[k].law;
    const double out_over_in_a =
        law.set_v * solution_.regulator_out_a[k] / std::max(solution_.node_v[at(in_node)], 0.1);
    load.loss_w += law.square_ohm * out_over_in_a * out_over_in_a;
  }
  for (std::size_t k = 0; k < now_.loads.size(); ++k) {
    if (network_.part_of(model_.topology.load_node[k]) != part || !draws_from(k, h)) continue;
    load.current_a += now_.loads[k].current_a;
    load.siemens += now_.loads[k].siemens;
  }
  load.reference_v = v;
  load.power_w = v * amps - load.current_a * v - load.siemens * v * v - load.loss_w;
  load.loss_share = load.loss_w / std::max(v * amps, 1e-9) + 1e-4;
  return true;
}

// Whether the present operating point may be cruised from.
bool Simulator::prepare_cruise() {
  for (std::size_t h = 0; h < cruise_load_.size(); ++h) stand_alone(h);
  for (std::size_t k = 0; k < bay_supply_.size(); ++k) {
    if (solution_.supply_a[k] != 0.0 && !bay_supply_[k]) return false;
  }
  // What waits for power must stand in the dark: there it waits for hands or mains.
  const auto dark = [this](int node) { return solution_.node_v[at(node)] <= 0.0; };
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const day::Device& device = day_.devices[d];
    if (device.modes[at(device_[d].mode)].off) continue;
    if (!device_[d].powered && !device_[d].stays_off && !dark(device.port)) return false;
    for (int better = 0; better < device_[d].input; ++better) {
      if (!dark(day_.leads[at(device.inputs[at(better)].lead)].from)) return false;
    }
  }
  for (std::size_t k = 0; k < regulator_on_.size(); ++k) {
    if (!regulator_on_[k] && !dark(model_.topology.regulators[k].in_node)) return false;
  }
  // No fuse or protector under way to opening, behind regulators too; prepare_load leaves room for falling volts.
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    if (!day_.leads[k].fuse || lead_[k].open) continue;
    const day::Fuse& fuse = *day_.leads[k].fuse;
    const double hold_a = wiring::hold_current_a(fuse.law, fuse.rated_a, place_k_[at(day_.leads[k].place)]);
    if (lead_[k].used > 0.0 || std::fabs(solution_.branch_a[k]) > kFuseRoom * hold_a) return false;
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (day_.holders[h].charger_supply >= 0 && !bay_may_cruise(h)) return false;
    if (holder_[h].pack < 0 || !holder_[h].connected || std::fabs(solution_.pack_a[h]) < kCarries_a) continue;
    if (day_.holders[h].charger_supply >= 0) {
      // What a full pack's electronics draw of itself is left to rest.
      if (solution_.pack_a[h] < 0.0) prepare_bay(h);
      if (solution_.pack_a[h] > 0.0) return false;
      continue;
    }
    if (kept_out(h)) {
      prepare_kept(h);
      continue;
    }
    if (!join_cruise(h) || !prepare_pack(h)) return false;
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (leads(h) && !prepare_load(h)) return false;
  }
  // Electrical heat of each place goes with the power of the packs, in proportion.
  place_heat(solution_, state_, place_k_, heat0_);
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    const std::size_t place = at(day_.holders[h].place);
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    heat0_[place] -= pack.cooling_w_k * (state_[h].cell.temperature_k - place_k_[place]);
  }
  double power_w = 0.0;
  for (std::size_t h = 0; h < cruise_load_.size(); ++h) {
    const CruiseLoad& load = cruise_load_[h];
    if (load.active && !load.bay && !load.kept) power_w += load.point.volts * load.amps;
  }
  for (CruiseLoad& load : cruise_load_) {
    if (!load.active || load.bay || load.kept) continue;
    for (std::size_t p = 0; p < heat0_.size(); ++p) load.place_share[p] = heat0_[p] / power_w;
  }
  cruise_ = {.valid = true, .since_s = t_};
  return true;
}

// Idle packs' lags relax over the whole stretch at once; the operating point is solved anew unless that follows anyway.
void Simulator::leave_cruise(bool solve) {
  cruise_.valid = false;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0 || cruise_load_[h].active) continue;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    const double temperature_k = state_[h].cell.temperature_k;
    state_[h] =
        cell::advance(pack, cell::rates_at(pack.cell, temperature_k), state_[h], t_ - cruise_.since_s, 0.0, 0.0);
    state_[h].cell.temperature_k = temperature_k;
  }
  if (solve) {
    resolve();
    remember_volts();
    return;
  }
  for (std::size_t d = 0; d < device_.size(); ++d) {  // for hold-up
    if (device_[d].powered) last_good_v_[d] = cruised_v(day_.devices[d].port);
  }
}

// Volts at a port have moved with those of its pack.
double Simulator::cruised_v(int port) const {
  double volts = solution_.node_v[at(port)];
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (leads(h) && network_.part_of(model_.holder_node[h]) == network_.part_of(port))
      volts += carried_v(h) - cruise_load_[h].reference_v;
  }
  return volts;
}

// What happens at the end of a stretch is recorded at that moment: how it stood until then goes just before.
void Simulator::record_cruised(bool at_end) {
  Trace& trace = out_.trace;
  const std::size_t rows = trace.at_s.size();
  record();
  if (trace.at_s.size() == rows) return;
  if (at_end) trace.at_s.back() = std::max(t_ - kJustBefore_s, rows > 0 ? trace.at_s[rows - 1] : t_);
  for (std::size_t d = 0; d < device_.size(); ++d) trace.device_v[d].back() = cruised_v(day_.devices[d].port);
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (cruise_load_[h].active) trace.holder_v[h].back() = cruise_load_[h].point.volts;
  }
}

void Simulator::warm_cruise_places(double step_s, bool corrected) {
  for (const std::size_t p : bags_) {
    const day::Place& place = day_.places[p];
    const double middle_k = corrected ? 0.5 * (place_k_[p] + trial_place_k_[p]) : place_k_[p];
    double heat_w = 0.0;
    for (std::size_t h = 0; h < holder_.size(); ++h) {
      if (holder_[h].pack < 0) continue;
      const CruiseLoad& load = cruise_load_[h];
      if (load.active) {
        const double start_w = load.point.volts * load.amps;
        heat_w += load.place_share[p] * (corrected ? 0.5 * (start_w + load.end_point.volts * load.end_a) : start_w);
      }
      if (at(day_.holders[h].place) != p) continue;
      const double pack_k =
          corrected && load.active ? 0.5 * (state_[h].cell.temperature_k + load.end_k) : state_[h].cell.temperature_k;
      heat_w += day_.packs[at(holder_[h].pack)].params.cooling_w_k * (pack_k - middle_k);
    }
    if (!corrected) place_decay_[p] = maths::exp(-step_s * place.cooling_w_k / place.heat_capacity_j_k);
    const double settled_k = air_k() + heat_w / place.cooling_w_k;
    mean_place_k_[p] = mean_on_the_way(place, step_s, place_decay_[p], place_k_[p], settled_k);
    trial_place_k_[p] = settled_k + (place_k_[p] - settled_k) * place_decay_[p];
  }
}

// Where a pack's lags, warmth and current go within a step, as far as it can be told without the wiring.
void Simulator::predict_cruise(std::size_t h, double step_s) {
  CruiseLoad& load = cruise_load_[h];
  const day::Holder& holder = day_.holders[h];
  const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
  load.around_k = mean_place_k_[at(holder.place)];
  load.decay = cell::cooling_decay(pack, step_s);
  load.end_k = cell::warmed_k(pack, state_[h].cell.temperature_k, step_s, load.decay, load.amps * load.point.lost_v,
                              load.around_k);
  trial_rates_[h] = cell::rates_at(pack.cell, load.end_k);
  mid_rates_[h] = cell::between(pack.cell, rates_[h], trial_rates_[h]);
  load.straight_a = load.amps + slope_a_s_[h] * step_s;
  load.end_a = load.straight_a + 0.5 * bend_a_s2_[h] * step_s * (step_s + slope_over_s_);
  lags_[h] = cell::lags_over(pack, rates_[h], mid_rates_[h], trial_rates_[h], state_[h], step_s, load.amps, load.end_a);
}

// The cells at the end of a step with the current taken for it.
void Simulator::follow_cruise(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
  trial_state_[h] = cell::advance(pack, mid_rates_[h], lags_[h], state_[h], load.amps, load.end_a);
  load.settled_a = trial_state_[h].cell.transfer_a;
  cell::let_transfer_follow(pack, lags_[h], trial_state_[h], load.end_a);
  load.end_point = cell::evaluate(pack, trial_rates_[h], trial_state_[h], load.end_a);
}

// As much further along the tangent.
void Simulator::nudge_cruise(std::size_t h, double change_a) {
  CruiseLoad& load = cruise_load_[h];
  const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
  cell::follow_tangent(pack, load.end_point, change_a);
  trial_state_[h] = cell::advance(pack, mid_rates_[h], lags_[h], state_[h], load.amps, load.end_a);
  load.settled_a = trial_state_[h].cell.transfer_a;
}

// Newton on the current of a pack with nothing beside it, the cells following.
double Simulator::settle_alone(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  const double drop_v = day_.holders[h].drop_v;
  double error = 0.0;
  for (int i = 0; i < kMostCruiseIterations; ++i) {
    follow_cruise(h);
    const wiring::ValueGradient wanted =
        load.bay ? cruise_bay_a(h, load.end_point.volts)
                 : cruise_load_a(load, std::max(load.end_point.volts - drop_v, 0.5 * load.leave_v));
    const double change_a = (wanted.value - load.end_a) / (1.0 - wanted.gradient * load.end_point.slope_ohm);
    // At held volts the current falls on a curve: how far it left its straight line counts in full.
    if (i == 0 && load.bay) {
      const int series = day_.packs[at(holder_[h].pack)].params.series;
      error = std::fabs(change_a * load.end_point.slope_ohm) / (kVoltTolerancePerCell * series);
    }
    if (i > 0 && std::fabs(change_a) < kAmpShare * std::fabs(load.end_a)) break;
    load.end_a += change_a;
    if (i > 0 || std::fabs(change_a) > kGuessShare * std::fabs(load.end_a)) continue;
    nudge_cruise(h, change_a);
    break;
  }
  return error;
}

// What is left to do for a pack whose current at the end of a step is known; error over tolerance.
double Simulator::judge_cruise(std::size_t h, double step_s) {
  CruiseLoad& load = cruise_load_[h];
  const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
  const double start_k = state_[h].cell.temperature_k;
  const double heat_w = 0.5 * (load.amps * load.point.lost_v + load.end_a * load.end_point.lost_v);
  load.end_k = cell::warmed_k(pack, start_k, step_s, load.decay, heat_w, load.around_k);
  trial_state_[h].cell.temperature_k = load.end_k;
  trial_state_[h].cell.transfer_a = load.settled_a;
  trial_state_[h].cell.transfer_follows = 0.0;
  double error = std::fabs(load.end_k - start_k) / most_kelvin(pack, load.end_k, kKelvinPerStep);
  error = std::max(error, std::fabs(lags_[h].end_share - lags_[h].start_share) / kShapePerStep);
  if (load.bay) {
    const double missed_as = 0.5 * std::fabs(load.end_a - load.straight_a) * step_s / pack.parallel;
    return std::max(error, missed_as / (kChargePerStep * pack.cell.capacity_as));
  }
  const CruiseLoad& lead = cruise_load_[load.first];
  const double missed_a = load.end_a - load.straight_a;
  // What one of several takes too much the others have too little: it counts by what they carry together.
  const double missed_share = 0.5 * std::fabs(missed_a / (lead.packs > 1 ? lead.carried_a : load.end_a));
  const double room_v = std::max(carried_end_v(load.first) - lead.leave_v, 0.0);
  error = std::max(error, missed_share * step_s / kSecondsPerStep);
  error = std::max(error, kMissedVolts * missed_share * std::fabs(load.end_point.volts - load.point.volts) /
                              (kVoltTolerancePerCell * pack.series + kShareOfRoom * room_v));
  if (slope_over_s_ <= 0.0) return error;
  const double bent_as = missed_a * step_s * step_s / (6.0 * (step_s + slope_over_s_)) / pack.parallel;
  trial_state_[h].cell.charge += bent_as / pack.cell.capacity_as;
  trial_state_[h].weak_charge += bent_as / (pack.cell.capacity_as * pack.weak_fraction);
  return error;
}

// One trial step of all cruised packs; error over tolerance.
double Simulator::cruise_step(double step_s) {
  warm_cruise_places(step_s, false);
  double error = 0.0;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (cruise_load_[h].active) predict_cruise(h, step_s);
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (!cruise_load_[h].active || cruise_load_[h].first != h) continue;
    if (cruise_load_[h].packs > 1) {
      settle_together(h);
    } else {
      error = std::max(error, settle_alone(h));
    }
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (cruise_load_[h].active) error = std::max(error, judge_cruise(h, step_s));
  }
  warm_cruise_places(step_s, true);
  return error / options_.tolerance;
}

// The share of the step just tried that keeps clear of anything that may switch; 1 when all of it does.
double Simulator::cruise_clear() const {
  double share = 1.0;
  const auto keep = [&](double start_room, double end_room) {
    if (end_room < 0.0) share = std::min(share, start_room > 0.0 ? start_room / (start_room - end_room) : 0.0);
  };
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    const CruiseLoad& load = cruise_load_[h];
    if (!load.active) continue;
    const cell::Protection& guard = day_.packs[at(holder_[h].pack)].params.protection;
    if (load.bay) {
      const BayRoom start = bay_room(h, state_[h], load.point.volts, load.amps, state_[h].cell.temperature_k);
      const BayRoom end = bay_room(h, trial_state_[h], load.end_point.volts, load.end_a, load.end_k);
      keep(start.limit_v, end.limit_v);
      keep(start.full, end.full);
      keep(start.cold_k, end.cold_k);
      keep(start.hot_k, end.hot_k);
      continue;
    }
    const double start_k = state_[h].cell.temperature_k;
    if (load.first == h) keep(carried_v(h) - load.leave_v, carried_end_v(h) - load.leave_v);
    keep(load.most_a - load.amps, load.most_a - load.end_a);
    keep(load.amps - load.least_a, load.end_a - load.least_a);
    keep(load.point.lowest_cell_v - load.leave_cell_v, load.end_point.lowest_cell_v - load.leave_cell_v);
    if (guard.coldest_k > 0.0) keep(start_k - guard.coldest_k - 0.5, load.end_k - guard.coldest_k - 0.5);
    if (guard.hottest_k > 0.0) keep(guard.hottest_k - 0.5 - start_k, guard.hottest_k - 0.5 - load.end_k);
  }
  return share;
}

bool Simulator::cruise_to(double end_s) {
  if (!cruise_.valid && !prepare_cruise()) return false;
  trial_place_k_ = mean_place_k_ = place_k_;
  double step_s = std::max(step_s_, kFirst_s);
  bool arrived = true;
  bool moved_on = false;
  while (t_ < end_s - 1e-9) {
    double h_s = std::min({step_s, options_.longest_step_s, end_s - t_});
    double error = cruise_step(h_s);
    while (error > 1.0 && h_s > kShortest_s) {
      h_s = std::max(kShortest_s, h_s * std::max(0.2, step_factor(error)));
      error = cruise_step(h_s);
    }
    if (error > 1.0) {
      arrived = false;
      break;
    }
    const double clear = cruise_clear();
    if (clear < 1.0) {
      // Volts fall ever faster: what a straight line promises is not quite reached.
      step_s = std::max(std::min(kTowardsSwitch * clear, 0.8) * h_s, kShortest_s);
      if (step_s > 2.0 * kShortest_s) continue;
      arrived = false;
      break;
    }
    bool refresh = false;
    for (std::size_t h = 0; h < holder_.size(); ++h) {
      if (holder_[h].pack < 0) continue;
      CruiseLoad& load = cruise_load_[h];
      if (!load.active) {
        const std::size_t own = at(day_.holders[h].place);
        state_[h].cell.temperature_k = cell::warmed_k(day_.packs[at(holder_[h].pack)].params,
                                                      state_[h].cell.temperature_k, h_s, 0.0, mean_place_k_[own]);
        continue;
      }
      const double slope_a_s = (load.end_a - load.amps) / h_s;
      bend_a_s2_[h] =
          slope_over_s_ > 0.0 && !load.bay ? 2.0 * (slope_a_s - slope_a_s_[h]) / (h_s + slope_over_s_) : 0.0;
      slope_a_s_[h] = slope_a_s;
      load.amps = load.end_a;
      load.point = load.end_point;
      load.at_v = load.end_v;
      state_[h] = trial_state_[h];
      rates_[h] = trial_rates_[h];
      rates_k_[h] = 0.0;
      solution_.pack_a[h] = load.amps;
      if (!leads(h)) continue;
      const double moved = carried_v(h) / load.reference_v - 1.0;
      refresh = refresh || moved * moved * load.loss_share > kLoadError;
    }
    std::copy(trial_place_k_.begin(), trial_place_k_.end(), place_k_.begin());
    slope_over_s_ = h_s;
    t_ += h_s;
    moved_on = true;
    ++out_.steps;
    record_cruised(t_ >= end_s - 1e-9);
    // A step cut short by the end of the stretch says nothing against the longer one.
    const double next_s = h_s * (error > 1e-6 ? std::clamp(step_factor(error), 0.3, kMostGrowth) : kMostGrowth);
    step_s = t_ >= end_s - 1e-9 ? std::max(step_s, next_s) : next_s;
    if (!refresh) continue;
    leave_cruise(true);
    if (!prepare_cruise()) {
      arrived = t_ >= end_s - 1e-9;
      break;
    }
  }
  if (moved_on) step_s_ = step_s;  // else full stepping goes on with its own
  if (!arrived && cruise_.valid) leave_cruise(true);
  return arrived;
}

}  // namespace tillwrap::forecast
