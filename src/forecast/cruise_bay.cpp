// Packs on charge during a quiet stretch: alone with their charger, whose current follows from their volts and charge.
// A stretch ends where the current leaves its limit, at full, and at the temperatures charging is allowed between.
#include <algorithm>
#include <cmath>

#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kKelvinRoom = 0.2;
constexpr double kAtLimit = 1e-9;  // share of it
constexpr double kCarries_a = 1e-9;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

// A bay without a current may begin to give one only where this says no; lead's limit goes with its charge, that is
// stepped in full.
bool Simulator::bay_may_cruise(std::size_t h) const {
  const HolderNow& in = holder_[h];
  const day::Holder& holder = day_.holders[h];
  if (in.pack < 0 || !in.connected || day_.periods[at(period_)].supply_live[at(holder.charger_supply)] == 0)
    return true;
  const day::Pack& pack = day_.packs[at(in.pack)];
  if (!day::rechargeable(pack)) return true;
  const cell::ChargeWay way = day::law_in_bay(pack, holder.charge_a, holder.charge_end, holder.charge_put_in).way;
  if (way == cell::ChargeWay::by_coulombs && in.full_seen) return true;
  if (way == cell::ChargeWay::three_stages || -solution_.pack_a[h] < kCarries_a) return false;
  const BayRoom room =
      bay_room(h, state_[h], solution_.pack[h].volts, solution_.pack_a[h], state_[h].cell.temperature_k);
  return std::min({room.full, room.cold_k, room.hot_k}) > 0.0;
}

void Simulator::prepare_bay(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  load.active = load.bay = true;
  load.reference_v = solution_.pack[h].volts;
  load.leave_v = load.leave_cell_v = 0.0;
  load.power_w = load.siemens = load.loss_w = load.loss_share = 0.0;
  load.current_a = now_.loads[day_.devices.size() + h].current_a;  // the pack's own electronics
  std::fill(load.place_share.begin(), load.place_share.end(), 0.0);
  load.amps = solution_.pack_a[h];
  load.point = solution_.pack[h];
}

wiring::ValueGradient Simulator::cruise_bay_a(std::size_t h, double volts) {
  const double own_a = cruise_load_[h].current_a;
  set_bay(h, trial_state_[h]);
  const wiring::SupplyNow& supply = now_.supplies[bay(static_cast<int>(h))];
  const double amps = supply.live ? (supply.volts - volts) / supply.ohm : 0.0;
  if (amps <= 0.0) return {own_a, 0.0};
  if (amps >= supply.limit_a) return {own_a - supply.limit_a, 0.0};
  return {own_a - amps, 1.0 / supply.ohm};
}

Simulator::BayRoom Simulator::bay_room(std::size_t h, const cell::PackState& state, double volts, double amps,
                                       double k) const {
  const day::Holder& holder = day_.holders[h];
  const day::Pack& pack = day_.packs[at(holder_[h].pack)];
  const cell::ChargeLaw law = day::law_in_bay(pack, holder.charge_a, holder.charge_end, holder.charge_put_in);
  const wiring::SupplyNow& supply = now_.supplies[bay(static_cast<int>(h))];
  const double given_a = cruise_load_[h].current_a - cruise_load_[h].amps;
  const bool limited = cruise_load_[h].active && given_a >= supply.limit_a * (1.0 - kAtLimit);
  BayRoom room{.limit_v = 1.0,
               .full = 1.0,
               .cold_k = k - pack.coldest_charge_k - kKelvinRoom,
               .hot_k = pack.hottest_charge_k - kKelvinRoom - k};
  if (limited) room.limit_v = supply.volts - supply.limit_a * supply.ohm - volts;
  if (holder_[h].full_seen) return room;
  room.full = pack.by_coulombs
                  ? cell::coulombs_end(law, pack.params.cell, out_.stints[at(holder_[h].stint)].start_charge) -
                        state.cell.charge
                  : -amps - holder.charge_end * holder.charge_a;
  return room;
}

}  // namespace tillwrap::forecast
