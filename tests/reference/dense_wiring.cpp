#include "reference/dense_wiring.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace tillwrap::reference {

namespace {

constexpr double kLeak_s = 1e-12;   // to ground at every node, so that what hangs in the air is at 0 V
constexpr double kPlainOhm = 1e-6;  // less than this keeps the current as an unknown
constexpr double kSettled = 1e-9;   // largest change of the last step; the error left is its square
constexpr double kMostVoltsStep = 4.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Tangent {
  double value;
  double slope;
};

// The power's part of a load is taken `share` times.
Tangent load_current(const WiringNow::Load& load, double v, double share) {
  const double power_w = share * load.power_w;
  const double steady_a = share * load.current_a;
  if (v > load.floor_v) {
    return {power_w / v + steady_a + load.siemens * v, -power_w / (v * v) + load.siemens};
  }
  const double g = power_w / (load.floor_v * load.floor_v) + steady_a / load.floor_v + load.siemens;
  return {g * v, g};
}

Tangent source_current(double volts, double ohm, double limit_a, double v) {
  const double amps = (volts - v) / ohm;
  if (amps <= 0.0) return {0.0, 0.0};
  if (amps >= limit_a) return {limit_a, 0.0};
  return {amps, -1.0 / ohm};
}

double out_ohm(const wiring::RegulatorLaw& law) { return std::max(law.out_ohm, 1e-6); }

}  // namespace

void DenseWiring::lay_out(const WiringNow& now) {
  unknowns_ = now.nodes;
  branch_row_.assign(now.branches.size(), -1);
  pack_row_.assign(now.packs.size(), -1);
  for (std::size_t k = 0; k < now.packs.size(); ++k) {
    if (now.packs[k].params != nullptr) pack_row_[k] = unknowns_++;
  }
  for (std::size_t k = 0; k < now.branches.size(); ++k) {
    const WiringNow::Branch& branch = now.branches[k];
    if (branch.closed && (branch.one_way || branch.ohm < kPlainOhm)) branch_row_[k] = unknowns_++;
  }
  x_ = Eigen::VectorXd::Zero(unknowns_);
  f_ = x_;
  step_ = x_;
  last_ = x_;
  most_ = Eigen::VectorXd::Zero(now.nodes);
  j_ = Eigen::MatrixXd::Zero(unknowns_, unknowns_);
  at_.node_v.assign(at(now.nodes), 0.0);
  at_.branch_a.assign(now.branches.size(), 0.0);
  at_.load_a.assign(now.loads.size(), 0.0);
  at_.supply_a.assign(now.supplies.size(), 0.0);
  at_.pack_a.assign(now.packs.size(), 0.0);
  at_.pack.assign(now.packs.size(), {});
  at_.in_a.assign(now.regulators.size(), 0.0);
  at_.out_a.assign(now.regulators.size(), 0.0);
}

// Currents leaving each node sum to nothing; one more equation for each current that is an unknown itself.
void DenseWiring::residual(const WiringNow& now, double share, bool with_jacobian) {
  f_.setZero();
  if (with_jacobian) j_.setZero();
  for (int n = 0; n < now.nodes; ++n) {
    f_(n) = kLeak_s * x_(n);
    if (with_jacobian) j_(n, n) = kLeak_s;
  }
  for (std::size_t k = 0; k < now.branches.size(); ++k) {
    const WiringNow::Branch& branch = now.branches[k];
    at_.branch_a[k] = 0.0;
    if (!branch.closed) continue;
    const double across_v = x_(branch.a) - x_(branch.b);
    const int row = branch_row_[k];
    if (row < 0) {
      const double g = 1.0 / branch.ohm;
      at_.branch_a[k] = g * across_v;
      if (with_jacobian) {
        j_(branch.a, branch.a) += g;
        j_(branch.b, branch.b) += g;
        j_(branch.a, branch.b) -= g;
        j_(branch.b, branch.a) -= g;
      }
    } else {
      const double amps = x_(row);
      at_.branch_a[k] = amps;
      const double spare_v = branch.ohm * amps - across_v + (branch.one_way ? branch.drop_v : 0.0);
      double by_a = branch.ohm;
      double by_v = -1.0;
      if (branch.one_way) {
        const double root = std::max(std::hypot(amps, spare_v), 1e-300);
        f_(row) = amps + spare_v - std::hypot(amps, spare_v);
        by_v = -(1.0 - spare_v / root);
        by_a = (1.0 - amps / root) - by_v * branch.ohm;
      } else {
        f_(row) = spare_v;
      }
      if (with_jacobian) {
        j_(row, row) += by_a;
        j_(row, branch.a) += by_v;
        j_(row, branch.b) -= by_v;
        j_(branch.a, row) += 1.0;
        j_(branch.b, row) -= 1.0;
      }
    }
    f_(branch.a) += at_.branch_a[k];
    f_(branch.b) -= at_.branch_a[k];
  }
  for (std::size_t k = 0; k < now.loads.size(); ++k) {
    const WiringNow::Load& load = now.loads[k];
    const Tangent drawn = load_current(load, x_(load.node), share);
    at_.load_a[k] = drawn.value;
    f_(load.node) += drawn.value;
    if (with_jacobian) j_(load.node, load.node) += drawn.slope;
  }
  for (std::size_t k = 0; k < now.supplies.size(); ++k) {
    const WiringNow::Supply& supply = now.supplies[k];
    at_.supply_a[k] = 0.0;
    if (!supply.live || supply.node < 0) continue;
    const Tangent given = source_current(supply.volts, supply.ohm, supply.limit_a, x_(supply.node));
    at_.supply_a[k] = given.value;
    f_(supply.node) -= given.value;
    if (with_jacobian) j_(supply.node, supply.node) -= given.slope;
  }
  for (std::size_t k = 0; k < now.regulators.size(); ++k) {
    const WiringNow::Regulator& regulator = now.regulators[k];
    at_.in_a[k] = at_.out_a[k] = 0.0;
    if (!regulator.on) continue;
    const wiring::RegulatorLaw& law = regulator.law;
    const Tangent given = source_current(law.set_v, out_ohm(law), law.limit_a, x_(regulator.out));
    at_.out_a[k] = given.value;
    f_(regulator.out) -= given.value;
    // P_in = P0 + a P_out + b (P_out / V_in)², P_out before the output resistance; below half the least input volts a
    // resistance.
    const double floor_v = std::max(0.5 * law.min_in_v, 0.1);
    const double v = x_(regulator.in);
    const double u = std::max(v, floor_v);
    const double out_w = law.set_v * given.value;
    double amps = share * (law.idle_w + law.slope * out_w) / u + share * law.square_ohm * out_w * out_w / (u * u * u);
    double by_v = -share * (law.idle_w + law.slope * out_w) / (u * u) -
                  3.0 * share * law.square_ohm * out_w * out_w / (u * u * u * u);
    double by_w = share * law.slope / u + 2.0 * share * law.square_ohm * out_w / (u * u * u);
    if (v <= floor_v) {
      by_v = amps / floor_v;
      amps = by_v * v;
      by_w *= v / floor_v;
    }
    at_.in_a[k] = amps;
    f_(regulator.in) += amps;
    if (with_jacobian) {
      j_(regulator.out, regulator.out) -= given.slope;
      j_(regulator.in, regulator.in) += by_v;
      j_(regulator.in, regulator.out) += by_w * law.set_v * given.slope;
    }
  }
  for (std::size_t k = 0; k < now.packs.size(); ++k) {
    const WiringNow::Pack& pack = now.packs[k];
    at_.pack_a[k] = 0.0;
    at_.pack[k] = {};
    const int row = pack_row_[k];
    if (row < 0) continue;
    const double amps = x_(row);
    at_.pack_a[k] = amps;
    at_.pack[k] = cell::evaluate(*pack.params, pack.rates, pack.state, amps);
    const double spare_v = x_(pack.node) - (at_.pack[k].volts - pack.drop_v);
    double by_v = 1.0;
    double by_a = -at_.pack[k].slope_ohm;
    f_(row) = spare_v;
    if (pack.one_way) {
      const double root = std::max(std::hypot(amps, spare_v), 1e-300);
      f_(row) = amps + spare_v - std::hypot(amps, spare_v);
      by_v = 1.0 - spare_v / root;
      by_a = (1.0 - amps / root) - by_v * at_.pack[k].slope_ohm;
    }
    f_(pack.node) -= amps;
    if (with_jacobian) {
      j_(row, row) += by_a;
      j_(row, pack.node) += by_v;
      j_(pack.node, row) -= 1.0;
    }
  }
}

bool DenseWiring::newton(const WiringNow& now, double share, int most) {
  most_.setConstant(kMostVoltsStep);
  last_.setZero();
  for (int i = 0; i < most; ++i) {
    ++iterations;
    residual(now, share, true);
    lu_.compute(j_);
    step_ = lu_.solve(f_);
    if (!step_.allFinite()) return false;
    // Where a node swings to and fro over a kink (a limit, a floor), its swings are halved: bisection.
    double share_taken = 1.0;
    for (int n = 0; n < now.nodes; ++n) {
      const double size = std::fabs(step_(n));
      if (size > most_(n)) {
        if (step_(n) * last_(n) < 0.0) most_(n) *= 0.5;
        share_taken = std::min(share_taken, most_(n) / size);
      }
    }
    last_ = step_;
    if (share_taken < 1.0) {
      x_ -= share_taken * step_;
      continue;
    }
    x_ -= step_;
    // Currents of packs count in full; a change far below what the volts resolve is rounding.
    if (step_.cwiseAbs().maxCoeff() < kSettled) {
      residual(now, share, false);
      return true;
    }
  }
  return false;
}

bool DenseWiring::sink(const WiringNow& now) {
  double step_s = 1e-3;
  for (int i = 0; i < 4000; ++i) {
    ++iterations;
    residual(now, 1.0, true);
    for (int n = 0; n < now.nodes; ++n) j_(n, n) += 1.0 / step_s;
    lu_.compute(j_);
    step_ = lu_.solve(f_);
    const double largest = step_.head(now.nodes).cwiseAbs().maxCoeff();
    // Against the currents' own direction: the step is longer than the time in which volts run away.
    const bool backwards = step_.head(now.nodes).dot(f_.head(now.nodes)) < 0.0 && largest > 1e-7;
    if (!step_.allFinite() || largest > 0.5 || backwards) {
      step_s *= 0.25;
      if (step_s < 1e-12) return false;
      continue;
    }
    x_ -= step_;
    if (step_s > 1e6 && step_.cwiseAbs().maxCoeff() < kSettled) {
      residual(now, 1.0, false);
      return true;
    }
    if (largest < 0.1) step_s = std::min(step_s * 2.0, 1e9);
  }
  return false;
}

void DenseWiring::start_high(const WiringNow& now) {
  double highest_v = 0.0;
  for (const auto& supply : now.supplies) highest_v = std::max(highest_v, supply.live ? supply.volts : 0.0);
  for (const auto& regulator : now.regulators)
    highest_v = std::max(highest_v, regulator.on ? regulator.law.set_v : 0.0);
  for (const auto& pack : now.packs) {
    if (pack.params != nullptr)
      highest_v = std::max(highest_v, cell::evaluate(*pack.params, pack.rates, pack.state, 0.0).volts);
  }
  x_.setZero();
  x_.head(now.nodes).setConstant(highest_v);
  for (const int row : branch_row_) {
    if (row >= 0) x_(row) = 1e-3;
  }
  for (const int row : pack_row_) {
    if (row >= 0) x_(row) = 1e-3;
  }
}

void DenseWiring::solve(const WiringNow& now, WiringPoint& point, bool afresh) {
  ++solves;
  bool done = false;
  if (afresh || unknowns_ == 0) {
    lay_out(now);
  } else {
    done = newton(now, 1.0, 12);
  }
  if (!done) {
    // Loads raised step by step from an unloaded wiring.
    start_high(now);
    double share = 0.0;
    double step = 0.25;
    bool below = newton(now, 0.0, 200);
    Eigen::VectorXd good = x_;
    while (below && share < 1.0) {
      const double next = std::min(1.0, share + step);
      if (newton(now, next, 25)) {
        share = next;
        good = x_;
        step *= 2.0;
        continue;
      }
      x_ = good;
      step *= 0.5;
      if (step < 1e-4) break;
    }
    done = below && share >= 1.0;
    if (!done) {
      // Past the highest power the wiring carries. A capacitor of 1 F at every node shows where its volts sink to:
      // C dv/dt = -(currents leaving), implicit Euler in ever longer steps.
      x_ = good;
      done = sink(now);
    }
  }
  for (int n = 0; n < now.nodes; ++n) at_.node_v[at(n)] = x_(n);
  at_.settled = done;
  if (!done && getenv("DW")) {
    fprintf(stderr, "unsettled\n");
    for (int n = 0; n < unknowns_; ++n) fprintf(stderr, " x%d %.6g f %.3g step %.3g\n", n, x_(n), f_(n), step_(n));
    for (auto& b : now.branches)
      fprintf(stderr, " br %d-%d %g closed %d ow %d drop %g\n", b.a, b.b, b.ohm, b.closed, b.one_way, b.drop_v);
    for (auto& l : now.loads)
      fprintf(stderr, " load @%d %g W %g A %g S floor %g\n", l.node, l.power_w, l.current_a, l.siemens, l.floor_v);
    for (auto& l : now.packs)
      fprintf(stderr, " pack @%d %d ow %d drop %g z %g\n", l.node, l.params != nullptr, l.one_way, l.drop_v,
              l.state.cell.charge);
    for (auto& l : now.regulators) fprintf(stderr, " reg %d->%d on %d\n", l.in, l.out, l.on);
    exit(1);
  }
  point = at_;
}

}  // namespace tillwrap::reference
