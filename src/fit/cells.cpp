#include "fit/cells.hpp"

#include <algorithm>
#include <cmath>

#include "fit/health.hpp"
#include "fit/least_squares.hpp"
#include "fit/trace.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::fit {

namespace {

// One standard deviation, ln where a factor: cells of one pack. From memory.
constexpr double kAlikeCapacity = 0.15;
constexpr double kAlikeResistance = 0.25;
constexpr double kAlikeCharge = 0.02;
// A register's millivolt and its converter; and of the difference so much again, as the model's own slope is off.
constexpr double kVolts_sd = 0.004;
constexpr double kSlopeDoubt = 0.08;
constexpr double kReadings = 20.0;  // neighbouring rows say the same: a log is worth so many readings
constexpr std::size_t kMostRows = 240;
constexpr double kToldBelowSd = 0.9;
// Whatever the volts say: the others are no single mean cell, and cells inside a pack are not equally warm. So much the
// answers for drawn packs were off (tests/health).
constexpr double kAtBest = 0.012;
constexpr int kMostRounds = 20;

struct Unknowns {
  double capacity = 1.0, resistance = 1.0, start_charge = 0.0;
};
Unknowns unknowns(const Eigen::VectorXd& x) {
  return {maths::exp(kAlikeCapacity * x[0]), maths::exp(kAlikeResistance * x[1]), kAlikeCharge * x[2]};
}

class Pack {
 public:
  Pack(const cell::CellParams& others, Log log, double start_charge, double end_v)
      : others_(others),
        log_(std::move(log)),
        start_(start_charge),
        end_v_(end_v),
        mean_(trace(others_, log_, start_)) {
    double on_s = 0.0;
    for (std::size_t k = 1; k < log_.t_s.size(); ++k) {
      if (log_.amps[k] > 0.0) on_s += log_.t_s[k] - log_.t_s[k - 1];
    }
    mean_a_ = on_s > 0.0 ? charge_as(log_) / on_s : 0.0;
  }

  [[nodiscard]] Solution solve(const std::vector<double>& difference_v) const {
    const std::size_t n = difference_v.size();
    const double weight = std::sqrt(std::min(1.0, kReadings / static_cast<double>(n)));
    const auto residuals = [&](const Eigen::VectorXd& x) {
      const Unknowns u = unknowns(x);
      const Trace one = trace(aged(u), log_, start_ + u.start_charge);
      Eigen::VectorXd out(3 + static_cast<Eigen::Index>(n));
      out.head(3) = x;
      for (std::size_t k = 0; k < n; ++k) {
        const double sd = std::hypot(kVolts_sd, kSlopeDoubt * difference_v[k]);
        out[3 + static_cast<Eigen::Index>(k)] = weight * (one.volts[k] - mean_.volts[k] - difference_v[k]) / sd;
      }
      return out;
    };
    return least_squares(residuals, Eigen::VectorXd::Zero(3), kMostRounds);
  }

  // Ah of one cell until it shows its end volts.
  [[nodiscard]] double gives_ah(const Eigen::VectorXd& x) const {
    const Unknowns u = unknowns(x);
    Log steady{.t_s = {0.0, 60.0},
               .volts = {0.0, 0.0},
               .amps = {mean_a_, mean_a_},
               .ambient_k = log_.ambient_k,
               .start_k = log_.start_k,
               .cutoff_v = end_v_};
    constexpr double kLeast_s = 1.0;  // it is at its end already
    return std::max(kLeast_s, trace(aged(u), steady, start_ + u.start_charge).duration_s) * mean_a_ / 3600.0;
  }

 private:
  [[nodiscard]] cell::CellParams aged(const Unknowns& u) const {
    return cell::aged(others_, {u.capacity, u.resistance});
  }

  cell::CellParams others_;
  Log log_;
  double start_ = 1.0, end_v_ = 0.0, mean_a_ = 0.0;
  Trace mean_;
};

std::vector<double> mean_without(const std::vector<std::vector<double>>& volts, std::size_t left_out) {
  std::vector<double> mean(volts.front().size(), 0.0);
  for (std::size_t c = 0; c < volts.size(); ++c) {
    if (c == left_out) continue;
    for (std::size_t k = 0; k < mean.size(); ++k) mean[k] += volts[c][k] / static_cast<double>(volts.size() - 1);
  }
  return mean;
}

// The cell that falls furthest below the mean of all.
std::size_t lowest_of(const std::vector<std::vector<double>>& volts) {
  std::size_t lowest = 0;
  double below_v = 0.0;
  for (std::size_t c = 0; c < volts.size(); ++c) {
    const std::vector<double> others = mean_without(volts, c);
    for (std::size_t k = 0; k < others.size(); ++k) {
      if (others[k] - volts[c][k] <= below_v) continue;
      below_v = others[k] - volts[c][k];
      lowest = c;
    }
  }
  return lowest;
}

}  // namespace

CellsFound cells_of_pack(const cell::CellParams& as_new, const Log& shared, std::vector<std::vector<double>> volts,
                         double end_v) {
  CellsFound out;
  const auto log_of = [&](std::vector<double> own) {
    Log log = shared;
    log.volts = std::move(own);
    log.cutoff_v = 0.0;
    return thinned(std::move(log), kMostRows);
  };
  for (std::vector<double>& own : volts) own = log_of(std::move(own)).volts;
  // The lowest is left out of the mean that all are held to.
  Log others = log_of(shared.volts);
  const double first_v = others.volts.front();
  others.volts = mean_without(volts, lowest_of(volts));
  if (others.rested_v) *others.rested_v += others.volts.front() - first_v;
  const Health health = fit::health(as_new, {others});
  double start = start_charge(health.fitted.cell, others);
  for (const Estimated& one : health.fitted.numbers) {
    if (one.name.starts_with("start charge of")) start = one.value;
  }
  const Pack pack(health.fitted.cell, others, start, end_v);
  for (const std::vector<double>& own : volts) {
    std::vector<double> difference_v(own.size());
    for (std::size_t k = 0; k < own.size(); ++k) difference_v[k] = own[k] - others.volts[k];
    const Solution found = pack.solve(difference_v);
    const Unknowns u = unknowns(found.x);
    CellFound one{.capacity = u.capacity,
                  .capacity_ln_sd = std::hypot(kAtBest, kAlikeCapacity * std::sqrt(found.covariance(0, 0))),
                  .resistance = u.resistance,
                  .resistance_ln_sd = kAlikeResistance * std::sqrt(found.covariance(1, 1)),
                  .start_charge = u.start_charge,
                  .start_charge_sd = kAlikeCharge * std::sqrt(found.covariance(2, 2)),
                  .capacity_told = found.covariance(0, 0) < kToldBelowSd * kToldBelowSd,
                  .gives_ah = pack.gives_ah(found.x)};
    constexpr double kNudge = 0.05;
    Eigen::VectorXd slope(3);
    for (Eigen::Index j = 0; j < 3; ++j) {
      Eigen::VectorXd nudged = found.x;
      nudged[j] += kNudge;
      slope[j] = maths::log(pack.gives_ah(nudged) / one.gives_ah) / kNudge;
    }
    one.gives_ln_sd = std::sqrt(std::max(0.0, slope.dot(found.covariance * slope)));
    out.cells.push_back(one);
  }
  const auto ends_first = [&](std::size_t a, std::size_t b) { return out.cells[a].gives_ah < out.cells[b].gives_ah; };
  for (std::size_t c = 1; c < out.cells.size(); ++c) {
    if (ends_first(c, out.weakest)) out.weakest = c;
  }
  out.next = out.weakest == 0 ? 1 : 0;
  for (std::size_t c = 0; c < out.cells.size(); ++c) {
    if (c != out.weakest && ends_first(c, out.next)) out.next = c;
  }
  const CellFound& weak = out.cells[out.weakest];
  const CellFound& next = out.cells[out.next];
  out.shorter = 1.0 - weak.gives_ah / next.gives_ah;
  out.shorter_sd = (1.0 - out.shorter) * std::hypot(kAtBest, std::hypot(weak.gives_ln_sd, next.gives_ln_sd));
  return out;
}

}  // namespace tillwrap::fit
