#include "forecast/simulator.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "quantity/maths.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kVoltTolerancePerCell = 1e-4;
constexpr double kKelvinPerStep = 2.5;
constexpr double kKelvinAtLimit = 0.05;  // where protection would switch off, and of what is left to there
constexpr double kShareOfKelvin = 0.03;
constexpr double kBendTolerance = 1e-4;
constexpr double kChargePerStep = 0.02;  // diffusion and resistance over charge are taken at mid-step
constexpr double kFirstStep_s = 10.0;
constexpr double kShortestStep_s = 0.05;
constexpr double kEventWindow_s = 0.2;  // events are located to this
constexpr double kBay_ohm = 0.01;       // contacts of a charger bay, from memory
constexpr long kMostEvents = 100000;

constexpr double kMostGrowth = 4.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double cube_root_of_inverse(double x) { return maths::exp(maths::log(x) / -3.0); }

}  // namespace

Simulator::Simulator(const Model& model) : model_(model), day_(model.day), network_(model.topology) {
  const std::size_t holders = day_.holders.size();
  const std::size_t devices = day_.devices.size();
  const std::size_t leads = day_.leads.size();
  const std::size_t places = day_.places.size();
  pack_state_.resize(day_.packs.size());
  rested_to_s_.resize(day_.packs.size());
  in_use_.resize(day_.packs.size());
  holder_.resize(holders);
  device_.resize(devices);
  lead_.resize(leads);
  trial_lead_.resize(leads);
  regulator_on_.resize(model_.topology.regulators.size());
  regulator_restarts_.resize(model_.topology.regulators.size());
  place_k_.resize(places);
  std::vector<char> used(places, 0);
  for (const day::Device& device : day_.devices) used[at(device.place)] = 1;
  for (const day::Holder& holder : day_.holders) used[at(holder.place)] = 1;
  for (const day::Lead& lead : day_.leads) used[at(lead.place)] = 1;
  for (const day::Regulator& regulator : day_.regulators) used[at(regulator.place)] = 1;
  for (const day::Pack& pack : day_.packs) used[at(pack.spare_place)] = 1;
  for (std::size_t p = 0; p < places; ++p) {
    if (used[p] && day_.places[p].kind == day::Place::Kind::bag) bags_.push_back(p);
  }
  bay_supply_.assign(model_.topology.supply_node.size(), 0);
  for (const int k : model_.charger_supply_of) {
    if (k >= 0) bay_supply_[at(k)] = 1;
  }
  trial_place_k_.resize(places);
  mean_place_k_.resize(places);
  place_decay_.resize(places);
  cruise_load_.resize(holders);
  for (CruiseLoad& load : cruise_load_) load.place_share.resize(places);
  heat0_.resize(places);
  heat1_.resize(places);
  state_.resize(holders);
  trial_state_.resize(holders);
  rates_.resize(holders);
  rates_k_.resize(holders);
  trial_rates_.resize(holders);
  mid_rates_.resize(holders);
  lags_.resize(holders);
  slope_a_s_.resize(holders);
  bend_a_s2_.resize(holders);
  last_good_v_.resize(devices);
  power_.device.resize(devices);
  power_.lead.resize(leads);
  power_.holder.resize(holders);
  trial_power_ = power_;
  now_ = network_.blank_conditions();
  solution_ = network_.blank_solution();
  trial_ = solution_;
}

// Empty, with the room it has kept.
void Simulator::blank_result() {
  out_.first_loss = {};
  out_.searched_until_s = 0.0;
  out_.stints.clear();
  out_.changes.clear();
  out_.devices.assign(day_.devices.size(), DeviceUse{});
  out_.lead_loss_j.assign(day_.leads.size(), 0.0);
  out_.events.clear();
  out_.account = {};
  out_.charge.clear();
  out_.steps = out_.solves = out_.unsolved = 0;
  out_.probes.resize(options_.probe_s.size());
  const auto blank = [&](auto& curves, std::size_t count) {
    curves.resize(options_.trace ? count : 0);
    for (auto& curve : curves) curve.clear();
  };
  Trace& trace = out_.trace;
  trace.at_s.clear();
  blank(trace.device_v, day_.devices.size());
  blank(trace.holder_v, day_.holders.size());
  blank(trace.holder_a, day_.holders.size());
  blank(trace.holder_out_a, day_.holders.size());
  blank(trace.holder_charge, day_.holders.size());
  blank(trace.holder_k, day_.holders.size());
  blank(trace.holder_pack, day_.holders.size());
  blank(trace.place_k, day_.places.size());
  blank(trace.lead_a, day_.leads.size());
}

// Back to the start of the day.
void Simulator::reset() {
  const double start_s = day_.periods.front().from_s;
  const double start_air_k = day_.periods.front().air_k;
  for (std::size_t p = 0; p < day_.packs.size(); ++p) {
    const day::Pack& pack = day_.packs[p];
    const double around_k = day::place_k(day_.places[at(pack.spare_place)], start_air_k);
    pack_state_[p] = cell::rested(pack.params, pack.start_charge, around_k);
    rested_to_s_[p] = start_s;
  }
  std::fill(holder_.begin(), holder_.end(), HolderNow{});
  std::fill(device_.begin(), device_.end(), DeviceNow{});
  std::fill(lead_.begin(), lead_.end(), LeadNow{});
  std::fill(regulator_on_.begin(), regulator_on_.end(), 0);
  std::fill(regulator_restarts_.begin(), regulator_restarts_.end(), 0);
  for (std::size_t p = 0; p < day_.places.size(); ++p) place_k_[p] = day::place_k(day_.places[p], start_air_k);
  std::fill(state_.begin(), state_.end(), cell::PackState{});
  std::fill(rates_k_.begin(), rates_k_.end(), 0.0);
  std::fill(slope_a_s_.begin(), slope_a_s_.end(), 0.0);
  std::fill(bend_a_s2_.begin(), bend_a_s2_.end(), 0.0);
  slope_over_s_ = 0.0;
  std::fill(last_good_v_.begin(), last_good_v_.end(), 0.0);
  std::fill(solution_.node_v.begin(), solution_.node_v.end(), 0.0);
  std::fill(solution_.pack_a.begin(), solution_.pack_a.end(), 0.0);
  network_.reset();
  trial_ = solution_;
  t_ = start_s;
  period_ = -1;
  step_s_ = kFirstStep_s;
  closed_ = false;
  cruise_ = {};
  blank_result();
}

double Simulator::air_k() const { return day_.periods[at(std::max(period_, 0))].air_k; }

double Simulator::surround_k(int place) const { return place_k_[at(place)]; }

std::size_t Simulator::bay(int h) const { return at(model_.charger_supply_of[at(h)]); }

double Simulator::cutoff_v(std::size_t d) const {
  const day::Device& device = day_.devices[d];
  return device.inputs.size() > 1 ? device.inputs[at(device_[d].input)].cutoff_v : device.cutoff_v;
}

double Simulator::highest_v(std::size_t d) const {
  const day::Device& device = day_.devices[d];
  return device.inputs.size() > 1 ? device.inputs[at(device_[d].input)].highest_v : device.highest_v;
}

double Simulator::restart_v(std::size_t d) const {
  const day::Device& device = day_.devices[d];
  return device.inputs.size() > 1 ? device.inputs[at(device_[d].input)].restart_v : device.restart_v;
}

// Copper follows the warmth of where it lies.
void Simulator::set_lead_ohms() {
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    const day::Lead& lead = day_.leads[k];
    now_.branch_ohm[k] = lead.cable_ohm * day::copper_factor(place_k_[at(lead.place)]) + lead.contact_ohm +
                         (lead.fuse ? lead.fuse->ohm : 0.0);
  }
}

void Simulator::set_conditions() {
  set_lead_ohms();
  const day::Period& period = day_.periods[at(period_)];
  const std::size_t devices = day_.devices.size();
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    const day::Lead& lead = day_.leads[k];
    const bool switched_off =
        lead.switched_by >= 0 && day_.devices[at(lead.switched_by)].modes[at(device_[at(lead.switched_by)].mode)].off;
    now_.branch_closed[k] = lead_[k].open || switched_off ? 0 : 1;
  }
  for (std::size_t d = 0; d < devices; ++d) {
    const day::Device& device = day_.devices[d];
    const day::Mode& mode = device.modes[at(device_[d].mode)];
    wiring::LoadNow& load = now_.loads[d];
    load = {.floor_v = std::max(0.8 * cutoff_v(d), 0.3)};
    if (device_[d].powered && !mode.off) {
      load.power_w = mode.power_w > 0.0 ? (mode.power_w / device.efficiency + device.idle_w) * device.scale : 0.0;
      load.current_a = mode.current_a * device.scale;
      load.siemens = mode.siemens * device.scale;
    }
    if (device.inputs.size() > 1) {
      for (std::size_t i = 0; i < device.inputs.size(); ++i) {
        const std::size_t lead = at(device.inputs[i].lead);
        if (static_cast<int>(i) != device_[d].input) now_.branch_closed[lead] = 0;
      }
    }
  }
  for (std::size_t k = 0; k < day_.supplies.size(); ++k) {
    if (model_.supply_of[k] < 0) continue;
    const day::Supply& supply = day_.supplies[k];
    now_.supplies[at(model_.supply_of[k])] = {
        .live = period.supply_live[k] != 0, .volts = supply.volts, .ohm = supply.ohm, .limit_a = supply.limit_a};
  }
  for (std::size_t k = 0; k < day_.regulators.size(); ++k) {
    now_.regulators[k] = {.on = regulator_on_[k] != 0, .law = day_.regulators[k].law};
  }
  for (std::size_t h = 0; h < day_.holders.size(); ++h) {
    const day::Holder& holder = day_.holders[h];
    const HolderNow& in = holder_[h];
    const bool connected = in.pack >= 0 && in.connected;
    const day::Pack* pack = in.pack >= 0 ? &day_.packs[at(in.pack)] : nullptr;
    now_.packs[h] = {.params = connected ? &pack->params : nullptr,
                     .rates = &rates_[h],
                     .state = &state_[h],
                     .one_way = holder.one_way,
                     .drop_v = holder.drop_v};
    now_.loads[devices + h] = {.current_a = connected && !pack->regulator ? pack->params.idle_a : 0.0, .floor_v = 0.5};
    if (model_.holder_branch[h] >= 0) now_.branch_ohm[at(model_.holder_branch[h])] = holder.contact_ohm;
    if (model_.holder_regulator[h] >= 0) {
      const std::size_t r = at(model_.holder_regulator[h]);
      now_.regulators[r].on = connected && regulator_on_[r] != 0 && in.renegotiated_s == kNever;
      if (pack != nullptr && pack->regulator) now_.regulators[r].law = *pack->regulator;
    }
    if (holder.charger_supply >= 0) set_bay(h, state_[h]);
  }
}

// What the charger offers a pack in that state, by the one charging law. A pack too cold begins as soon as it has
// warmed, within a step too; one too hot stops where the next step begins.
void Simulator::set_bay(std::size_t h, const cell::PackState& state) {
  wiring::SupplyNow& supply = now_.supplies[bay(static_cast<int>(h))];
  const day::Holder& holder = day_.holders[h];
  supply = {.live = false, .volts = 0.0, .ohm = kBay_ohm, .limit_a = holder.charge_a};
  if (holder_[h].pack < 0 || !holder_[h].connected) return;
  if (day_.periods[at(period_)].supply_live[at(holder.charger_supply)] == 0) return;
  const day::Pack& pack = day_.packs[at(holder_[h].pack)];
  if (!day::rechargeable(pack) || state.cell.temperature_k < pack.coldest_charge_k ||
      state_[h].cell.temperature_k > pack.hottest_charge_k)
    return;
  const cell::ChargeLaw law = day::law_in_bay(pack, holder.charge_a, holder.charge_end, holder.charge_put_in);
  // A lithium pack is held at its end volts until it is taken out.
  const bool full = holder_[h].full_seen && law.way != cell::ChargeWay::constant_volts;
  const cell::ChargeOffer offer = cell::charge_offer(law, pack.params, state.cell.charge, full);
  supply.live = offer.live && offer.limit_a > 0.0;
  supply.volts = supply.live ? offer.volts : 0.0;
  supply.ohm += cell::taper_ohm(law, pack.params, state.cell.charge);
  supply.limit_a = offer.limit_a;
}

void Simulator::resolve() {
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0 || rates_k_[h] == state_[h].cell.temperature_k) continue;
    rates_k_[h] = state_[h].cell.temperature_k;
    rates_[h] = cell::rates_at(day_.packs[at(holder_[h].pack)].params.cell, rates_k_[h]);
  }
  set_conditions();
  network_.solve(now_, solution_);
  ++out_.solves;
}

// Electrical heat set free in each bag, W; heat from packs flows separately through their own surface.
void Simulator::place_heat(const wiring::Solution& s, const std::vector<cell::PackState>& state,
                           const std::vector<double>& place_k, std::vector<double>& heat) const {
  std::fill(heat.begin(), heat.end(), 0.0);
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    heat[at(day_.devices[d].place)] += s.node_v[at(day_.devices[d].port)] * s.load_a[d];
  }
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    heat[at(day_.leads[k].place)] += s.branch_a[k] * s.branch_a[k] * now_.branch_ohm[k];
  }
  for (std::size_t k = 0; k < model_.topology.regulators.size(); ++k) {
    const wiring::Topology::Link& link = model_.topology.regulators[k];
    const double loss_w =
        s.node_v[at(link.in_node)] * s.regulator_in_a[k] - s.node_v[at(link.out_node)] * s.regulator_out_a[k];
    if (k < day_.regulators.size()) heat[at(day_.regulators[k].place)] += loss_w;
  }
  for (std::size_t h = 0; h < day_.holders.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    const int place = day_.holders[h].place;
    heat[at(place)] += pack.cooling_w_k * (state[h].cell.temperature_k - place_k[at(place)]);
    if (model_.holder_regulator[h] >= 0) {
      const std::size_t r = at(model_.holder_regulator[h]);
      const wiring::Topology::Link& link = model_.topology.regulators[r];
      heat[at(place)] +=
          s.node_v[at(link.in_node)] * s.regulator_in_a[r] - s.node_v[at(link.out_node)] * s.regulator_out_a[r];
    }
  }
}

// Temperature of a bag, averaged over a step in which it goes from where it was towards where it would settle.
double Simulator::mean_on_the_way(const day::Place& bag, double step_s, double decay, double from_k, double settled_k) {
  const double y = step_s * bag.cooling_w_k / bag.heat_capacity_j_k;
  const double share = y > 1e-4 ? (1.0 - decay) / y : 1.0 - 0.5 * y;
  return settled_k + (from_k - settled_k) * share;
}

// How far a pack may warm or cool within a step: less where its protection is about to switch off for it.
double Simulator::most_kelvin(const cell::PackParams& pack, double now_k, double otherwise) {
  double most = otherwise;
  for (const double limit_k : {pack.protection.coldest_k, pack.protection.hottest_k}) {
    if (limit_k > 0.0) most = std::min(most, kKelvinAtLimit + kShareOfKelvin * std::fabs(now_k - limit_k));
  }
  return most;
}

double Simulator::try_step(double step_s) {
  set_lead_ohms();
  place_heat(solution_, state_, place_k_, heat0_);
  const auto warm_places = [&](const std::vector<double>& heat) {
    for (std::size_t p = 0; p < day_.places.size(); ++p) {
      const day::Place& place = day_.places[p];
      trial_place_k_[p] = mean_place_k_[p] = place_k_[p];
      if (place.kind != day::Place::Kind::bag) continue;
      const double settled_k = air_k() + heat[p] / place.cooling_w_k;
      const double decay = maths::exp(-step_s * place.cooling_w_k / place.heat_capacity_j_k);
      trial_place_k_[p] = settled_k + (place_k_[p] - settled_k) * decay;
      mean_place_k_[p] = mean_on_the_way(place, step_s, decay, place_k_[p], settled_k);
    }
  };
  warm_places(heat0_);
  // Predict: currents go on as they went over the last step; solve the wiring with the cells that gives.
  trial_ = solution_;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    const double start_a = solution_.pack_a[h];
    const double start_k = state_[h].cell.temperature_k;
    const std::size_t place = at(day_.holders[h].place);
    const double end_k =
        cell::warmed_k(pack, start_k, step_s, start_a * solution_.pack[h].lost_v, mean_place_k_[place]);
    const double expected_a = start_a + slope_a_s_[h] * step_s;
    trial_rates_[h] = cell::rates_at(pack.cell, end_k);
    mid_rates_[h] = cell::between(pack.cell, rates_[h], trial_rates_[h]);
    lags_[h] = cell::lags_over(pack, rates_[h], mid_rates_[h], trial_rates_[h], state_[h], step_s, start_a, expected_a);
    trial_state_[h] = cell::advance(pack, mid_rates_[h], lags_[h], state_[h], start_a, expected_a);
    cell::let_transfer_follow(pack, lags_[h], trial_state_[h], expected_a);
    trial_state_[h].cell.temperature_k = end_k;
    now_.packs[h].state = &trial_state_[h];
    now_.packs[h].rates = &trial_rates_[h];
    if (day_.holders[h].charger_supply >= 0) set_bay(h, trial_state_[h]);
  }
  network_.solve(now_, trial_);
  ++out_.solves;
  // Correct: heat and currents from both ends of the step. How far that moves a pack's volts is the step's error.
  place_heat(trial_, trial_state_, trial_place_k_, heat1_);
  for (std::size_t p = 0; p < heat1_.size(); ++p) heat1_[p] = 0.5 * (heat0_[p] + heat1_[p]);
  warm_places(heat1_);
  double error = 0.0;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    const double start_a = solution_.pack_a[h];
    const double end_a = trial_.pack_a[h];
    const double start_k = state_[h].cell.temperature_k;
    const std::size_t place = at(day_.holders[h].place);
    const double heat_w = 0.5 * (start_a * solution_.pack[h].lost_v + end_a * trial_.pack[h].lost_v);
    const double end_k = cell::warmed_k(pack, start_k, step_s, heat_w, mean_place_k_[place]);
    trial_state_[h] = cell::advance(pack, mid_rates_[h], lags_[h], state_[h], start_a, end_a);
    trial_state_[h].cell.temperature_k = end_k;
    if (now_.packs[h].params == nullptr) continue;
    const cell::PackPoint corrected = cell::evaluate(pack, trial_rates_[h], trial_state_[h], end_a);
    error = std::max(error, std::fabs(corrected.volts - trial_.pack[h].volts) / (pack.series * kVoltTolerancePerCell));
    error = std::max(error, std::fabs(end_k - start_k) / most_kelvin(pack, end_k, kKelvinPerStep));
    error = std::max(error, std::fabs(trial_state_[h].cell.charge - state_[h].cell.charge) / kChargePerStep);
    // The trapezium rule's share of the energy: how far the open-circuit curve bends within the step.
    const double middle_v =
        pack.series * pack.cell.ocv.value(0.5 * (state_[h].cell.charge + trial_state_[h].cell.charge));
    const double bend_v = std::fabs(
        middle_v - 0.5 * pack.series *
                       (pack.cell.ocv.value(state_[h].cell.charge) + pack.cell.ocv.value(trial_state_[h].cell.charge)));
    error = std::max(error, bend_v / (middle_v * kBendTolerance));
  }
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    trial_lead_[k] = lead_[k];
    if (!day_.leads[k].fuse || lead_[k].open) continue;
    const day::Fuse& fuse = *day_.leads[k].fuse;
    const double ambient_k = place_k_[at(day_.leads[k].place)];
    const double hold_a = wiring::hold_current_a(fuse.law, fuse.rated_a, ambient_k);
    const double most_a = std::max(std::fabs(solution_.branch_a[k]), std::fabs(trial_.branch_a[k]));
    if (most_a <= hold_a && lead_[k].used == 0.0) continue;
    const double rate = 0.5 * (wiring::opening_rate_per_s(fuse.law, fuse.rated_a, ambient_k, solution_.branch_a[k]) +
                               wiring::opening_rate_per_s(fuse.law, fuse.rated_a, ambient_k, trial_.branch_a[k]));
    trial_lead_[k].used = lead_[k].used + rate * step_s;
    // A protector cools again once its load is below hold; the element of a fuse does not mend.
    if (rate == 0.0 && fuse.law.resettable) trial_lead_[k].used = lead_[k].used * maths::exp(-step_s / 60.0);
  }
  return error / options_.tolerance;
}

void Simulator::accept_step(double step_s) {
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0) continue;
    slope_a_s_[h] = (trial_.pack_a[h] - solution_.pack_a[h]) / step_s;
    bend_a_s2_[h] = 0.0;
    state_[h] = trial_state_[h];
    rates_[h] = trial_rates_[h];
    rates_k_[h] = 0.0;
    now_.packs[h].state = &state_[h];
    now_.packs[h].rates = &rates_[h];
    Stint& stint = out_.stints[at(holder_[h].stint)];
    stint.lowest_k = std::min(stint.lowest_k, state_[h].cell.temperature_k);
    if (now_.packs[h].params != nullptr) stint.lowest_v = std::min(stint.lowest_v, trial_.pack[h].volts);
  }
  std::swap(solution_, trial_);
  if (!solution_.converged) ++out_.unsolved;
  place_k_ = trial_place_k_;
  lead_ = trial_lead_;
  t_ += step_s;
  slope_over_s_ = step_s;
  ++out_.steps;
  remember_volts();
  if (!options_.loss_only) {
    powers(solution_, trial_power_);
    add_energy(power_, trial_power_, step_s);
    std::swap(power_, trial_power_);
    watch_volts();
  }
  record();
}

void Simulator::integrate_to(double end_s) {
  long events = 0;
  while (t_ < end_s) {
    if (options_.loss_only && cruise_to(end_s)) return;
    double step_s = std::min({step_s_, options_.longest_step_s, end_s - t_});
    if (end_s - t_ - step_s < kShortestStep_s) step_s = end_s - t_;
    double error = try_step(step_s);
    while (error > 1.0 && step_s > kShortestStep_s) {
      step_s = std::max(kShortestStep_s, step_s * std::max(0.2, 0.85 * cube_root_of_inverse(error)));
      error = try_step(step_s);
    }
    const View ahead{&trial_, &trial_state_, &trial_lead_};
    double high_margin = least_margin(ahead);
    const bool event = high_margin < 0.0;
    if (event && step_s > kEventWindow_s) {
      double low_s = 0.0;
      double low_margin = std::max(least_margin({&solution_, &state_, &lead_}), 0.0);
      double high_s = step_s;
      double tried_s = step_s;
      while (high_s - low_s > kEventWindow_s) {
        const double share = low_margin > 0.0 ? low_margin / (low_margin - high_margin) : 0.5;
        const double middle_s = low_s + (high_s - low_s) * std::clamp(share, 0.1, 0.9);
        error = try_step(middle_s);
        tried_s = middle_s;
        const double margin = least_margin(ahead);
        if (margin < 0.0) {
          high_s = middle_s;
          high_margin = margin;
        } else {
          low_s = middle_s;
          low_margin = margin;
        }
      }
      step_s = high_s;
      if (tried_s != step_s) error = try_step(step_s);
    }
    accept_step(step_s);
    if (event) {
      if (++events > kMostEvents) throw std::runtime_error("more than 100,000 events in one stretch of a day");
      settle();
      step_s_ = kFirstStep_s;
      return;
    }
    const double grow = error > 1e-6 ? 0.85 * cube_root_of_inverse(error) : kMostGrowth;
    step_s_ = step_s * std::clamp(grow, 0.3, kMostGrowth);
  }
}

DayRun Simulator::run(const ChangePlan& plan, const RunOptions& options) {
  DayRun result;
  run(plan, options, result);
  return result;
}

void Simulator::run(const ChangePlan& plan, const RunOptions& options, DayRun& result) {
  std::swap(out_, result);
  plan_ = plan;
  options_ = options;
  reset();
  make_agenda();
  go(nullptr);
  std::swap(out_, result);
}

void Simulator::run(const ChangePlan& plan, const RunOptions& options, DayRun& result, Marks& marks) {
  std::swap(out_, result);
  plan_ = plan;
  options_ = options;
  if (!go_back(marks)) {
    reset();
    make_agenda();
  }
  go(&marks);
  std::swap(out_, result);
}

void Simulator::go(Marks* marks) {
  const double off_s = day_.off_s;
  long events = 0;
  std::size_t probed = 0;
  const bool wait_for_all = !options_.stop_served.empty() && !options_.first_served;
  for (;;) {
    bool acted = false;
    std::size_t looks = probed;
    if (marks != nullptr) keep(*marks);
    while (next_agenda_ < agenda_.size() && agenda_[next_agenda_].at_s <= t_ + 1e-6) {
      const Agenda item = agenda_[next_agenda_++];
      if (item.kind == 3) {
        looks = at(item.index) + 1;
        continue;
      }
      if (cruise_.valid && item.kind != 0) leave_cruise(false);
      if (item.kind == 0) {
        const bool switched = apply_period(item.index);
        acted = acted || switched || !options_.loss_only;
        continue;
      }
      if (item.kind == 1) apply_change(plan_[at(item.index)]);
      if (item.kind == 2) {
        const int h = plan_[at(item.index)].holder;
        if (holder_[at(h)].pack == plan_[at(item.index)].pack) {
          remove_pack(h);
          holder_[at(h)].left_empty = day_.holders[at(h)].charger_supply < 0;
        }
      }
      acted = true;
    }
    if (period_ < 0) period_ = 0;
    if (next_timer_s() <= t_ + 1e-6) {
      // A device that is ready again, or lost, draws as before: only the account is told (settle records).
      const bool electrical = std::any_of(holder_.begin(), holder_.end(), [&](const HolderNow& now) {
        return std::min({now.arrives_s, now.sleeps_s, now.renegotiated_s}) <= t_ + 1e-6;
      });
      if (electrical && cruise_.valid) leave_cruise(false);
      timers();
      acted = acted || electrical || !options_.loss_only;
    }
    if (acted) {
      if (cruise_.valid) leave_cruise(false);
      settle();
    }
    if (looks > probed && cruise_.valid) leave_cruise(true);
    for (; probed < looks; ++probed) probe(probed);
    confirm_losses();
    if (probed == options_.probe_s.size() && all_known()) break;
    if (++events > kMostEvents) throw std::runtime_error("more than 100,000 events in a day");
    if (!closed_ && t_ >= off_s - 1e-6) finish();
    const bool searched = t_ >= options_.search_until_s;
    if (closed_ && !wait_for_all && (out_.first_loss.device >= 0 || searched)) break;
    if (t_ >= options_.stop_s - 1e-6) break;
    double end_s = std::min(closed_ ? (searched ? kNever : options_.search_until_s) : off_s, options_.stop_s);
    if (next_agenda_ < agenda_.size()) end_s = std::min(end_s, agenda_[next_agenda_].at_s);
    end_s = std::min(end_s, next_timer_s());
    if (end_s <= t_) continue;
    integrate_to(end_s);
  }
  if (cruise_.valid) leave_cruise(false);
  out_.searched_until_s = t_;
  out_.probes.resize(probed);
  for (std::size_t p = 0; p < pack_state_.size(); ++p) out_.charge.push_back(pack_state_[p].cell.charge);
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack >= 0) out_.charge[at(holder_[h].pack)] = state_[h].cell.charge;
  }
}

const Stint* stint_of(const DayRun& run, const Served& pack) {
  for (const Stint& stint : run.stints) {
    if (stint.holder == pack.holder && stint.pack == pack.pack && stint.in_s >= pack.in_s - 1.0) return &stint;
  }
  return nullptr;
}

DayRun run_day(const Model& model, const ChangePlan& plan, const RunOptions& options) {
  return Simulator(model).run(plan, options);
}

}  // namespace tillwrap::forecast
