#include "wiring/network.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace tillwrap::wiring {

namespace {

constexpr int kMostIterations = 400;
// Newton's error after a step is of the order of the square of that step: a change below 10 µV leaves far less than a
// nanovolt. Where two steps show by how much it squares, it ends as soon as the step to come would be below a nanovolt.
constexpr double kVoltTolerance = 1e-5;
constexpr double kAmpTolerance = 1e-5;
constexpr double kNextStep = 1e-9;
constexpr double kSquares = 1e-2;  // a step this much smaller than the one before shows it
// Newton from above falls steadily to the highest operating point, halving its error even at the edge of collapse.
// Where it has not settled: once more from the highest source; then with loads as the conductance P/V² at the last
// volts, which sources in OR cannot upset and which falls below the floor when there is no operating point; last from
// darkness, where every load is a resistance.
constexpr int kFromAbove = 30;
constexpr int kSecantFrom = 70;
constexpr int kFromBelow = 300;
constexpr double kSecantTolerance = 1e-6;
constexpr double kStraight_a = 1e-5;     // so near, a pack's volts lie on its tangent, to about a nanovolt
constexpr double kLeastSiemens = 1e-12;  // below this a part hangs in the air
constexpr double kLeastDenominator = 1e-5;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

Network::Network(Topology topology) : topology_(std::move(topology)) {
  const std::size_t n = at(topology_.nodes);
  part_.assign(n, -1);
  parent_.assign(n, -1);
  parent_branch_.assign(n, -1);
  carrying_.assign(topology_.branches.size(), 1);
  evaluated_a_.assign(topology_.pack_node.size(), 0.0);

  std::vector<std::vector<int>> touching(n);
  for (std::size_t k = 0; k < topology_.branches.size(); ++k) {
    touching[at(topology_.branches[k].a)].push_back(static_cast<int>(k));
    touching[at(topology_.branches[k].b)].push_back(static_cast<int>(k));
  }
  std::vector<char> used(topology_.branches.size(), 0);
  std::vector<Part> parts;
  for (int start = 0; start < topology_.nodes; ++start) {
    if (part_[at(start)] >= 0) continue;
    Part part;
    part_[at(start)] = static_cast<int>(parts.size());
    part.order.push_back(start);
    for (std::size_t head = 0; head < part.order.size(); ++head) {
      const int node = part.order[head];
      for (const int k : touching[at(node)]) {
        if (used[at(k)]) continue;
        used[at(k)] = 1;
        const Branch& branch = topology_.branches[at(k)];
        const int other = branch.a == node ? branch.b : branch.a;
        if (part_[at(other)] >= 0) throw LoopError{.branch = k};
        part_[at(other)] = part_[at(start)];
        parent_[at(other)] = node;
        parent_branch_[at(other)] = k;
        part.order.push_back(other);
      }
    }
    parts.push_back(std::move(part));
  }
  const auto assign = [&](const std::vector<int>& nodes, std::vector<int> Part::*list) {
    for (std::size_t k = 0; k < nodes.size(); ++k) {
      (parts[at(part_[at(nodes[k])])].*list).push_back(static_cast<int>(k));
    }
  };
  assign(topology_.load_node, &Part::loads);
  assign(topology_.supply_node, &Part::supplies);
  assign(topology_.pack_node, &Part::packs);
  std::vector<int> feeds_others(parts.size(), 0);  // regulators whose output part is not ordered yet
  for (std::size_t k = 0; k < topology_.regulators.size(); ++k) {
    parts[at(part_[at(topology_.regulators[k].in_node)])].regulators_in.push_back(static_cast<int>(k));
    parts[at(part_[at(topology_.regulators[k].out_node)])].regulators_out.push_back(static_cast<int>(k));
    ++feeds_others[at(part_[at(topology_.regulators[k].in_node)])];
  }
  // Parts whose regulators' outputs are all known come first.
  std::vector<char> placed(parts.size(), 0);
  for (std::size_t count = 0; count < parts.size(); ++count) {
    std::size_t next = parts.size();
    for (std::size_t p = 0; p < parts.size() && next == parts.size(); ++p) {
      if (!placed[p] && feeds_others[p] == 0) next = p;
    }
    if (next == parts.size()) {
      for (std::size_t p = 0; p < parts.size(); ++p) {
        if (!placed[p] && !parts[p].regulators_in.empty()) throw LoopError{.regulator = parts[p].regulators_in.front()};
      }
    }
    placed[next] = 1;
    for (const int k : parts[next].regulators_out) --feeds_others[at(part_[at(topology_.regulators[at(k)].in_node)])];
    parts_.push_back(parts[next]);
    shorten(parts_.back(), touching);
  }
  std::vector<int> slot_of(n, -1);
  for (std::size_t k = 0; k < slots_.size(); ++k) slot_of[at(slots_[k].node)] = static_cast<int>(k);
  const auto find = [&](const std::vector<int>& nodes, std::vector<int>& slots) {
    for (const int node : nodes) slots.push_back(slot_of[at(node)]);
  };
  find(topology_.load_node, load_slot_);
  find(topology_.supply_node, supply_slot_);
  find(topology_.pack_node, pack_slot_);
  for (const Topology::Link& regulator : topology_.regulators) {
    regulator_in_slot_.push_back(slot_of[at(regulator.in_node)]);
    regulator_out_slot_.push_back(slot_of[at(regulator.out_node)]);
  }
  for (std::vector<double>* values : {&v_, &chain_ohm_, &chain_a_, &fed_v_, &g_, &j_, &share_})
    values->assign(slots_.size(), 0.0);
  chain_closed_.assign(slots_.size(), 1);
}

void Network::shorten(Part& part, const std::vector<std::vector<int>>& touching) {
  std::vector<char> keep(at(topology_.nodes), 0);
  const auto mark = [&](const std::vector<int>& elements, const std::vector<int>& nodes) {
    for (const int k : elements) keep[at(nodes[at(k)])] = 1;
  };
  mark(part.loads, topology_.load_node);
  mark(part.supplies, topology_.supply_node);
  mark(part.packs, topology_.pack_node);
  for (const int k : part.regulators_in) keep[at(topology_.regulators[at(k)].in_node)] = 1;
  for (const int k : part.regulators_out) keep[at(topology_.regulators[at(k)].out_node)] = 1;
  keep[at(part.order.front())] = 1;
  std::vector<int> useful_children(at(topology_.nodes), 0);
  for (std::size_t i = part.order.size(); i-- > 0;) {  // leaves first
    const int node = part.order[i];
    for (const int k : touching[at(node)]) {
      if (topology_.branches[at(k)].one_way) keep[at(node)] = 1;
    }
    if (useful_children[at(node)] > 1) keep[at(node)] = 1;
    if (parent_[at(node)] >= 0 && (keep[at(node)] || useful_children[at(node)] > 0))
      ++useful_children[at(parent_[at(node)])];
  }
  part.first = static_cast<int>(slots_.size());
  std::vector<int> slot_of(at(topology_.nodes), -1);
  for (const int node : part.order) {
    if (!keep[at(node)]) {
      if (useful_children[at(node)] == 0) part.idle.push_back(node);
      continue;
    }
    Slot slot{.node = node, .chain_begin = static_cast<int>(chain_.size())};
    int above = node;
    while (parent_[at(above)] >= 0) {
      chain_.push_back(parent_branch_[at(above)]);
      above = parent_[at(above)];
      if (keep[at(above)]) break;
    }
    slot.chain_end = static_cast<int>(chain_.size());
    if (above != node) {
      slot.up = slot_of[at(above)];
      const int nearest = chain_[at(slot.chain_begin)];
      const Branch& branch = topology_.branches[at(nearest)];
      if (branch.one_way) {
        slot.one_way = nearest;
        slot.toward = branch.b == node ? 1.0 : -1.0;
        slot.drop_v = branch.drop_v;
      }
    }
    slot_of[at(node)] = static_cast<int>(slots_.size());
    slots_.push_back(slot);
  }
  part.last = static_cast<int>(slots_.size());
}

// Volts of all nodes and currents of all branches, once the slots' are known.
void Network::expand(const Part& part, const Conditions& now, Solution& s) const {
  for (int k = part.first; k < part.last; ++k) s.node_v[at(slots_[at(k)].node)] = v_[at(k)];
  for (int k = part.first; k < part.last; ++k) {
    const Slot& slot = slots_[at(k)];
    if (slot.up < 0) continue;
    double v = v_[at(slot.up)];
    const double amps = chain_closed_[at(k)] ? chain_a_[at(k)] : 0.0;
    for (int i = slot.chain_end; i-- > slot.chain_begin;) {
      const int b = chain_[at(i)];
      const Branch& branch = topology_.branches[at(b)];
      const int lower = parent_branch_[at(branch.b)] == b ? branch.b : branch.a;
      s.branch_a[at(b)] = lower == branch.b ? amps : -amps;
      if (i == slot.chain_begin) break;
      v = now.branch_closed[at(b)] ? v - now.branch_ohm[at(b)] * amps : v_[at(k)];
      s.node_v[at(lower)] = v;
    }
  }
  for (const int node : part.idle) {
    const int k = parent_branch_[at(node)];
    s.branch_a[at(k)] = 0.0;
    s.node_v[at(node)] = now.branch_closed[at(k)] ? s.node_v[at(parent_[at(node)])] : 0.0;
  }
}

void Network::reset() { std::fill(carrying_.begin(), carrying_.end(), 1); }

Conditions Network::blank_conditions() const {
  Conditions now;
  now.branch_ohm.assign(topology_.branches.size(), 0.0);
  now.branch_closed.assign(topology_.branches.size(), 1);
  now.loads.resize(topology_.load_node.size());
  now.supplies.resize(topology_.supply_node.size());
  now.packs.resize(topology_.pack_node.size());
  now.regulators.resize(topology_.regulators.size());
  return now;
}

Solution Network::blank_solution() const {
  Solution s;
  s.node_v.assign(at(topology_.nodes), 0.0);
  s.branch_a.assign(topology_.branches.size(), 0.0);
  s.load_a.assign(topology_.load_node.size(), 0.0);
  s.supply_a.assign(topology_.supply_node.size(), 0.0);
  s.pack_a.assign(topology_.pack_node.size(), 0.0);
  s.pack.resize(topology_.pack_node.size());
  s.regulator_in_a.assign(topology_.regulators.size(), 0.0);
  s.regulator_out_a.assign(topology_.regulators.size(), 0.0);
  return s;
}

void Network::solve(const Conditions& now, Solution& solution) {
  solution.converged = true;
  solution.iterations = 0;
  for (const Part& part : parts_) solve_part(part, now, solution);
}

// Tangents of all elements at the present iterate, summed at their nodes.
void Network::stamp(const Part& part, const Conditions& now, Solution& s) {
  std::fill(g_.begin() + part.first, g_.begin() + part.last, 0.0);
  std::fill(j_.begin() + part.first, j_.begin() + part.last, 0.0);
  for (const int k : part.loads) {
    const LoadNow& load = now.loads[at(k)];
    const std::size_t slot = at(load_slot_[at(k)]);
    const double v = v_[slot];
    const double floor_v = load.floor_v;
    double amps = load.siemens * v;
    double slope = load.siemens;
    if (v > floor_v) {
      amps += load.power_w / v + load.current_a;
      slope -= load.power_w / (v * v);
    } else {
      const double below = load.power_w / (floor_v * floor_v) + load.current_a / floor_v;
      amps += below * v;
      slope += below;
    }
    s.load_a[at(k)] = amps;
    if (secant_ && v > 0.0) slope = amps / v;
    g_[slot] += slope;
    j_[slot] -= amps - slope * v;
  }
  for (const int k : part.regulators_in) {
    const RegulatorNow& regulator = now.regulators[at(k)];
    s.regulator_in_a[at(k)] = 0.0;
    if (!regulator.on) continue;
    const std::size_t slot = at(regulator_in_slot_[at(k)]);
    const double v = v_[slot];
    const double floor_v = std::max(0.5 * regulator.law.min_in_v, 0.1);
    const double out_w = regulator.law.set_v * s.regulator_out_a[at(k)];
    ValueGradient in = input_current_a(regulator.law, out_w, std::max(v, floor_v));
    if (v <= floor_v) {
      in.gradient = in.value / floor_v;
      in.value = in.gradient * v;
    }
    s.regulator_in_a[at(k)] = in.value;
    if (secant_ && v > 0.0) in.gradient = in.value / v;
    g_[slot] += in.gradient;
    j_[slot] -= in.value - in.gradient * v;
  }
  const auto stamp_supply = [&](int at_slot, double volts, double ohm, double limit_a) {
    const auto slot = at(at_slot);
    const double amps = (volts - v_[slot]) / ohm;
    if (amps < 0.0) return 0.0;
    if (amps > limit_a) {
      j_[slot] += limit_a;
      return limit_a;
    }
    g_[slot] += 1.0 / ohm;
    j_[slot] += volts / ohm;
    return amps;
  };
  for (const int k : part.supplies) {
    const SupplyNow& supply = now.supplies[at(k)];
    s.supply_a[at(k)] = supply.live ? stamp_supply(supply_slot_[at(k)], supply.volts, supply.ohm, supply.limit_a) : 0.0;
  }
  for (const int k : part.regulators_out) {
    const RegulatorNow& regulator = now.regulators[at(k)];
    const double ohm = std::max(regulator.law.out_ohm, 1e-6);
    s.regulator_out_a[at(k)] =
        regulator.on ? stamp_supply(regulator_out_slot_[at(k)], regulator.law.set_v, ohm, regulator.law.limit_a) : 0.0;
  }
  for (const int k : part.packs) {
    const PackNow& pack = now.packs[at(k)];
    if (pack.params == nullptr) {
      s.pack_a[at(k)] = 0.0;
      s.pack[at(k)] = {};
      continue;
    }
    const std::size_t slot = at(pack_slot_[at(k)]);
    const double v = v_[slot];
    double& amps = s.pack_a[at(k)];
    if (pack.one_way && amps < 0.0) amps = 0.0;
    const double change_a = amps - evaluated_a_[at(k)];
    if (std::fabs(change_a) > kStraight_a) {
      s.pack[at(k)] = cell::evaluate(*pack.params, *pack.rates, *pack.state, amps);
    } else if (change_a != 0.0) {
      cell::follow_tangent(*pack.params, s.pack[at(k)], change_a);
    }
    evaluated_a_[at(k)] = amps;
    const double source_v = s.pack[at(k)].volts - pack.drop_v;
    const double slope = s.pack[at(k)].slope_ohm;
    if (pack.one_way && amps <= 0.0 && v >= source_v) continue;
    g_[slot] -= 1.0 / slope;
    j_[slot] += amps - source_v / slope;
  }
}

double Network::alone_v(int k) const {
  const double before = v_[at(k)];
  const double fed_v = fed_v_[at(k)];
  if (fed_v <= 0.0) return 0.0;
  if (g_[at(k)] > kLeastSiemens) return std::clamp(j_[at(k)] / g_[at(k)], 0.0, fed_v);
  // No tangent to follow: a surplus lifts it to the highest source; a deficit with every source blocked lies just
  // below that source's volts, any other deficit (a source in its current limit) well below.
  if (j_[at(k)] - g_[at(k)] * before >= 0.0) return fed_v;
  for (const double level : {0.9999, 0.999, 0.99, 0.9}) {
    if (before > level * fed_v) return level * fed_v;
  }
  return 0.5 * before;
}

// Leaves to root and back; returns the largest change of a slot's volts.
double Network::eliminate(const Part& part) {
  for (int k = part.last; --k > part.first;) {
    const Slot& slot = slots_[at(k)];
    if (!chain_closed_[at(k)]) continue;
    // D = (G (Vp + offset) - J) / (1 + G R): what the node above sees through the chain.
    const double share = 1.0 / std::max(1.0 + g_[at(k)] * chain_ohm_[at(k)], kLeastDenominator);
    share_[at(k)] = share;
    double j = j_[at(k)];
    if (slot.one_way >= 0) {
      if (!carrying_[at(slot.one_way)]) continue;
      j += slot.toward * slot.drop_v * g_[at(k)];
    }
    g_[at(slot.up)] += g_[at(k)] * share;
    j_[at(slot.up)] += j * share;
  }
  double change_v = 0.0;
  for (int k = part.first; k < part.last; ++k) {
    const Slot& slot = slots_[at(k)];
    double v = 0.0;
    if (slot.up < 0 || !chain_closed_[at(k)]) {
      v = alone_v(k);
    } else {
      const double above_v = v_[at(slot.up)] - slot.toward * slot.drop_v;
      double amps = (g_[at(k)] * above_v - j_[at(k)]) * share_[at(k)];
      v = std::max(above_v - chain_ohm_[at(k)] * amps, 0.0);
      if (slot.one_way >= 0) {
        // Idle branches ask with the node's volts standing alone, carrying ones with their own current.
        char& carrying = carrying_[at(slot.one_way)];
        const bool forward =
            carrying ? amps * slot.toward > 0.0 : (v_[at(slot.up)] - alone_v(k)) * slot.toward > slot.drop_v;
        if (forward != static_cast<bool>(carrying)) {
          carrying = forward ? 1 : 0;
          change_v = 1.0;
        }
        if (!carrying) {
          v = alone_v(k);
          amps = 0.0;
        }
      }
      chain_a_[at(k)] = amps;
    }
    change_v = std::max(change_v, std::fabs(v - v_[at(k)]));
    v_[at(k)] = v;
  }
  return change_v;
}

void Network::solve_part(const Part& part, const Conditions& now, Solution& s) {
  // Chains as they are now, and the highest source that can reach each slot.
  for (int k = part.first; k < part.last; ++k) {
    const Slot& slot = slots_[at(k)];
    v_[at(k)] = s.node_v[at(slot.node)];
    fed_v_[at(k)] = 0.0;
    double ohm = 0.0;
    bool closed = true;
    for (int i = slot.chain_begin; i < slot.chain_end; ++i) {
      const int b = chain_[at(i)];
      ohm += now.branch_ohm[at(b)];
      closed = closed && now.branch_closed[at(b)];
    }
    chain_ohm_[at(k)] = ohm;
    chain_closed_[at(k)] = closed ? 1 : 0;
  }
  const auto feed = [&](int slot, double volts) { fed_v_[at(slot)] = std::max(fed_v_[at(slot)], volts); };
  for (const int k : part.supplies) {
    if (now.supplies[at(k)].live) feed(supply_slot_[at(k)], now.supplies[at(k)].volts);
  }
  for (const int k : part.regulators_out) {
    if (now.regulators[at(k)].on) feed(regulator_out_slot_[at(k)], now.regulators[at(k)].law.set_v);
  }
  for (const int k : part.packs) {
    const PackNow& pack = now.packs[at(k)];
    if (pack.params == nullptr) continue;
    cell::PackPoint& point = s.pack[at(k)];
    const double amps = std::max(s.pack_a[at(k)], 0.0);
    point = cell::evaluate(*pack.params, *pack.rates, *pack.state, amps);
    evaluated_a_[at(k)] = amps;
    // What it could give at most: along its tangent to no current, or at rest.
    feed(pack_slot_[at(k)],
         std::max(point.volts - amps * point.slope_ohm, amps > 0.0 ? point.open_v : 0.0) - pack.drop_v);
  }
  // Volts that come through a slot's chain from one end, 0 where it is open or points the other way.
  const auto through = [&](int k, double upward, double volts) {
    const Slot& slot = slots_[at(k)];
    if (!chain_closed_[at(k)]) return 0.0;
    if (slot.one_way < 0) return volts;
    return slot.toward * upward < 0.0 ? volts - slot.drop_v : 0.0;
  };
  for (int k = part.last; --k > part.first;) feed(slots_[at(k)].up, through(k, 1.0, fed_v_[at(k)]));
  double highest_v = fed_v_[at(part.first)];
  for (int k = part.first + 1; k < part.last; ++k) {
    feed(k, through(k, -1.0, fed_v_[at(slots_[at(k)].up)]));
    highest_v = std::max(highest_v, fed_v_[at(k)]);
  }
  // Start from the source's volts where the last answer was dark, so that the upper (working) root is found.
  bool dark = false;
  for (int k = part.first; k < part.last; ++k) {
    if (v_[at(k)] < 0.3 * fed_v_[at(k)]) {
      v_[at(k)] = fed_v_[at(k)];
      dark = true;
    }
    if (fed_v_[at(k)] <= 0.0) v_[at(k)] = 0.0;
  }
  int iteration = 0;
  bool done = false;
  double before_step = 0.0;  // V or A, whichever was larger
  secant_ = false;
  // From a cold start every source is taken to carry: one that should not drops out at once, while a bus left alone for
  // an iteration would sink towards the lower root.
  const auto all_carry = [&] {
    for (int k = part.first; k < part.last; ++k) {
      if (slots_[at(k)].one_way >= 0) carrying_[at(slots_[at(k)].one_way)] = 1;
    }
    for (const int k : part.packs) s.pack_a[at(k)] = std::max(s.pack_a[at(k)], 1e-9);
  };
  const auto start_at = [&](double v) {
    for (int k = part.first; k < part.last; ++k) v_[at(k)] = std::min(v, fed_v_[at(k)]);
    for (const int k : part.packs) s.pack_a[at(k)] = 0.0;
    all_carry();
  };
  if (dark) all_carry();
  for (; iteration < kMostIterations && !done; ++iteration) {
    if (iteration == kFromAbove || iteration == kSecantFrom) start_at(highest_v);
    if (iteration == kSecantFrom) secant_ = true;
    if (iteration == kFromBelow) {
      if (secant_) start_at(0.0);
      secant_ = false;
    }
    stamp(part, now, s);
    const double change_v = eliminate(part);
    double change_a = 0.0;
    for (const int k : part.packs) {
      const PackNow& pack = now.packs[at(k)];
      if (pack.params == nullptr) continue;
      const double v = v_[at(pack_slot_[at(k)])];
      const double before = s.pack_a[at(k)];
      const double source_v = s.pack[at(k)].volts - pack.drop_v;
      double amps = before + (v - source_v) / s.pack[at(k)].slope_ohm;
      if (pack.one_way && amps < 0.0) amps = 0.0;
      s.pack_a[at(k)] = amps;
      change_a = std::max(change_a, std::fabs(amps - before));
    }
    if (secant_) {
      if (change_v < kSecantTolerance) secant_ = false;
    } else {
      const double step = std::max(change_v, change_a);
      done = change_v < kVoltTolerance && change_a < kAmpTolerance;
      // The next one is smaller again by the ratio of these two, squared.
      const double ratio = before_step > 0.0 ? step / before_step : 1.0;
      done = done || (ratio < kSquares && step * ratio * ratio < kNextStep);
      before_step = step < 1.0 ? step : 0.0;  // a one-way branch that opened or closed says nothing
    }
  }
  secant_ = false;
  // Leave every element consistent with the final volts.
  if (!part.packs.empty() || !part.loads.empty() || !part.regulators_in.empty()) stamp(part, now, s);
  expand(part, now, s);
  s.converged = s.converged && done;
  s.iterations = std::max(s.iterations, iteration);
}

}  // namespace tillwrap::wiring
