// The operating point of the wiring at one instant: node volts and branch currents with packs, supplies, loads that
// take constant power, one-way branches and regulators.
//
// The wiring is an undirected forest (a loop is refused when the network is built), so one Newton iteration is an
// elimination from the leaves to the root and back: exact, in order of the number of nodes, with no matrix. Everything
// that is not a plain resistance is a leaf replaced by its tangent at the last iterate. Sources in OR are the
// complementarity I = max(0, (V_source - V_bus - drop) / R): a branch or pack that would carry current backwards drops
// out of the elimination and comes back when its volts are higher, inside the same iteration, without an event.
// Below a load's floor volts its constant power turns into the resistance floor²/P, so that an operating point always
// exists; an answer below the floor is what a collapse looks like, and the caller sees it (`collapsed`).
#pragma once

#include <string>
#include <vector>

#include "cell/pack.hpp"
#include "wiring/regulator.hpp"

namespace tillwrap::wiring {

struct Branch {
  int a = 0;             // node on the supply side
  int b = 0;             // node on the load side
  bool one_way = false;  // carries current from a to b only
  double drop_v = 0.0;   // of the one-way element
};

// Fixed shape of the wiring. Node numbers run from 0 to nodes-1; every element sits at one node.
struct Topology {
  int nodes = 0;
  std::vector<Branch> branches;
  std::vector<int> load_node;
  std::vector<int> supply_node;
  std::vector<int> pack_node;  // one per holder
  struct Link {
    int in_node = 0;
    int out_node = 0;
  };
  std::vector<Link> regulators;  // couple two parts: out is solved first
};

struct LoadNow {
  double power_w = 0.0;
  double current_a = 0.0;
  double siemens = 0.0;
  double floor_v = 0.1;
};

struct SupplyNow {
  bool live = false;
  double volts = 0.0;
  double ohm = 0.05;
  double limit_a = 1e9;
};

// What sits in a holder at this instant; `params` null when empty or disconnected.
struct PackNow {
  const cell::PackParams* params = nullptr;
  const cell::CellRates* rates = nullptr;
  const cell::PackState* state = nullptr;
  bool one_way = false;  // ideal-diode or Schottky cup: never takes current back
  double drop_v = 0.0;
};

struct RegulatorNow {
  bool on = false;
  RegulatorLaw law;
};

// Everything that may change between instants.
struct Conditions {
  std::vector<double> branch_ohm;
  std::vector<char> branch_closed;
  std::vector<LoadNow> loads;
  std::vector<SupplyNow> supplies;
  std::vector<PackNow> packs;
  std::vector<RegulatorNow> regulators;
};

struct Solution {
  std::vector<double> node_v;
  std::vector<double> branch_a;  // from a to b
  std::vector<double> load_a;
  std::vector<double> supply_a;
  std::vector<double> pack_a;
  std::vector<cell::PackPoint> pack;
  std::vector<double> regulator_in_a;
  std::vector<double> regulator_out_a;
  bool converged = true;
  int iterations = 0;
};

// Solver with its elimination order and work space; build once, solve many times (the last answer is the next start).
class Network {
 public:
  // Throws LoopError when the branches close a loop, naming one branch of it by index, or when regulators feed
  // themselves in a ring.
  explicit Network(Topology topology);

  [[nodiscard]] const Topology& topology() const { return topology_; }
  [[nodiscard]] Conditions blank_conditions() const;
  [[nodiscard]] Solution blank_solution() const;
  void reset();  // forget which one-way branches carried
  // Which they were, by branch; all that one solution leaves to the next besides its answer.
  [[nodiscard]] const std::vector<char>& carrying() const { return carrying_; }
  void carry(const std::vector<char>& carrying) { carrying_ = carrying; }

  // Operating point for `now`; `solution` carries the starting guess in and the answer out.
  void solve(const Conditions& now, Solution& solution);

  // Which part (connected by branches) a node belongs to.
  [[nodiscard]] int part_of(int node) const { return part_[static_cast<std::size_t>(node)]; }

 private:
  // Branches in series without anything between them are one resistance. A slot is a node that carries an element,
  // forks, or ends a one-way branch, with the chain of branches by which it hangs on the slot above it.
  struct Slot {
    int node = 0;
    int up = -1;                         // slot above, -1 at a root
    int chain_begin = 0, chain_end = 0;  // in chain_, nearest first
    int one_way = -1;                    // the branch, which then is a chain of its own
    double toward = 1.0;                 // of a one-way branch: 1 carries to this node, -1 away from it
    double drop_v = 0.0;
  };
  struct Part {
    std::vector<int> order;   // root first
    int first = 0, last = 0;  // its slots, root first
    std::vector<int> idle;    // dead ends with nothing on them: at the volts of what they hang on
    std::vector<int> loads, supplies, packs, regulators_in, regulators_out;
  };
  void solve_part(const Part& part, const Conditions& now, Solution& solution);
  void shorten(Part& part, const std::vector<std::vector<int>>& touching);
  void expand(const Part& part, const Conditions& now, Solution& solution) const;
  void stamp(const Part& part, const Conditions& now, Solution& solution);
  [[nodiscard]] double eliminate(const Part& part);
  [[nodiscard]] double alone_v(int slot) const;  // volts of a slot with nothing above it

  Topology topology_;
  std::vector<int> part_;
  std::vector<int> parent_;  // parent node in the elimination tree, -1 at a root
  std::vector<int> parent_branch_;
  std::vector<Slot> slots_;  // part by part, as they are solved
  std::vector<int> chain_;   // branches
  std::vector<int> load_slot_, supply_slot_, pack_slot_, regulator_in_slot_, regulator_out_slot_;
  // By slot, of the solution under way.
  std::vector<double> v_;
  std::vector<double> chain_ohm_;
  std::vector<char> chain_closed_;
  std::vector<double> chain_a_;      // towards the node
  std::vector<double> fed_v_;        // highest source that can reach the node, 0 = none
  std::vector<double> g_, j_;        // Norton equivalent: drawn current = g V - j
  std::vector<double> share_;        // 1 / (1 + g R): of g, what the slot above sees through the chain
  std::vector<Part> parts_;          // in the order they are solved
  std::vector<char> carrying_;       // of one-way branches
  std::vector<double> evaluated_a_;  // current each pack's point was last taken at, within one solution
  bool secant_ = false;              // loads as conductances for this iteration
};

struct LoopError {
  int branch = -1;     // a branch that closes the loop, or -1
  int regulator = -1;  // a regulator in a ring, or -1
};

}  // namespace tillwrap::wiring
