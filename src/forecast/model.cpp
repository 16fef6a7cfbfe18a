#include "forecast/model.hpp"

#include <algorithm>

namespace tillwrap::forecast {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

Model::Model(const day::Scenario& scenario) : day(scenario) {
  const int ports = static_cast<int>(day.ports.size());
  const int holders = static_cast<int>(day.holders.size());
  topology.nodes = ports + holders;
  for (const day::Lead& lead : day.leads) {
    topology.branches.push_back({.a = lead.from, .b = lead.to, .one_way = lead.one_way, .drop_v = lead.drop_v});
  }
  for (const day::Device& device : day.devices) topology.load_node.push_back(device.port);
  for (const day::Regulator& regulator : day.regulators) {
    topology.regulators.push_back({.in_node = regulator.in_port, .out_node = regulator.out_port});
  }
  for (const day::Supply& supply : day.supplies) {
    supply_of.push_back(supply.port >= 0 ? static_cast<int>(topology.supply_node.size()) : -1);
    if (supply.port >= 0) topology.supply_node.push_back(supply.port);
  }
  for (int h = 0; h < holders; ++h) {
    const day::Holder& holder = day.holders[at(h)];
    const int node = ports + h;
    holder_node.push_back(node);
    holder_branch.push_back(-1);
    holder_regulator.push_back(-1);
    charger_supply_of.push_back(-1);
    topology.pack_node.push_back(node);
    topology.load_node.push_back(node);  // the pack's own electronics
    const bool bank = std::any_of(holder.slots.begin(), holder.slots.end(),
                                  [&](const day::Slot& s) { return day.packs[at(s.pack)].regulator.has_value(); });
    if (holder.charger_supply >= 0) {
      charger_supply_of.back() = static_cast<int>(topology.supply_node.size());
      topology.supply_node.push_back(node);
    } else if (bank) {
      holder_regulator.back() = static_cast<int>(topology.regulators.size());
      topology.regulators.push_back({.in_node = node, .out_node = holder.port});
    } else {
      holder_branch.back() = static_cast<int>(topology.branches.size());
      topology.branches.push_back({.a = node, .b = holder.port});
    }
  }
  branch_in_account.assign(topology.branches.size(), 1);
  leads_into.resize(day.ports.size());
  for (std::size_t k = 0; k < day.leads.size(); ++k) leads_into[at(day.leads[k].to)].push_back(static_cast<int>(k));

  // Walk from each device over all leads and back through regulators.
  const std::size_t nodes = at(topology.nodes);
  const auto walk = [&](int start) {
    Feeding found;
    std::vector<char> seen(nodes, 0);
    std::vector<int> queue{start};
    seen[at(start)] = 1;
    for (std::size_t head = 0; head < queue.size(); ++head) {
      const int node = queue[head];
      for (std::size_t k = 0; k < topology.branches.size(); ++k) {
        const wiring::Branch& branch = topology.branches[k];
        if (branch.b != node || seen[at(branch.a)]) continue;  // upstream only
        seen[at(branch.a)] = 1;
        queue.push_back(branch.a);
        if (k < day.leads.size()) found.leads.push_back(static_cast<int>(k));
      }
      for (std::size_t k = 0; k < topology.regulators.size(); ++k) {
        if (topology.regulators[k].out_node != node || seen[at(topology.regulators[k].in_node)]) continue;
        seen[at(topology.regulators[k].in_node)] = 1;
        queue.push_back(topology.regulators[k].in_node);
        found.regulators.push_back(static_cast<int>(k));
      }
      for (int h = 0; h < holders; ++h) {
        if (holder_node[at(h)] == node) found.holders.push_back(h);
      }
      for (std::size_t k = 0; k < day.supplies.size(); ++k) {
        if (day.supplies[k].port == node) found.supplies.push_back(static_cast<int>(k));
      }
    }
    return found;
  };
  for (const day::Device& device : day.devices) {
    feeding.push_back(walk(device.port));
    input_holders.emplace_back();
    for (const day::DeviceInput& input : device.inputs) {
      input_holders.back().push_back(walk(day.leads[at(input.lead)].from).holders);
    }
  }
}

}  // namespace tillwrap::forecast
