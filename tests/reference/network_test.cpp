// The wiring's operating point against ngspice on the same circuit: at most 1 mV apart at every node.
// ngspice gets both conductors of each cable, half the loop resistance each, and its own elements; nothing of ours
// computes its numbers.
#include "wiring/network.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "reference/spice.hpp"

namespace tillwrap::wiring {
namespace {

using reference::Deck;
using reference::number;

constexpr double kMostApartV = 1e-3;

// A circuit described once and given to both: as a Topology with Conditions, and as a deck.
class Circuit {
 public:
  int node() { return topology_.nodes++; }

  // Two conductors: plus side p<n>, minus side m<n>. Node 0's minus side is ground.
  void cable(int a, int b, double loop_ohm, bool one_way = false, double drop_v = 0.0) {
    const std::string k = std::to_string(topology_.branches.size());
    topology_.branches.push_back({.a = a, .b = b, .one_way = one_way, .drop_v = drop_v});
    branch_ohm_.push_back(loop_ohm);
    std::string from = plus(a);
    if (one_way) {
      deck_.line("Vdrop" + k + " " + from + " or" + k + " " + number(drop_v));
      deck_.line("Done" + k + " or" + k + " oc" + k + " sharp");
      from = "oc" + k;
    }
    deck_.line("Rplus" + k + " " + from + " " + plus(b) + " " + number(loop_ohm / 2.0));
    deck_.line("Rminus" + k + " " + minus(a) + " " + minus(b) + " " + number(loop_ohm / 2.0));
  }

  void supply(int at, double volts, double ohm) {
    const std::string k = std::to_string(supplies_.size());
    topology_.supply_node.push_back(at);
    supplies_.push_back({.live = true, .volts = volts, .ohm = ohm, .limit_a = 1e9});
    deck_.line("Vsupply" + k + " s" + k + " " + minus(at) + " " + number(volts));
    deck_.line("Rsupply" + k + " s" + k + " " + plus(at) + " " + number(ohm));
  }

  void load(int at, LoadNow load) {
    const std::string k = std::to_string(loads_.size());
    topology_.load_node.push_back(at);
    loads_.push_back(load);
    const std::string across = "V(" + plus(at) + "," + minus(at) + ")";
    // The floor keeps ngspice's search away from a division by zero; no case here ends near it.
    deck_.line("Bload" + k + " " + plus(at) + " " + minus(at) + " I=" + number(load.power_w) + "/max(" + across +
               ",1)+" + number(load.current_a) + "+" + number(load.siemens) + "*" + across);
  }

  void pack(int at, const cell::PackParams& params, const cell::PackState& state, bool one_way, double drop_v) {
    const std::string k = std::to_string(packs_.size());
    topology_.pack_node.push_back(at);
    packs_.push_back({params, cell::rates_at(params.cell, state.cell.temperature_k), state, one_way, drop_v});
    const cell::CellParams& c = params.cell;
    // R = 8.314462618 J/(mol K), F = 96485.33212 C/mol (SI 2019). Empty resistance shape, alpha 0, no lag: the case
    // gives the pack only what is written here.
    const double thermal_v = 2.0 * 8.314462618 * state.cell.temperature_k / 96485.33212;
    const std::string cell_a = "(I(Vsense" + k + ")/" + number(params.parallel) + ")";
    deck_.line("Bopen" + k + " o" + k + " " + minus(at) + " V=" + number(params.series) + "*(" +
               number(c.ocv.value(state.cell.charge)) + "-" + number(state.cell.rc_v) + "-" + number(thermal_v) +
               "*asinh(" + cell_a + "/" + number(2.0 * c.exchange_a) + "))");
    const double ohm = params.series * (c.series_ohm + c.electrolyte_ohm) / params.parallel + params.electronics_ohm;
    deck_.line("Vsense" + k + " o" + k + " q" + k + " " + number(drop_v));
    const std::string contact = one_way ? "r" + k : plus(at);
    deck_.line("Rpack" + k + " q" + k + " " + contact + " " + number(ohm));
    if (one_way) deck_.line("Dpack" + k + " " + contact + " " + plus(at) + " sharp");
  }

  void regulator(int in, int out, const RegulatorLaw& law) {
    const std::string k = std::to_string(regulators_.size());
    topology_.regulators.push_back({in, out});
    regulators_.push_back({.on = true, .law = law});
    const std::string across = "max(V(" + plus(in) + "," + minus(in) + "),1)";
    const std::string out_w = "(-I(Vset" + k + ")*" + number(law.set_v) + ")";
    deck_.line("Vset" + k + " t" + k + " " + minus(out) + " " + number(law.set_v));
    deck_.line("Rset" + k + " t" + k + " " + plus(out) + " " + number(law.out_ohm));
    deck_.line("Vcommon" + k + " " + minus(out) + " 0 0");
    deck_.line("Bdrawn" + k + " " + plus(in) + " " + minus(in) + " I=(" + number(law.idle_w) + "+" + number(law.slope) +
               "*" + out_w + ")/" + across + "+" + number(law.square_ohm) + "*" + out_w + "^2/" + across + "^3");
  }

  void expect_equal() {
    if (!reference::have_spice()) GTEST_SKIP() << "ngspice is not installed";
    // An emission coefficient of 1e-4 makes the diode's knee a few microvolts: 0 V on, open off.
    deck_.line(".model sharp D(IS=1e-12 N=1e-4)");
    Network network(topology_);
    Conditions now = network.blank_conditions();
    now.branch_ohm = branch_ohm_;
    now.loads = loads_;
    now.supplies = supplies_;
    now.regulators = regulators_;
    for (std::size_t k = 0; k < packs_.size(); ++k) {
      now.packs[k] = {&packs_[k].params, &packs_[k].rates, &packs_[k].state, packs_[k].one_way, packs_[k].drop_v};
    }
    Solution solution = network.blank_solution();
    network.solve(now, solution);
    ASSERT_TRUE(solution.converged);
    std::vector<std::string> names;
    for (int n = 0; n < topology_.nodes; ++n) {
      names.push_back(across_name(n));
      // Where ngspice starts its search: constant power has a second root near zero volts.
      deck_.line(".nodeset V(" + plus(n) + ")=14");
      deck_.line("Eacross" + std::to_string(n) + " " + across_name(n) + " 0 " + plus(n) + " " + minus(n) + " 1");
    }
    const auto volts = reference::operating_point(deck_, names);
    for (int n = 0; n < topology_.nodes; ++n) {
      EXPECT_NEAR(solution.node_v[static_cast<std::size_t>(n)], volts.at(across_name(n)), kMostApartV)
          << "node " << n << " of\n"
          << deck_.lines();
    }
  }

 private:
  struct HeldPack {
    cell::PackParams params;
    cell::CellRates rates;
    cell::PackState state;
    bool one_way;
    double drop_v;
  };

  [[nodiscard]] static std::string plus(int n) { return "p" + std::to_string(n); }
  [[nodiscard]] static std::string minus(int n) { return n == 0 ? "0" : "m" + std::to_string(n); }
  [[nodiscard]] static std::string across_name(int n) { return "x" + std::to_string(n); }

  Topology topology_;
  std::vector<double> branch_ohm_;
  std::vector<LoadNow> loads_;
  std::vector<SupplyNow> supplies_;
  std::vector<RegulatorNow> regulators_;
  std::vector<HeldPack> packs_;
  Deck deck_;
};

cell::PackParams four_cells(double open_v, double exchange_a) {
  cell::PackParams pack;
  pack.series = 4;
  pack.parallel = 2;
  pack.electronics_ohm = 0.04;
  pack.cell.ocv = Curve({0.0, 1.0}, {open_v / 4.0 - 0.3, open_v / 4.0 + 0.3});  // `open_v` at half charge
  pack.cell.capacity_as = 3.4 * 3600.0;
  pack.cell.series_ohm = 0.02;
  pack.cell.electrolyte_ohm = 0.025;
  pack.cell.exchange_a = exchange_a;
  pack.cell.lag_rate = {1.0, 1.0};
  pack.cell.diffusion_s = 1000.0;
  return pack;
}

// A bag: one source, a box, eight constant-power devices, two of them behind a second box. Cable resistances are loops
// of AWG 22 (52.96 ohm/km) and AWG 24 (84.22 ohm/km), ASTM B258, 0.4 to 2 m, plus 30 mohm of contacts.
TEST(AgainstNgspice, EightConstantPowerLoadsOnATree) {
  Circuit c;
  const int source = c.node();
  const int box = c.node();
  const int second = c.node();
  c.supply(source, 14.4, 0.12);
  c.cable(source, box, 2 * 0.5 * 0.05296 + 0.03);
  c.cable(box, second, 2 * 2.0 * 0.05296 + 0.03);
  const double watts[] = {8.2, 3.2, 3.2, 1.2, 1.8, 1.0, 5.0, 0.6};
  const double metres[] = {0.5, 0.4, 0.4, 0.6, 1.5, 0.5, 0.8, 0.4};
  for (int k = 0; k < 8; ++k) {
    const int device = c.node();
    c.cable(k < 6 ? box : second, device, 2 * metres[k] * 0.08422 + 0.03);
    c.load(device, {.power_w = watts[k]});
  }
  c.expect_equal();
}

// A chain that hands on 95 % of what its line can carry at all (P < V²/4R).
TEST(AgainstNgspice, CloseToCollapse) {
  Circuit c;
  const int source = c.node();
  const int device = c.node();
  c.supply(source, 12.0, 0.5);
  c.cable(source, device, 0.7);
  c.load(device, {.power_w = 0.95 * 12.0 * 12.0 / (4.0 * 1.2)});
  c.expect_equal();
}

TEST(AgainstNgspice, ConstantCurrentAndResistiveLoads) {
  Circuit c;
  const int source = c.node();
  const int box = c.node();
  c.supply(source, 13.2, 0.2);
  c.cable(source, box, 0.15);
  const LoadNow loads[] = {
      {.power_w = 6.0}, {.current_a = 0.8}, {.siemens = 1.0 / 18.0}, {.power_w = 2.0, .current_a = 0.1}};
  for (const LoadNow& load : loads) {
    const int device = c.node();
    c.cable(box, device, 0.11);
    c.load(device, load);
  }
  c.expect_equal();
}

// A cell's charge transfer makes the source itself nonlinear.
TEST(AgainstNgspice, PackWithChargeTransferAndAnRc) {
  for (const double exchange_a : {0.02, 0.3, 3.0}) {
    for (const double temperature_k : {253.15, 298.15}) {
      Circuit c;
      const int cup = c.node();
      const int device = c.node();
      auto params = four_cells(14.8, exchange_a);
      auto state = cell::rested(params, 0.5, temperature_k);
      state.cell.rc_v = 0.013;
      c.pack(cup, params, state, false, 0.0);
      c.cable(cup, device, 0.2);
      c.load(device, {.power_w = 19.6});
      c.expect_equal();
    }
  }
}

// Two supplies in OR through ideal diodes: far apart (one carries all), close (they share), drops unequal.
TEST(AgainstNgspice, TwoSuppliesInOr) {
  const double second_v[] = {10.0, 14.30, 14.39, 14.40, 14.45, 18.0};
  for (const double volts : second_v) {
    for (const double drop_v : {0.0, 0.03, 0.4}) {
      Circuit c;
      const int bus = c.node();
      const int one = c.node();
      const int two = c.node();
      const int device = c.node();
      c.supply(one, 14.4, 0.10);
      c.supply(two, volts, 0.25);
      c.cable(one, bus, 0.08, true, 0.03);
      c.cable(two, bus, 0.05, true, drop_v);
      c.cable(bus, device, 0.1);
      c.load(device, {.power_w = 20.0});
      c.expect_equal();
    }
  }
}

TEST(AgainstNgspice, TwoPacksInOr) {
  for (const double second_v : {13.0, 14.9, 15.0, 15.05, 16.0}) {
    Circuit c;
    const int bus = c.node();
    const int one = c.node();
    const int two = c.node();
    const int device = c.node();
    const auto first = four_cells(15.0, 0.3);
    const auto second = four_cells(second_v, 0.1);
    c.pack(one, first, cell::rested(first, 0.5, 283.15), true, 0.05);
    c.pack(two, second, cell::rested(second, 0.5, 268.15), true, 0.05);
    c.cable(one, bus, 0.03);
    c.cable(two, bus, 0.04);
    c.cable(bus, device, 0.1);
    c.load(device, {.power_w = 20.0});
    c.expect_equal();
  }
}

// A box's regulated output: P_in = idle + a P_out + b (P_out/V_in)², load behind a long thin cable.
TEST(AgainstNgspice, RegulatedOutput) {
  Circuit c;
  const int source = c.node();
  const int box = c.node();
  const int regulated = c.node();
  const int device = c.node();
  const int direct = c.node();
  c.supply(source, 14.8, 0.15);
  c.cable(source, box, 0.06);
  c.regulator(box, regulated,
              {.set_v = 12.0, .out_ohm = 0.03, .limit_a = 3.0, .idle_w = 0.2, .slope = 1.08, .square_ohm = 0.3});
  c.cable(regulated, device, 0.4);
  c.cable(box, direct, 0.1);
  c.load(device, {.power_w = 7.0});
  c.load(direct, {.power_w = 9.0});
  c.expect_equal();
}

// Forty trees with eight loads each, drawn with a fixed seed: any shape, resistances 5 mohm to 0.3 ohm.
TEST(AgainstNgspice, DrawnTrees) {
  std::mt19937 draw(20260401);
  const auto between = [&](double from, double to) { return std::uniform_real_distribution<double>(from, to)(draw); };
  for (int tree = 0; tree < 40; ++tree) {
    Circuit c;
    c.node();
    c.supply(0, between(11.0, 16.8), between(0.05, 0.2));
    const int inner = std::uniform_int_distribution<int>(1, 6)(draw);
    for (int k = 1; k <= inner; ++k) {
      const int up = std::uniform_int_distribution<int>(0, k - 1)(draw);
      c.cable(up, c.node(), between(0.005, 0.1));
    }
    for (int k = 0; k < 8; ++k) {
      const int up = std::uniform_int_distribution<int>(0, inner)(draw);
      const int device = c.node();
      // Either end may be written first: the wiring has no direction of its own.
      if (k % 2 == 0) {
        c.cable(up, device, between(0.02, 0.3));
      } else {
        c.cable(device, up, between(0.02, 0.3));
      }
      c.load(device, {.power_w = between(0.2, 4.0)});
    }
    c.expect_equal();
    if (HasFailure() || IsSkipped()) return;
  }
}

}  // namespace
}  // namespace tillwrap::wiring
