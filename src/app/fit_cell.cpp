#include "app/fit_cell.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "decode/units.hpp"
#include "fit/health.hpp"
#include "fit/slow.hpp"
#include "fit/trace.hpp"

namespace tillwrap::app {

namespace {

[[noreturn]] void refuse(const std::string& option, const std::string& wrong, const std::string& advice) {
  throw decode::InputError("command line", {1, 1}, option + ": " + wrong, advice);
}

double value_of(const std::string& option, const std::string& text, decode::Dimension dimension, const char* unit) {
  if (text.find_first_not_of(' ') == std::string::npos)
    refuse(option, "no value", std::string("write a number, in ") + unit + " if it has no unit");
  try {
    const bool bare = text.find_first_not_of("0123456789.+-eE \xE2\x88\x92") == std::string::npos;
    return decode::parse_quantity(bare ? text + " " + unit : text, dimension);
  } catch (const decode::QuantityError& error) {
    refuse(option, error.what(), error.hint);
  }
}

// How far the numbers of one cell lie from those of its chemistry's set, one standard deviation of ln(value); common
// practice, no source: cells of one chemistry differ by half in resistance and diffusion, little in activation energy.
struct Doubt {
  const char* name;
  double spread;
};
constexpr Doubt kDoubts[] = {
    {"diffusion_s", 0.5},
    {"diffusion_activation_k", 0.15},
    {"cold_tail", 0.5},
    {"series_ohm", 0.4},
    {"electrolyte_ohm", 0.5},
    {"electrolyte_activation_k", 0.2},
    {"exchange_a", 0.5},
    {"exchange_activation_k", 0.1},
    {"rc_ohm", 0.5},
    {"exchange_s", 0.5},
    {"rc_s", 0.4},
    {"heat_capacity_j_k", 0.15},
    {"cooling_w_k", 0.7},
};
constexpr double kCapacityDoubt = 0.10;        // of a capacity that was given
constexpr double kCapacityDoubtUnsaid = 0.25;  // of one that was not
constexpr double kMostUnsaid = 20.0;           // an unsaid capacity beyond so many times the set\'s is a wrong unit
constexpr double kSlowCapacityDoubt = 0.03;    // of what a slow discharge says
constexpr double kCurveDoubt_v = 0.025;        // of the chemistry's rested curve, at each of a few places

// A discharge slow enough and long enough to give the rested curve; of several the one nearest 25 °C.
// Lithium only: elsewhere a slow discharge's end is not the foot of the rested curve, as much charge stays bound.
std::optional<std::size_t> slow_one(const std::vector<fit::Log>& logs, const cell::CellParams& cell) {
  std::optional<std::size_t> best;
  if (!cell::is_lithium_ion(cell.chemistry)) return best;
  for (std::size_t k = 0; k < logs.size(); ++k) {
    const fit::Log& log = logs[k];
    if (log.cutoff_v <= 0.0 || !log.discharged_as.empty()) continue;
    if (log.rested_v || log.start_charge != 1.0) continue;
    const double hours = (log.t_s.back() - fit::first_load_s(log)) / 3600.0;
    const double drawn_ah = fit::charge_as(log) / 3600.0;
    if (drawn_ah / hours > fit::kSlowRate_c * cell.rated_ah || drawn_ah < 0.8 * cell.capacity_as / 3600.0) continue;
    if (!best || std::fabs(log.ambient_k - 298.15) < std::fabs(logs[*best].ambient_k - 298.15)) best = k;
  }
  return best;
}

std::vector<fit::Log> read_logs(const FitWords& words, const cell::CellParams& cell, std::vector<std::string>& notes) {
  const std::size_t n = words.logs.size() + words.pulses.size();
  if (n == 0) {
    refuse("fit", "no log",
           words.ambient.size() > 1 ? "name the logs before --ambient, which takes all words up to the next option"
                                    : "name at least one CSV file");
  }
  if (words.ambient.size() > 1 && words.ambient.size() != n)
    refuse("--ambient", fmt::format("{} temperatures for {} logs", words.ambient.size(), n),
           "give one for all or one a log, pulse tests last");
  if (words.cells < 1 || words.cells > 100)
    refuse("--cells", "a number of cells outside 1 to 100", "write how many are in series");
  std::vector<fit::Log> logs;
  for (std::size_t k = 0; k < n; ++k) {
    const bool pulse = k >= words.logs.size();
    FitLogWords how{.cells = words.cells, .pulse = pulse, .ambient_k = {}};
    if (!words.ambient.empty()) {
      const std::string& text = words.ambient.size() == 1 ? words.ambient.front() : words.ambient[k];
      how.ambient_k = value_of("--ambient", text, decode::Dimension::temperature, "°C");
      if (!(*how.ambient_k >= 213.15 && *how.ambient_k <= 353.15))
        refuse("--ambient", "air outside −60 to 80 °C", "the cell models end there");
    }
    logs.push_back(read_fit_log(pulse ? words.pulses[k - words.logs.size()] : words.logs[k], how, cell, notes));
  }
  return logs;
}

// Logs that the fitted cell does not follow, or that the other logs pulled it away from.
void note_misfits(const fit::Problem& problem, const fit::Fitted& fitted, std::vector<std::string>& notes) {
  constexpr double kPulled = 2.0;
  for (std::size_t k = 0; k < fitted.logs.size(); ++k) {
    const fit::LogFit& log = fitted.logs[k];
    if (log.rms_v > fit::most_misfit_v(problem.logs[k])) {
      notes.push_back(
          fmt::format("{}: still {:.0f} mV a cell off: is it of such a cell, of that size and temperature? "
                      "The numbers are not to be relied on.",
                      log.name, 1e3 * log.rms_v));
    } else if (fitted.logs.size() > 1 && log.rms_v > problem.logs[k].sigma_v &&
               log.rms_v > kPulled * log.rms_before_v) {
      notes.push_back(
          fmt::format("{}: {:.0f} mV a cell off, {:.0f} before the fit: the logs disagree; are all of one cell "
                      "in one state?",
                      log.name, 1e3 * log.rms_v, 1e3 * log.rms_before_v));
    }
  }
}

void free_the_cell(fit::Problem& problem, bool capacity_said, std::vector<std::string>& notes) {
  const cell::CellParams& base = problem.base;
  problem.slow = slow_one(problem.logs, base);
  if (problem.slow) {
    fit::Log& slow = problem.logs[*problem.slow];
    slow.weight = 0.3;  // it gives the curve already
    slow.start_charge_sd = 0.0;
    notes.push_back(slow.name + ": slow enough to give the rested curve");
    problem.free.push_back({.name = "capacity_ah over the slow discharge's",
                            .middle = 1.0,
                            .spread = kSlowCapacityDoubt,
                            .put = [](fit::Draft& draft, double value) { draft.capacity_over_slow = value; }});
  } else {
    problem.free.push_back(fit::field("capacity_as", base, capacity_said ? kCapacityDoubt : kCapacityDoubtUnsaid));
    for (std::size_t k = 0; k < fit::kShiftZ.size(); ++k) {
      problem.free.push_back({.name = fmt::format("rested volts at {:.0f} % charge", 100.0 * fit::kShiftZ[k]),
                              .middle = 0.0,
                              .spread = kCurveDoubt_v,
                              .logarithmic = false,
                              .put = [k](fit::Draft& draft, double value) {
                                draft.ocv_shift_v.resize(fit::kShiftZ.size(), 0.0);
                                draft.ocv_shift_v[k] = value;
                              }});
    }
  }
  for (const Doubt& doubt : kDoubts) {
    fit::Parameter p = fit::field(doubt.name, base, doubt.spread);
    if (p.middle > 0.0) problem.free.push_back(std::move(p));
  }
}

}  // namespace

FitAnswer run_fit(const FitWords& words, const catalogue::Catalogue& catalogue) {
  FitAnswer answer;
  answer.health_only = words.health_only;
  fit::Problem problem;
  problem.progress = words.progress;
  if (words.health_only) {
    if (!words.params) refuse("--health-only", "no parameter file of the cell as new", "give --params IN.json");
    if (words.chemistry || words.capacity_ah)
      refuse("--health-only", "a chemistry or capacity with it", "both come from --params");
    answer.kind = catalogue::read_cell(*words.params);
  } else {
    if (words.params) refuse("--params", "only --health-only starts from a parameter file", "give --chemistry NAME");
    if (!words.chemistry) refuse("fit", "no chemistry", "give --chemistry NAME, such as nmc");
    const catalogue::CellKind* kind = catalogue.cell(*words.chemistry);
    if (kind == nullptr)
      refuse("--chemistry", "the catalogue has no cell \"" + *words.chemistry + "\"",
             catalogue::unknown_id_hint(catalogue, "cells", *words.chemistry));
    answer.kind = *kind;
  }
  answer.started_from = answer.kind.id;
  problem.base = answer.kind.params;
  if (words.capacity_ah) {
    const double as = value_of("--capacity-ah", *words.capacity_ah, decode::Dimension::charge, "Ah");
    if (!(as >= 36.0 && as <= 3.6e6)) refuse("--capacity-ah", "a capacity outside 0.01 to 1000 Ah", "write 2.9");
    problem.base = cell::scaled_to(problem.base, as / 3600.0);
  }
  problem.logs = read_logs(words, problem.base, answer.notes);
  if (!words.capacity_ah && !words.health_only) {
    // Unsaid: the set's own size, unless a log run down to its end shows another.
    double most_as = 0.0;
    double lowest_v = 1e9;
    for (const fit::Log& log : problem.logs) {
      if (!log.discharged_as.empty()) continue;
      most_as = std::max(most_as, fit::charge_as(log));
      lowest_v = std::min(lowest_v, log.volts.back());
    }
    const double ratio = most_as / problem.base.capacity_as;
    if (ratio > kMostUnsaid) {
      throw decode::InputError(
          problem.logs.front().name, {1, 1},
          fmt::format("{:.3g} Ah were taken, far more than a cell of {:.3g} Ah holds", most_as / 3600.0,
                      problem.base.capacity_as / 3600.0),
          "check that the current is in amps and the time in seconds; give --capacity-ah for a cell of "
          "this size");
    }
    if (ratio > 1.25 || (ratio < 0.75 && ratio > 0.0 && lowest_v < problem.base.cutoff_v + 0.15)) {
      problem.base = cell::scaled_to(problem.base, most_as / 3600.0);
      answer.notes.push_back(
          fmt::format("no --capacity-ah: {:.3g} Ah taken, what the longest log draws", most_as / 3600.0));
    }
  }
  for (fit::Log& log : problem.logs) settle_fit_log(log, problem.base, answer.notes);
  if (words.health_only) {
    fit::Health found = fit::health(problem.base, problem.logs, words.progress);
    answer.health = found.age;
    answer.fitted = std::move(found.fitted);
  } else {
    free_the_cell(problem, words.capacity_ah.has_value(), answer.notes);
    answer.slow = problem.slow.has_value();
    fit::free_start_charges(problem);
    answer.fitted = fit::fit(problem);
  }
  note_misfits(problem, answer.fitted, answer.notes);
  // In Ah, as the parameter file has it.
  for (fit::Estimated& number : answer.fitted.numbers) {
    if (number.name != "capacity_as") continue;
    number.name = "capacity_ah";
    number.value /= 3600.0;
    number.plus_minus /= 3600.0;
  }
  return answer;
}

}  // namespace tillwrap::app
