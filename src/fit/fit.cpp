#include "fit/fit.hpp"

#include <algorithm>
#include <cmath>

#include "fit/slow.hpp"
#include "fit/trace.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::fit {

namespace {

constexpr double kTenPercent = 0.10;
constexpr double kChargeDoubt = 0.004;     // of full: how far the model's charge may be off its log; steep stretches of
                                           // the curve count less by it
constexpr double kDurationDoubt = 0.015;   // of a steady discharge's length
constexpr double kDurationReadings = 2.0;  // the length counts as so many readings
constexpr double kRestedDoubt_v = 0.015;   // of a pulse test's rest volts against the curve
constexpr double kResistanceDoubt = 0.10;  // of a published pulse resistance
// Cells give one to three per cent more than the least that is rated; common practice, no source.
constexpr double kOverRating = 1.01;
constexpr double kRatingDoubt = 0.005;
constexpr std::size_t kComparedRows = 500;
constexpr double kSurfaceReadings = 2.0;  // a log's surface temperature counts as so many readings

Draft draft_of(const Problem& problem, const Eigen::VectorXd& x) {
  Draft draft;
  draft.cell = problem.base;
  draft.exchange_log = problem.exchange_log;
  draft.diffusion_rise = problem.diffusion_rise;
  for (const Log& log : problem.logs) {
    draft.start_charge.push_back(log.start_charge);
    draft.age.push_back(log.known);
  }
  for (std::size_t k = 0; k < problem.free.size(); ++k)
    problem.free[k].put(draft, problem.free[k].value(x[static_cast<Eigen::Index>(k)]));
  finish(draft);
  if (problem.slow) {
    draft.cell.capacity_as =
        draft.capacity_over_slow * curve_from_slow(draft.cell, problem.logs[*problem.slow], problem.full_v);
  }
  shift_curve(draft);
  return draft;
}

double start_of(const cell::CellParams& cell, const Draft& draft, const Log& log, std::size_t k) {
  return log.rested_v ? start_charge(cell, log) : draft.start_charge[k];
}

// Rows of `log` that are compared, spread evenly, and everything known about them before the fit.
std::size_t stride(const Log& log) { return std::max<std::size_t>(1, log.t_s.size() / kComparedRows); }

constexpr double kFarthestOff = 20.0;  // nothing is counted as off by more than this many times its doubt

// Half the square of what comes back is the loss.
double counted(const Problem& problem, double off) {
  const double size = std::min(std::fabs(off), kFarthestOff);
  const double turn = problem.straight_beyond;
  if (turn <= 0.0 || size <= turn) return std::copysign(size, off);
  return std::copysign(std::sqrt(turn * (2.0 * size - turn)), off);
}

void compare(const Problem& problem, const Draft& draft, std::size_t k, std::vector<double>& out) {
  const Log& log = problem.logs[k];
  const double readings = problem.readings_a_log;
  const cell::CellParams cell = cell::aged(draft.cell, draft.age[k]);
  const Trace t = trace(cell, log, start_of(cell, draft, log, k));
  const std::size_t every = stride(log);
  const std::size_t rows = (log.t_s.size() + every - 1) / every;
  const double weight = std::sqrt(log.weight * readings / static_cast<double>(rows));
  for (std::size_t row = 0; row < log.t_s.size(); row += every) {
    if (t.counts[row] == 0) {
      out.push_back(0.0);
      continue;
    }
    double doubt_v = std::hypot(log.sigma_v, kChargeDoubt * t.slope_v[row]);
    if (problem.heavy_c > 0.0) doubt_v *= std::max(1.0, std::fabs(log.amps[row]) / (problem.heavy_c * cell.rated_ah));
    out.push_back(weight * counted(problem, (t.volts[row] - log.volts[row]) / doubt_v));
  }
  if (problem.surface_doubt_k > 0.0 && !log.surface_k.empty() && log.discharged_as.empty()) {
    const double surface_weight = std::sqrt(log.weight * kSurfaceReadings / static_cast<double>(rows));
    for (std::size_t row = 0; row < log.t_s.size(); row += every)
      out.push_back(surface_weight * (t.kelvin[row] - log.surface_k[row]) / problem.surface_doubt_k);
  }
  if (log.cutoff_v > 0.0) {
    const double lasted_s = measured_duration_s(log, log.cutoff_v).value_or(log.t_s.back() - first_load_s(log));
    out.push_back(std::sqrt(log.weight * kDurationReadings) * (t.duration_s / lasted_s - 1.0) / kDurationDoubt);
  }
  if (!log.discharged_as.empty()) {
    const std::vector<Level> all = levels(log);
    const double level_weight =
        std::sqrt(log.weight * readings / static_cast<double>(std::max<std::size_t>(1, all.size())));
    for (const Level& level : all) {
      const ValueSlope at = cell.ocv.at(1.0 - log.discharged_as[level.first] / cell.capacity_as);
      const double doubt_v = std::hypot(kRestedDoubt_v, kChargeDoubt * at.slope);
      out.push_back(level_weight * counted(problem, (at.value - log.volts[level.first]) / doubt_v));
    }
  }
}

double share_of_prior(const Solution& solution, Eigen::Index k) {
  return std::sqrt(std::max(0.0, solution.covariance(k, k)));
}

}  // namespace

double resistance_of(const cell::CellParams& cell, const PulseResistance& pulse) {
  const cell::CellRates rates = cell::rates_at(cell, pulse.temperature_k);
  cell::CellState state{.charge = pulse.charge, .temperature_k = pulse.temperature_k};
  const double rested_v = cell::evaluate(cell, rates, state, 0.0).volts;
  state = cell::advance(cell, rates, state, pulse.lasts_s, pulse.amps, pulse.amps);
  return (rested_v - cell::evaluate(cell, rates, state, pulse.amps).volts) / pulse.amps;
}

double rated_share(const cell::CellParams& cell, const Rating& rating) {
  Log log{.name = "rating"};
  log.t_s = {0.0, 1.0};
  log.volts = {0.0, 0.0};
  log.amps = {rating.amps, rating.amps};
  log.ambient_k = log.start_k = rating.temperature_k;
  log.cutoff_v = rating.stop_v;
  return trace(cell, log, 1.0).duration_s * rating.amps / (3600.0 * rating.ah);
}

std::optional<double> rms_v(const cell::CellParams& cell, const Log& log, double start_charge) {
  const Trace t = trace(cell, log, start_charge);
  double squares = 0.0;
  double count = 0.0;
  for (std::size_t row = 0; row < log.t_s.size(); ++row) {
    if (t.counts[row] == 0 || t.charge[row] <= kTenPercent) continue;
    const double off = t.volts[row] - log.volts[row];
    squares += off * off;
    count += 1.0;
  }
  if (count == 0.0) return std::nullopt;
  return std::sqrt(squares / count);
}

double most_misfit_v(const Log& log) {
  constexpr double kCold_k = 283.15;
  constexpr double kMisfit_v = 0.045;
  constexpr double kColdMisfit_v = 0.09;
  return log.ambient_k < kCold_k ? kColdMisfit_v : kMisfit_v;
}

Fitted fit(const Problem& problem, const std::vector<double>& start) {
  const auto n = static_cast<Eigen::Index>(problem.free.size());
  const Residuals residuals = [&](const Eigen::VectorXd& x) {
    const Draft draft = draft_of(problem, x);
    std::vector<double> out(x.data(), x.data() + n);  // the prior: x is in its spreads
    for (std::size_t k = 0; k < problem.logs.size(); ++k) compare(problem, draft, k, out);
    const double table =
        std::sqrt(problem.readings_a_log / static_cast<double>(std::max<std::size_t>(1, problem.resistances.size())));
    for (const PulseResistance& pulse : problem.resistances)
      out.push_back(table * maths::log(resistance_of(draft.cell, pulse) / pulse.ohm) / kResistanceDoubt);
    if (problem.rating) {
      const double short_by = std::max(0.0, kOverRating - rated_share(draft.cell, *problem.rating));
      out.push_back(std::sqrt(kDurationReadings) * short_by / kRatingDoubt);
    }
    if (problem.smooth > 0.0) {
      // Bending of ln i0 against where it started.
      const auto bent = [&](std::size_t k) { return draft.exchange_log[k] - problem.exchange_log[k]; };
      for (std::size_t k = 1; k + 1 < kExchangeZ.size(); ++k) {
        out.push_back(problem.smooth * ((bent(k + 1) - bent(k)) / (kExchangeZ[k + 1] - kExchangeZ[k]) -
                                        (bent(k) - bent(k - 1)) / (kExchangeZ[k] - kExchangeZ[k - 1])));
      }
    }
    return Eigen::VectorXd(Eigen::Map<const Eigen::VectorXd>(out.data(), static_cast<Eigen::Index>(out.size())));
  };
  Eigen::VectorXd x0 = Eigen::VectorXd::Zero(n);
  for (std::size_t k = 0; k < start.size() && k < problem.free.size(); ++k) x0[static_cast<Eigen::Index>(k)] = start[k];
  const Solution solution = least_squares(residuals, x0, problem.most_rounds, problem.progress);

  Fitted out;
  out.rounds = solution.rounds;
  Eigen::VectorXd x = solution.x;
  std::vector<Eigen::Index> told;
  for (Eigen::Index k = 0; k < n; ++k) {
    if (share_of_prior(solution, k) < kToldBelow) told.push_back(k);
  }
  if (static_cast<Eigen::Index>(told.size()) < n) {
    // What the logs cannot tell keeps its prior; the rest is fitted once more around it.
    const auto among_all = [&](const Eigen::VectorXd& few) {
      Eigen::VectorXd all = Eigen::VectorXd::Zero(n);
      for (std::size_t k = 0; k < told.size(); ++k) all[told[k]] = few[static_cast<Eigen::Index>(k)];
      return all;
    };
    Eigen::VectorXd few(static_cast<Eigen::Index>(told.size()));
    for (std::size_t k = 0; k < told.size(); ++k) few[static_cast<Eigen::Index>(k)] = x[told[k]];
    if (!told.empty()) {
      const Solution again = least_squares([&](const Eigen::VectorXd& y) { return residuals(among_all(y)); }, few,
                                           problem.most_rounds, problem.progress);
      out.rounds += again.rounds;
      few = again.x;
    }
    x = among_all(few);
  }
  for (Eigen::Index k = 0; k < n; ++k) {
    const Parameter& p = problem.free[static_cast<std::size_t>(k)];
    const double share = share_of_prior(solution, k);
    Estimated e{.name = p.name, .share_of_prior = share, .told = share < kToldBelow, .of_the_cell = p.of_the_cell};
    e.value = p.value(x[k]);
    e.plus_minus = p.plus_minus(x[k], std::min(share, 1.0));
    out.numbers.push_back(e);
  }
  out.x.assign(x.data(), x.data() + n);
  const Draft draft = draft_of(problem, x);
  out.cell = draft.cell;
  for (std::size_t k = 0; k < problem.logs.size(); ++k) {
    const Log& log = problem.logs[k];
    const cell::CellParams now = cell::aged(draft.cell, draft.age[k]);
    const cell::CellParams before = cell::aged(problem.base, log.known);
    LogFit one{.name = log.name, .rows = log.t_s.size()};
    one.rms_v = rms_v(now, log, start_of(now, draft, log, k)).value_or(0.0);
    one.rms_before_v = rms_v(before, log, log.rested_v ? start_charge(before, log) : log.start_charge).value_or(0.0);
    if (log.cutoff_v > 0.0) {
      const double lasted_s = measured_duration_s(log, log.cutoff_v).value_or(log.t_s.back() - first_load_s(log));
      one.duration_off = trace(now, log, start_of(now, draft, log, k)).duration_s / lasted_s - 1.0;
    }
    out.logs.push_back(one);
  }
  return out;
}

}  // namespace tillwrap::fit
