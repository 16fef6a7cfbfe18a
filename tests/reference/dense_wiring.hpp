// The operating point of a wiring by a method of its own: all node volts and the currents of packs and one-way branches
// together in one dense system, Newton with Eigen's LU, no tree, no elimination order. Sources in OR are written as
// Fischer and Burmeister's function of the complementarity (Optimization 24 (1992) 269): a + b - sqrt(a² + b²) = 0
// holds exactly when a >= 0, b >= 0 and ab = 0. Where Newton from the last answer fails, loads are raised from nothing
// to what they are, which leads to the highest operating point; where there is none above the loads' floors, the volts
// sink as capacitors at the nodes would let them.
#pragma once

#include <Eigen/Dense>
#include <vector>

#include "cell/pack.hpp"
#include "wiring/regulator.hpp"

namespace tillwrap::reference {

struct WiringNow {
  struct Branch {
    int a = 0, b = 0;
    double ohm = 0.0;
    bool closed = true;
    bool one_way = false;
    double drop_v = 0.0;
  };
  struct Load {
    int node = 0;
    double power_w = 0.0, current_a = 0.0, siemens = 0.0;
    double floor_v = 0.3;
  };
  struct Supply {
    int node = -1;  // -1: not part of the wiring
    bool live = false;
    double volts = 0.0, ohm = 0.05, limit_a = 1e9;
  };
  struct Pack {
    int node = 0;
    const cell::PackParams* params = nullptr;  // null: empty or cut off
    cell::CellRates rates{};
    cell::PackState state{};
    bool one_way = false;
    double drop_v = 0.0;
  };
  struct Regulator {
    int in = 0, out = 0;
    bool on = false;
    wiring::RegulatorLaw law{};
  };
  int nodes = 0;
  std::vector<Branch> branches;
  std::vector<Load> loads;
  std::vector<Supply> supplies;
  std::vector<Pack> packs;
  std::vector<Regulator> regulators;
};

struct WiringPoint {
  std::vector<double> node_v, branch_a, load_a, supply_a, pack_a, in_a, out_a;  // in_a, out_a: of regulators
  std::vector<cell::PackPoint> pack;
  bool settled = false;
};

class DenseWiring {
 public:
  // The highest operating point near the last answer; `afresh` forgets that answer.
  void solve(const WiringNow& now, WiringPoint& point, bool afresh);

  long solves = 0;
  long iterations = 0;

 private:
  void lay_out(const WiringNow& now);
  void residual(const WiringNow& now, double share, bool with_jacobian);
  bool newton(const WiringNow& now, double share, int most);
  bool sink(const WiringNow& now);
  void start_high(const WiringNow& now);

  int unknowns_ = 0;
  std::vector<int> branch_row_;  // row of the branch's own current, -1 where it is a plain conductance
  std::vector<int> pack_row_;
  Eigen::VectorXd x_, f_, step_, last_, most_;
  Eigen::MatrixXd j_;
  Eigen::PartialPivLU<Eigen::MatrixXd> lu_;
  WiringPoint at_;
};

}  // namespace tillwrap::reference
