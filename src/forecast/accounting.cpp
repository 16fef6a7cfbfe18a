// Energy account, lowest volts, recorded curves.
#include <algorithm>
#include <cmath>

#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

// Every term is built from its own branch or element, never as a remainder: their sum equals the drawn power only when
// the solved operating point obeys Kirchhoff's laws (Tellegen's theorem). Charger bays are outside this account.
void Simulator::powers(const wiring::Solution& s, Power& power) const {
  power.drawn = power.devices = power.cables = power.contacts = power.converters = power.cells = 0.0;
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    power.device[d] = s.node_v[at(day_.devices[d].port)] * s.load_a[d];
    power.devices += power.device[d];
  }
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    const day::Lead& lead = day_.leads[k];
    const double amps = s.branch_a[k];
    const double square = amps * amps;
    const double ohm = now_.branch_ohm[k];
    const double contact = lead.contact_ohm + (lead.fuse ? lead.fuse->ohm : 0.0);
    power.lead[k] = square * ohm + std::fabs(amps) * lead.drop_v * (lead.one_way ? 1.0 : 0.0);
    power.cables += square * (ohm - contact);
    power.contacts += power.lead[k] - square * (ohm - contact);
  }
  for (std::size_t k = 0; k < model_.topology.regulators.size(); ++k) {
    const wiring::Topology::Link& link = model_.topology.regulators[k];
    power.converters +=
        s.node_v[at(link.in_node)] * s.regulator_in_a[k] - s.node_v[at(link.out_node)] * s.regulator_out_a[k];
  }
  for (std::size_t k = 0; k < day_.supplies.size(); ++k) {
    if (model_.supply_of[k] < 0) continue;
    const double amps = s.supply_a[at(model_.supply_of[k])];
    power.drawn += day_.supplies[k].volts * amps;
    power.converters += (day_.supplies[k].volts - s.node_v[at(day_.supplies[k].port)]) * amps;
  }
  for (std::size_t h = 0; h < day_.holders.size(); ++h) {
    power.holder[h] = s.pack[h].volts * s.pack_a[h];
    if (day_.holders[h].charger_supply >= 0) continue;
    const double amps = s.pack_a[h];
    power.drawn += s.pack[h].open_v * amps;
    power.cells += s.pack[h].lost_v * amps;
    power.contacts += std::fabs(amps) * now_.packs[h].drop_v;
    power.cells += s.node_v[at(model_.holder_node[h])] * s.load_a[day_.devices.size() + h];
    if (model_.holder_branch[h] >= 0) {
      const double through = s.branch_a[at(model_.holder_branch[h])];
      power.contacts += through * through * day_.holders[h].contact_ohm;
    }
  }
}

void Simulator::add_energy(const Power& from, const Power& to, double step_s) {
  const double half = 0.5 * step_s;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].stint < 0) continue;
    Stint& stint = out_.stints[at(holder_[h].stint)];
    const double energy_j = half * (from.holder[h] + to.holder[h]);
    if (closed_) continue;
    (energy_j >= 0.0 ? stint.delivered_j : stint.charged_j) += std::fabs(energy_j);
    stint.end_charge = state_[h].cell.charge;
  }
  if (closed_) return;
  for (std::size_t d = 0; d < day_.devices.size(); ++d)
    out_.devices[d].energy_j += half * (from.device[d] + to.device[d]);
  for (std::size_t k = 0; k < day_.leads.size(); ++k) out_.lead_loss_j[k] += half * (from.lead[k] + to.lead[k]);
  out_.account.drawn_j += half * (from.drawn + to.drawn);
  out_.account.devices_j += half * (from.devices + to.devices);
  out_.account.cables_j += half * (from.cables + to.cables);
  out_.account.contacts_j += half * (from.contacts + to.contacts);
  out_.account.converters_j += half * (from.converters + to.converters);
  out_.account.cells_j += half * (from.cells + to.cells);
}

void Simulator::remember_volts() {
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    const day::Device& device = day_.devices[d];
    if (device.hold_up_f <= 0.0 || !device_[d].powered) continue;
    last_good_v_[d] = solution_.node_v[at(device.port)];
  }
}

void Simulator::watch_volts() {
  if (closed_) return;
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    const day::Device& device = day_.devices[d];
    if (!device_[d].powered || device.modes[at(device_[d].mode)].off) continue;
    const double v = solution_.node_v[at(device.port)];
    DeviceUse& use = out_.devices[d];
    use.highest_v = std::max(use.highest_v, v);
    if (v >= use.lowest_v) continue;
    use.lowest_v = v;
    use.lowest_at_s = t_;
    trace_drop(device.port, use);
  }
}

// Up the lead that carries most at each port, to the pack, supply or regulator it ends at.
void Simulator::trace_drop(int port, DeviceUse& use) const {
  constexpr double kCarries_a = 1e-6;
  use.cable_drop_v = use.contact_drop_v = 0.0;
  for (std::size_t steps = 0; steps < day_.ports.size(); ++steps) {
    int most = -1;
    for (const int k : model_.leads_into[at(port)]) {
      if (solution_.branch_a[at(k)] > (most < 0 ? kCarries_a : solution_.branch_a[at(most)])) most = k;
    }
    if (most < 0) break;
    const day::Lead& lead = day_.leads[at(most)];
    const double amps = solution_.branch_a[at(most)];
    const double contact = lead.contact_ohm + (lead.fuse ? lead.fuse->ohm : 0.0);
    use.cable_drop_v += amps * (now_.branch_ohm[at(most)] - contact);
    use.contact_drop_v += amps * contact + (lead.one_way ? lead.drop_v : 0.0);
    port = lead.from;
  }
  use.lowest_source_v = solution_.node_v[at(port)];
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (day_.holders[h].port != port || model_.holder_regulator[h] >= 0 || holder_[h].pack < 0) continue;
    if (solution_.pack_a[h] <= kCarries_a) continue;
    use.contact_drop_v += solution_.pack[h].volts - use.lowest_source_v;
    use.lowest_source_v = solution_.pack[h].volts;
    return;
  }
}

double Simulator::out_amps(std::size_t h) const {
  const int regulator = model_.holder_regulator[h];
  return regulator >= 0 ? solution_.regulator_out_a[at(regulator)] : solution_.pack_a[h];
}

void Simulator::record() {
  if (!options_.trace || t_ > day_.off_s + day_.overrun_s + 7200.0) return;
  Trace& trace = out_.trace;
  trace.at_s.push_back(t_);
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    trace.device_v[d].push_back(solution_.node_v[at(day_.devices[d].port)]);
  }
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    const bool in = holder_[h].pack >= 0;
    trace.holder_pack[h].push_back(holder_[h].pack);
    trace.holder_v[h].push_back(in ? solution_.pack[h].volts : 0.0);
    trace.holder_a[h].push_back(in ? solution_.pack_a[h] : 0.0);
    trace.holder_out_a[h].push_back(in ? out_amps(h) : 0.0);
    trace.holder_charge[h].push_back(in ? state_[h].cell.charge : 0.0);
    trace.holder_k[h].push_back(in ? state_[h].cell.temperature_k : place_k_[at(day_.holders[h].place)]);
  }
  for (std::size_t p = 0; p < place_k_.size(); ++p) trace.place_k[p].push_back(place_k_[p]);
  for (std::size_t k = 0; k < day_.leads.size(); ++k) trace.lead_a[k].push_back(solution_.branch_a[k]);
}

void Simulator::probe(std::size_t index) {
  Probe& now = out_.probes[index];
  now.device_v.resize(day_.devices.size());
  now.device_a.resize(day_.devices.size());
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    now.device_v[d] = solution_.node_v[at(day_.devices[d].port)];
    now.device_a[d] = solution_.load_a[d];
  }
  now.holder_out_a.resize(holder_.size());
  now.holder_pack.resize(holder_.size());
  now.charge.resize(pack_state_.size());
  for (std::size_t p = 0; p < pack_state_.size(); ++p) now.charge[p] = pack_state_[p].cell.charge;
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    now.holder_pack[h] = holder_[h].pack;
    now.holder_out_a[h] = holder_[h].pack >= 0 ? out_amps(h) : 0.0;
    if (holder_[h].pack >= 0) now.charge[at(holder_[h].pack)] = state_[h].cell.charge;
  }
  now.supply_a.resize(day_.supplies.size());
  for (std::size_t k = 0; k < day_.supplies.size(); ++k)
    now.supply_a[k] = model_.supply_of[k] < 0 ? 0.0 : solution_.supply_a[at(model_.supply_of[k])];
}

// What it was out of action for up to now counts, from call to off.
void Simulator::end_outage(std::size_t d) {
  DeviceNow& now = device_[d];
  if (now.out_since_s == kNever) return;
  out_.devices[d].off_s += std::max(0.0, std::min(t_, day_.off_s) - std::max(now.out_since_s, day_.call_s));
  now.out_since_s = kNever;
}

// Off: closes the books; what follows only looks for the first loss.
void Simulator::finish() {
  if (cruise_.valid) leave_cruise(true);
  confirm_losses();
  for (std::size_t h = 0; h < holder_.size(); ++h) {
    if (holder_[h].stint >= 0) out_.stints[at(holder_[h].stint)].end_charge = state_[h].cell.charge;
  }
  for (std::size_t d = 0; d < device_.size(); ++d) end_outage(d);
  closed_ = true;
}

}  // namespace tillwrap::forecast
