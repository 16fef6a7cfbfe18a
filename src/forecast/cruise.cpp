// Long quiet stretches: one pack carries a steady load and nothing is near switching. The wiring then looks to the pack
// like one load that depends on its volts alone, taken from the last full operating point; only the pack, the bag's
// warmth and the temperatures of what lies in it are stepped. Used where only the first loss is wanted; tests hold its
// losses to those of the full stepping.
#include <algorithm>
#include <cmath>

#include "forecast/simulator.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kVoltTolerancePerCell = 1e-4;
constexpr double kRefresh = 0.03;         // change of volts after which the load is taken anew
constexpr double kShortest_s = 5.0;       // nearer to a switch than that: step in full
constexpr double kFirst_s = 20.0;
constexpr double kMostGrowth = 5.0;
constexpr double kAmpTolerance = 1e-7;
std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

// Power-like part P/V, constant current, conductance, and wire losses that go with the square of the current.
wiring::ValueGradient Simulator::cruise_load_a(double v) const {
  const double ratio = cruise_.reference_v / v;
  const double loss_a = cruise_.loss_w * ratio * ratio / v;
  return {cruise_.power_w / v + cruise_.current_a + cruise_.siemens * v + loss_a,
          -cruise_.power_w / (v * v) + cruise_.siemens - 3.0 * loss_a / v};
}

// Whether the present operating point may be cruised from, and how far.
bool Simulator::prepare_cruise() {
  cruise_ = {};
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0 || !holder_[h].connected) continue;
    if (std::fabs(solution_.pack_a[h]) < 1e-9) continue;
    if (cruise_.holder >= 0 || day_.holders[h].charger_supply >= 0) return false;
    cruise_.holder = static_cast<int>(h);
  }
  if (cruise_.holder < 0) return false;
  for (const double amps : solution_.supply_a) {
    if (amps != 0.0) return false;
  }
  const std::size_t h = at(cruise_.holder);
  const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
  if (pack.protection.low_load_a > 0.0 || holder_[h].renegotiated_s < kNever) return false;
  const int node = model_.holder_node[h];
  const int part = network_.part_of(node);
  const double v = solution_.node_v[at(node)];
  double leave_v = std::max(pack.protection.under_v * 1.02, 0.2 * v);
  for (std::size_t d = 0; d < device_.size(); ++d) {
    const day::Device& device = day_.devices[d];
    const DeviceNow& now = device_[d];
    if (device.modes[at(now.mode)].off) continue;
    if (now.input > 0) return false;
    if (!now.powered) {
      if (now.stays_off) continue;
      return false;
    }
    if (network_.part_of(device.port) != part) continue;  // behind a regulator: guarded by the regulator's input
    const double own_v = solution_.node_v[at(device.port)];
    const double least_v = std::max(cutoff_v(d), device.inputs.size() > 1 ? device.inputs.front().least_v : 0.0);
    leave_v = std::max(leave_v, 1.01 * least_v + 1.3 * std::max(v - own_v, 0.0));
  }
  for (std::size_t k = 0; k < regulator_on_.size(); ++k) {
    if (!regulator_on_[k]) return false;
    const double in_v = solution_.node_v[at(model_.topology.regulators[k].in_node)];
    leave_v = std::max(leave_v, 1.01 * now_.regulators[k].law.min_in_v + 1.3 * std::max(v - in_v, 0.0));
  }
  for (std::size_t other = 0; other < holder_.size(); ++other) {  // packs in OR that wait for lower volts
    if (other == h || now_.packs[other].params == nullptr || network_.part_of(model_.holder_node[other]) != part) continue;
    if (!now_.packs[other].one_way) {
      // Joined by an open branch (an input not selected): it cannot carry.
      continue;
    }
    leave_v = std::max(leave_v, 1.002 * (solution_.pack[other].volts - now_.packs[other].drop_v) + 0.05);
  }
  if (v <= leave_v) return false;
  double loss_w = 0.0;
  for (std::size_t k = 0; k < solution_.branch_a.size(); ++k) {
    const double amps = solution_.branch_a[k];
    loss_w += amps * amps * now_.branch_ohm[k];
    if (k >= day_.leads.size() || !day_.leads[k].fuse) continue;
    const day::Fuse& fuse = *day_.leads[k].fuse;
    if (lead_[k].used > 0.0) return false;
    if (1.2 * std::fabs(amps) * v / leave_v > wiring::hold_current_a(fuse.law, fuse.rated_a, place_k_[at(day_.leads[k].place)])) return false;
  }
  for (std::size_t k = 0; k < now_.loads.size(); ++k) {
    if (network_.part_of(model_.topology.load_node[k]) != part) continue;
    cruise_.current_a += now_.loads[k].current_a;
    cruise_.siemens += now_.loads[k].siemens;
  }
  const double amps = solution_.pack_a[h];
  cruise_.reference_v = v;
  cruise_.loss_w = loss_w;
  cruise_.power_w = v * amps - cruise_.current_a * v - cruise_.siemens * v * v - loss_w;
  cruise_.leave_v = leave_v;
  cruise_.leave_cell_v = std::max(pack.protection.under_cell_v, 0.1) + 0.05;
  if (solution_.pack[h].lowest_cell_v <= cruise_.leave_cell_v) return false;
  // Heat by place, as a share of the power at the pack.
  place_heat(solution_, state_, heat0_);
  for (std::size_t other = 0; other < holder_.size(); ++other) {
    if (holder_[other].pack < 0) continue;
    const int place = day_.holders[other].place;
    const cell::PackParams& in = day_.packs[at(holder_[other].pack)].params;
    heat0_[at(place)] -= in.cooling_w_k * (state_[other].cell.temperature_k - place_k_[at(place)]);
  }
  for (std::size_t p = 0; p < heat0_.size(); ++p) place_share_[p] = heat0_[p] / (v * amps);
  cruise_.since_s = t_;
  cruise_.valid = true;
  return true;
}

// Idle packs' lags relax over the whole stretch at once; the operating point is solved anew.
void Simulator::leave_cruise() {
  cruise_.valid = false;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].pack < 0 || static_cast<int>(h) == cruise_.holder) continue;
    const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
    const double temperature_k = state_[h].cell.temperature_k;
    state_[h] = cell::advance(pack, cell::rates_at(pack.cell, temperature_k), state_[h], t_ - cruise_.since_s, 0.0, 0.0);
    state_[h].cell.temperature_k = temperature_k;
  }
  resolve();
  remember_volts();
}

bool Simulator::cruise_to(double end_s) {
  if (!cruise_.valid && !prepare_cruise()) return false;
  const std::size_t h = at(cruise_.holder);
  const cell::PackParams& pack = day_.packs[at(holder_[h].pack)].params;
  const cell::Protection& guard = pack.protection;
  const std::size_t place = at(day_.holders[h].place);
  const double drop_v = now_.packs[h].drop_v;
  double amps = solution_.pack_a[h];
  cell::PackPoint point = cell::evaluate(pack, rates_[h], state_[h], amps);
  double v = point.volts - drop_v;
  const double tolerance_v = kVoltTolerancePerCell * pack.series * options_.tolerance;
  double step_s = std::max(step_s_, kFirst_s);
  const auto warm = [&](double power_w, double h_s) {
    for (std::size_t p = 0; p < day_.places.size(); ++p) {
      trial_place_k_[p] = place_k_[p];
      if (day_.places[p].kind != day::Place::Kind::bag) continue;
      double heat_w = place_share_[p] * power_w;
      for (std::size_t other = 0; other < holder_.size(); ++other) {
        if (holder_[other].pack < 0 || at(day_.holders[other].place) != p) continue;
        heat_w += day_.packs[at(holder_[other].pack)].params.cooling_w_k * (state_[other].cell.temperature_k - place_k_[p]);
      }
      const double settled_k = air_k() + heat_w / day_.places[p].cooling_w_k;
      trial_place_k_[p] = settled_k + (place_k_[p] - settled_k) * maths::exp(-h_s * day_.places[p].cooling_w_k / day_.places[p].heat_capacity_j_k);
    }
  };
  bool arrived = true;
  while (t_ < end_s - 1e-9) {
    double h_s = std::min({step_s, options_.longest_step_s, end_s - t_});
    const double start_k = state_[h].cell.temperature_k;
    cell::PackState next;
    cell::PackPoint end_point;
    double end_a = 0.0;
    double end_k = start_k;
    double error = 0.0;
    for (;;) {
      warm(v * amps, h_s);
      end_k = cell::warmed_k(pack, start_k, h_s, amps * point.lost_v, 0.5 * (place_k_[place] + trial_place_k_[place]));
      mid_rates_[h] = cell::rates_at(pack.cell, 0.5 * (start_k + end_k));
      trial_rates_[h] = cell::rates_at(pack.cell, end_k);
      end_a = amps + slope_a_s_[h] * h_s;
      next = cell::advance(pack, mid_rates_[h], state_[h], h_s, amps, end_a);
      for (int i = 0; i < 30; ++i) {  // Newton on the current
        end_point = cell::evaluate(pack, trial_rates_[h], next, end_a);
        const double end_v = std::max(end_point.volts - drop_v, 0.5 * cruise_.leave_v);
        const wiring::ValueGradient load = cruise_load_a(end_v);
        const double change_a = (end_a - load.value) / (1.0 - load.gradient * end_point.slope_ohm);
        end_a -= change_a;
        if (std::fabs(change_a) < kAmpTolerance) break;
      }
      const double predicted_v = end_point.volts;
      next = cell::advance(pack, mid_rates_[h], state_[h], h_s, amps, end_a);
      end_k = cell::warmed_k(pack, start_k, h_s, 0.5 * (amps * point.lost_v + end_a * end_point.lost_v), 0.5 * (place_k_[place] + trial_place_k_[place]));
      end_point = cell::evaluate(pack, trial_rates_[h], next, end_a);
      error = std::max(std::fabs(end_point.volts - predicted_v) / tolerance_v, std::fabs(end_k - start_k) / (2.5 * options_.tolerance));
      if (error <= 1.0 || h_s <= kShortest_s) break;
      h_s = std::max(kShortest_s, h_s * std::max(0.2, 0.85 * maths::exp(maths::log(error) / -3.0)));
    }
    const double end_v = end_point.volts - drop_v;
    const bool near = end_v < cruise_.leave_v || end_point.lowest_cell_v < cruise_.leave_cell_v || (guard.coldest_k > 0.0 && end_k < guard.coldest_k + 0.5) ||
                      (guard.hottest_k > 0.0 && end_k > guard.hottest_k - 0.5);
    if (near) {
      if (h_s <= 2.0 * kShortest_s) {
        arrived = false;
        break;
      }
      step_s = 0.4 * h_s;
      continue;
    }
    // Accept.
    for (std::size_t other = 0; other < holder_.size(); ++other) {
      if (holder_[other].pack < 0 || other == h) continue;
      const std::size_t own = at(day_.holders[other].place);
      state_[other].cell.temperature_k = cell::warmed_k(day_.packs[at(holder_[other].pack)].params, state_[other].cell.temperature_k, h_s, 0.0, 0.5 * (place_k_[own] + trial_place_k_[own]));
    }
    slope_a_s_[h] = (end_a - amps) / h_s;
    amps = end_a;
    point = end_point;
    v = end_v;
    state_[h] = next;
    state_[h].cell.temperature_k = end_k;
    rates_[h] = trial_rates_[h];
    place_k_ = trial_place_k_;
    solution_.pack_a[h] = amps;
    t_ += h_s;
    ++out_.steps;
    step_s = h_s * (error > 1e-6 ? std::clamp(0.85 * maths::exp(maths::log(error) / -3.0), 0.3, kMostGrowth) : kMostGrowth);
    if (std::fabs(v - cruise_.reference_v) > kRefresh * cruise_.reference_v) {
      const double slope = slope_a_s_[h];
      leave_cruise();
      slope_a_s_[h] = slope;
      if (!prepare_cruise()) {
        arrived = t_ >= end_s - 1e-9;
        break;
      }
      amps = solution_.pack_a[h];
      point = cell::evaluate(pack, rates_[h], state_[h], amps);
      v = point.volts - drop_v;
    }
  }
  step_s_ = step_s;
  if (!arrived && cruise_.valid) leave_cruise();
  return arrived;
}

}  // namespace tillwrap::forecast
