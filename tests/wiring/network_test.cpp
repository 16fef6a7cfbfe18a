// The operating point of the wiring against answers by hand, and what must hold for every wiring.
#include "wiring/network.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "forecast/fixed_seed.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::wiring {
namespace {

const test::FixedSeed kSeed("seed=20261125 max_success=200");

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// A pack that is a plain source: `open_v` behind `ohm`.
struct Source {
  cell::PackParams params;
  cell::CellRates rates;
  cell::PackState state;
  Source(double open_v, double ohm) {
    params.electronics_ohm = ohm;
    params.cell.capacity_as = 3600.0;
    params.cell.ocv = Curve({0.0, 1.0}, {open_v - 1.0, open_v});
    rates = cell::rates_at(params.cell, 293.15);
    state = cell::rested(params, 1.0, 293.15);
  }
  [[nodiscard]] PackNow now(bool one_way = false, double drop_v = 0.0) const {
    return {.params = &params, .rates = &rates, .state = &state, .one_way = one_way, .drop_v = drop_v};
  }
};

// Voltage of a constant-power load through R: V = (Vs + sqrt(Vs² - 4 P R)) / 2.
double by_hand_v(double source_v, double ohm, double watts) {
  return 0.5 * (source_v + std::sqrt(source_v * source_v - 4.0 * watts * ohm));
}

// One source at node 0, one branch, one load at node 1.
struct Line {
  Source source;
  Network network{{.nodes = 2, .branches = {{.a = 0, .b = 1}}, .load_node = {1}, .pack_node = {0}}};
  Conditions now = network.blank_conditions();
  Solution s = network.blank_solution();
  Line(double open_v, double source_ohm, double line_ohm) : source(open_v, source_ohm) {
    now.packs[0] = source.now();
    now.branch_ohm[0] = line_ohm;
  }
  double load_v(double watts, double amps = 0.0) {
    now.loads[0] = {.power_w = watts, .current_a = amps, .floor_v = 0.5};
    network.solve(now, s);
    return s.node_v[1];
  }
};

TEST(Network, ConstantPowerThroughAResistance) {
  for (const double watts : {0.1, 1.0, 5.0, 20.0, 40.0, 60.0}) {
    Line line(14.4, 0.15, 0.35);
    EXPECT_NEAR(line.load_v(watts), by_hand_v(14.4, 0.5, watts), 1e-7) << watts;
    EXPECT_TRUE(line.s.converged);
  }
}

// Up to a thousandth short of the greatest power U²/4R.
TEST(Network, CloseToCollapse) {
  const double most_w = 14.4 * 14.4 / (4.0 * 0.5);
  Line line(14.4, 0.15, 0.35);
  EXPECT_NEAR(line.load_v(0.999 * most_w), by_hand_v(14.4, 0.5, 0.999 * most_w), 1e-5);
  EXPECT_TRUE(line.s.converged);
}

// Beyond it there is none above half the source's volts; the solver must say so by an answer below the floor, reached
// from wherever the last answer was.
TEST(Network, BeyondCollapseTheAnswerLiesBelowTheFloor) {
  for (const double over : {1.0001, 1.001, 1.01, 1.03, 1.1, 1.5, 3.0}) {
    for (const double from : {0.0, 3.0, 7.0, 7.2, 10.0, 14.4}) {
      Line line(14.4, 0.05, 2.4);
      const double watts = over * 14.4 * 14.4 / (4.0 * 2.45);
      line.now.loads[0] = {.power_w = watts, .floor_v = 4.0};
      line.s.node_v = {from, from};
      line.network.solve(line.now, line.s);
      EXPECT_TRUE(line.s.converged) << over << " from " << from;
      // Below its floor the load is the resistance floor²/P.
      const double load_ohm = 16.0 / watts;
      EXPECT_NEAR(line.s.node_v[1], 14.4 * load_ohm / (load_ohm + 2.45), 1e-4) << over << " from " << from;
    }
  }
}

// Worked drops in print, through a whole network (facts: AWG 16 of 100 ft two-wire at 4 A 3.21 V at 20 °C, secondary
// source; 10 A through 21 ft in all 0.84 V and 20 m of 1.5 mm² at 5 A 2.66 V, derived).
TEST(Network, WorkedCableDrops) {
  constexpr double kFoot_m = 0.3048;
  const auto drop_v = [](double ohm, double amps) {
    Line line(24.0, 0.0001, ohm);
    line.load_v(0.0, amps);
    return line.s.node_v[0] - line.s.node_v[1];
  };
  EXPECT_NEAR(drop_v(pair_ohm(awg_ohm_per_m(16), 100 * kFoot_m), 4.0), 3.21, 0.01);
  EXPECT_NEAR(drop_v(awg_ohm_per_m(16) * 21 * kFoot_m, 10.0), 0.84, 0.005);
  EXPECT_NEAR(drop_v(pair_ohm(area_ohm_per_m(1.5), 20.0), 5.0), 2.66, 1e-6);
}

// Two cups behind ideal diodes on one bus at a constant current, each I_k = max(0, (U_k - V - d)/R_k).
TEST(Network, OneWayCupsShareByComplementarity) {
  const double u1 = 15.0;
  const double u2 = 14.8;
  const double r1 = 0.10;
  const double r2 = 0.20;
  const double d = 0.05;
  const Source first(u1, r1);
  const Source second(u2, r2);
  Network network({.nodes = 1, .load_node = {0}, .pack_node = {0, 0}});
  Conditions now = network.blank_conditions();
  Solution s = network.blank_solution();
  now.packs = {first.now(true, d), second.now(true, d)};
  for (const double amps : {0.5, 1.9, 1.99, 2.01, 2.1, 4.0, 10.0}) {
    now.loads[0] = {.current_a = amps, .floor_v = 0.5};
    network.solve(now, s);
    // The second joins when the first has sagged to its volts: (15 - 14.8)/0.1 = 2 A.
    double v = u1 - d - r1 * amps;
    double a1 = amps;
    if (amps > 2.0) {
      v = ((u1 - d) / r1 + (u2 - d) / r2 - amps) / (1.0 / r1 + 1.0 / r2);
      a1 = (u1 - d - v) / r1;
    }
    EXPECT_NEAR(s.node_v[0], v, 1e-6) << amps;
    EXPECT_NEAR(s.pack_a[0], a1, 1e-5) << amps;
    EXPECT_NEAR(s.pack_a[1], amps - a1, 1e-5) << amps;
  }
}

TEST(Network, OneWayBranchesDoTheSame) {
  // The same through one-way branches: 15 V and 14.8 V, 0.1 and 0.2 ohm in the branches, 4 A.
  const Source first(15.0, 1e-6);
  const Source second(14.8, 1e-6);
  Network network({.nodes = 3,
                   .branches = {{.a = 0, .b = 2, .one_way = true, .drop_v = 0.05},
                                {.a = 1, .b = 2, .one_way = true, .drop_v = 0.05}},
                   .load_node = {2},
                   .pack_node = {0, 1}});
  Conditions now = network.blank_conditions();
  Solution s = network.blank_solution();
  now.packs = {first.now(), second.now()};
  now.branch_ohm = {0.1, 0.2};
  now.loads[0] = {.current_a = 4.0, .floor_v = 0.5};
  network.solve(now, s);
  const double v = (14.95 / 0.1 + 14.75 / 0.2 - 4.0) / 15.0;
  EXPECT_NEAR(s.node_v[2], v, 1e-4);
  EXPECT_NEAR(s.branch_a[1], (14.75 - v) / 0.2, 1e-3);
  now.loads[0].current_a = 1.0;  // 15 - 0.1 > 14.8: the second idles
  network.solve(now, s);
  EXPECT_NEAR(s.node_v[2], 14.85, 1e-4);
  EXPECT_EQ(s.branch_a[1], 0.0);
}

TEST(Network, RegulatedOutputAsItsLawSays) {
  // 12 V, 0.1 ohm, 1.5 A out: 11.85 V; in: (0.2 + 1.08 x 18 W)/V + 0.3 x 18²/V³ from 15 V behind 0.2 ohm.
  const Source source(15.0, 0.2);
  Network network({.nodes = 2, .load_node = {1}, .pack_node = {0}, .regulators = {{.in_node = 0, .out_node = 1}}});
  Conditions now = network.blank_conditions();
  Solution s = network.blank_solution();
  now.packs[0] = source.now();
  now.loads[0] = {.current_a = 1.5, .floor_v = 0.5};
  now.regulators[0] = {
      .on = true,
      .law = {.set_v = 12.0, .out_ohm = 0.1, .limit_a = 3.0, .idle_w = 0.2, .slope = 1.08, .square_ohm = 0.3}};
  network.solve(now, s);
  EXPECT_NEAR(s.node_v[1], 11.85, 1e-6);
  const double v = s.node_v[0];
  EXPECT_NEAR((15.0 - v) / 0.2, (0.2 + 1.08 * 18.0) / v + 0.3 * 18.0 * 18.0 / (v * v * v), 1e-5);
}

TEST(Network, LoopsAndRingsAreRefused) {
  EXPECT_THROW(Network({.nodes = 3, .branches = {{.a = 0, .b = 1}, {.a = 1, .b = 2}, {.a = 2, .b = 0}}}), LoopError);
  EXPECT_THROW(Network({.nodes = 2, .branches = {{.a = 0, .b = 1}, {.a = 0, .b = 1}}}), LoopError);
  EXPECT_THROW(Network({.nodes = 2, .regulators = {{.in_node = 0, .out_node = 1}, {.in_node = 1, .out_node = 0}}}),
               LoopError);
}

// ---- what must hold for every wiring

// A random tree on one or two sources, well away from collapse.
struct Tree {
  Topology topology;
  std::vector<double> ohm;
  std::vector<LoadNow> loads;
  std::vector<Source> sources;

  [[nodiscard]] Conditions conditions(const Network& network) const {
    Conditions now = network.blank_conditions();
    now.branch_ohm = ohm;
    now.loads = loads;
    for (std::size_t k = 0; k < sources.size(); ++k) now.packs[k] = sources[k].now(sources.size() > 1, 0.03);
    return now;
  }
};

double between(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 10001) / 10000.0; }

Tree random_tree() {
  Tree tree;
  const int nodes = *rc::gen::inRange(2, 20);
  tree.topology.nodes = nodes;
  for (int node = 1; node < nodes; ++node) {
    tree.topology.branches.push_back({.a = *rc::gen::inRange(0, node), .b = node});
    tree.ohm.push_back(between(0.0, 0.15));
  }
  const int loads = *rc::gen::inRange(1, 9);
  for (int k = 0; k < loads; ++k) {
    tree.topology.load_node.push_back(*rc::gen::inRange(0, nodes));
    LoadNow load{.floor_v = 3.0};
    const int kind = *rc::gen::inRange(0, 3);
    if (kind == 0) load.power_w = between(0.0, 3.0);
    if (kind == 1) load.current_a = between(0.0, 0.2);
    if (kind == 2) load.siemens = between(0.0, 0.015);
    tree.loads.push_back(load);
  }
  const int sources = *rc::gen::inRange(1, 3);
  for (int k = 0; k < sources; ++k) {
    tree.topology.pack_node.push_back(*rc::gen::inRange(0, nodes));
    tree.sources.emplace_back(between(12.0, 16.8), between(0.02, 0.3));
  }
  return tree;
}

RC_GTEST_PROP(NetworkProperty, CurrentsSumToZeroAtEveryNode, ()) {
  const Tree tree = random_tree();
  Network network(tree.topology);
  Solution s = network.blank_solution();
  network.solve(tree.conditions(network), s);
  RC_ASSERT(s.converged);
  std::vector<double> sum_a(at(tree.topology.nodes), 0.0);
  for (std::size_t k = 0; k < tree.ohm.size(); ++k) {
    const Branch& branch = tree.topology.branches[k];
    sum_a[at(branch.a)] -= s.branch_a[k];
    sum_a[at(branch.b)] += s.branch_a[k];
    RC_ASSERT(std::fabs(s.node_v[at(branch.a)] - s.node_v[at(branch.b)] - tree.ohm[k] * s.branch_a[k]) < 1e-8);
  }
  for (std::size_t k = 0; k < tree.loads.size(); ++k) {
    const LoadNow& load = tree.loads[k];
    const double v = s.node_v[at(tree.topology.load_node[k])];
    sum_a[at(tree.topology.load_node[k])] -= s.load_a[k];
    RC_ASSERT(v > load.floor_v);
    RC_ASSERT(std::fabs(s.load_a[k] - (load.power_w / v + load.current_a + load.siemens * v)) < 1e-9);
  }
  for (std::size_t k = 0; k < tree.sources.size(); ++k) {
    sum_a[at(tree.topology.pack_node[k])] += s.pack_a[k];
    RC_ASSERT(tree.sources.size() == 1 || s.pack_a[k] >= 0.0);
  }
  for (const double amps : sum_a) RC_ASSERT(std::fabs(amps) < 1e-6);
}

RC_GTEST_PROP(NetworkProperty, SolvingFromAFarStartFindsTheSamePoint, ()) {
  const Tree tree = random_tree();
  Network network(tree.topology);
  const Conditions now = tree.conditions(network);
  Solution near = network.blank_solution();
  network.solve(now, near);
  RC_ASSERT(near.converged);
  // Each node anywhere between dark and twice the source's volts, currents anywhere.
  Network other(tree.topology);
  Solution far = other.blank_solution();
  for (double& v : far.node_v) v = between(0.0, 30.0);
  for (double& a : far.pack_a) a = between(-5.0, 20.0);
  other.solve(now, far);
  RC_ASSERT(far.converged);
  for (std::size_t k = 0; k < near.node_v.size(); ++k) RC_ASSERT(std::fabs(near.node_v[k] - far.node_v[k]) < 1e-6);
}

RC_GTEST_PROP(NetworkProperty, ThickerCableNeverLowersItsOwnDevicesVolts, ()) {
  Tree tree = random_tree();
  Network network(tree.topology);
  Solution before = network.blank_solution();
  network.solve(tree.conditions(network), before);
  const std::size_t thicker = *rc::gen::inRange<std::size_t>(0, tree.ohm.size());
  tree.ohm[thicker] *= between(0.1, 0.95);
  Solution after = network.blank_solution();
  network.solve(tree.conditions(network), after);
  // Current flows away from the source through it: the side that it feeds.
  const Branch& branch = tree.topology.branches[thicker];
  const int fed = before.branch_a[thicker] >= 0.0 ? branch.b : branch.a;
  RC_ASSERT(after.node_v[at(fed)] >= before.node_v[at(fed)] - 1e-7);
}

RC_GTEST_PROP(NetworkProperty, AnIdleOneWayPackChangesNothing, ()) {
  Tree tree = random_tree();
  tree.sources.erase(tree.sources.begin() + 1, tree.sources.end());
  tree.topology.pack_node.resize(1);
  const int node = *rc::gen::inRange(0, tree.topology.nodes);
  Network alone(tree.topology);
  Conditions now = tree.conditions(alone);
  Solution single = alone.blank_solution();
  alone.solve(now, single);
  Topology with = tree.topology;
  with.pack_node.push_back(node);
  Network both(with);
  // A hair below the volts there: idle. A hair above: it gives.
  const double there_v = single.node_v[at(node)];
  const Source idle(there_v - 0.001, 0.1);
  const Source giving(there_v + 0.01, 0.1);
  now.packs.push_back(idle.now(true));
  Solution pair = both.blank_solution();
  both.solve(now, pair);
  RC_ASSERT(pair.pack_a[1] == 0.0);
  // Equal to rounding: the tree is eliminated with one node more.
  for (std::size_t k = 0; k < single.node_v.size(); ++k)
    RC_ASSERT(std::fabs(pair.node_v[k] - single.node_v[k]) < 1e-10);
  RC_ASSERT(std::fabs(pair.pack_a[0] - single.pack_a[0]) < 1e-9);
  now.packs[1] = giving.now(true);
  both.solve(now, pair);
  RC_ASSERT(pair.pack_a[1] > 0.0);
  RC_ASSERT(pair.pack_a[0] < single.pack_a[0]);
}

RC_GTEST_PROP(NetworkProperty, SameInputSameBits, ()) {
  const Tree tree = random_tree();
  Network first(tree.topology);
  Network second(tree.topology);
  Solution a = first.blank_solution();
  Solution b = second.blank_solution();
  first.solve(tree.conditions(first), a);
  second.solve(tree.conditions(second), b);
  RC_ASSERT(a.node_v == b.node_v);
  RC_ASSERT(a.branch_a == b.branch_a);
  RC_ASSERT(a.pack_a == b.pack_a);
}

}  // namespace
}  // namespace tillwrap::wiring
