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

  // Walk from each device over all leads and back through regulators.
  const std::size_t nodes = at(topology.nodes);
  const auto walk = [&](int start, std::vector<int>& came_by, std::vector<int>& came_from, int& source_node) {
    Feeding found;
    came_by.assign(nodes, -2);  // branch we arrived by, -1 at the start or through a regulator
    came_from.assign(nodes, -1);
    std::vector<int> queue{start};
    came_by[at(start)] = -1;
    source_node = -1;
    for (std::size_t head = 0; head < queue.size(); ++head) {
      const int node = queue[head];
      for (std::size_t k = 0; k < topology.branches.size(); ++k) {
        const wiring::Branch& branch = topology.branches[k];
        if (branch.b != node || came_by[at(branch.a)] != -2) continue;  // upstream only
        came_by[at(branch.a)] = static_cast<int>(k);
        came_from[at(branch.a)] = node;
        queue.push_back(branch.a);
        if (k < day.leads.size()) found.leads.push_back(static_cast<int>(k));
      }
      for (std::size_t k = 0; k < topology.regulators.size(); ++k) {
        if (topology.regulators[k].out_node != node || came_by[at(topology.regulators[k].in_node)] != -2) continue;
        came_by[at(topology.regulators[k].in_node)] = -1;
        came_from[at(topology.regulators[k].in_node)] = node;
        queue.push_back(topology.regulators[k].in_node);
        found.regulators.push_back(static_cast<int>(k));
      }
      for (int h = 0; h < holders; ++h) {
        if (holder_node[at(h)] != node) continue;
        found.holders.push_back(h);
        if (source_node < 0) source_node = node;
      }
      for (std::size_t k = 0; k < day.supplies.size(); ++k) {
        if (day.supplies[k].port != node) continue;
        found.supplies.push_back(static_cast<int>(k));
        if (source_node < 0) source_node = node;
      }
    }
    return found;
  };
  for (const day::Device& device : day.devices) {
    std::vector<int> came_by;
    std::vector<int> came_from;
    int source_node = -1;
    Feeding found = walk(device.port, came_by, came_from, source_node);
    std::vector<int> leads;
    for (int node = source_node; node >= 0 && node != device.port; node = came_from[at(node)]) {
      const int k = came_by[at(node)];
      if (k >= 0 && at(k) < day.leads.size()) leads.push_back(k);
    }
    std::reverse(leads.begin(), leads.end());
    feeding.push_back(std::move(found));
    path.push_back(std::move(leads));
    input_holders.emplace_back();
    for (const day::DeviceInput& input : device.inputs) {
      input_holders.back().push_back(walk(day.leads[at(input.lead)].from, came_by, came_from, source_node).holders);
    }
  }
}

}  // namespace tillwrap::forecast
