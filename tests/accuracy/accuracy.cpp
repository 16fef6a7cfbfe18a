// Fits on part of the open measured sets and predicts the rest: `./dev accuracy`. docs/accuracy.md says what is done.
//   accuracy             the table
//   accuracy --sets      each set fitted to all of its logs, as it stands in the catalogue
#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <cstring>
#include <optional>

#include "accuracy/sets.hpp"
#include "app/fit_cell.hpp"
#include "fit/health.hpp"
#include "fit/trace.hpp"
#include "quantity/quantity.hpp"

using namespace tillwrap;
using accuracy::Case;
using accuracy::Set;

namespace {

constexpr double kDeviceCutoff_v = 3.3;

struct Tally {
  int durations = 0;
  int durations_met = 0;
  int volts = 0;
  int volts_met = 0;
  int volts_beyond = 0;  // over the largest allowed
};

// The volts and length of one log as a cell predicts them, against what was measured.
void predict(const Set& set, const Case& one, const cell::CellParams& cell, const fit::Log& log, const std::string& how,
             Tally& tally) {
  const double z0 = fit::start_charge(cell, log);
  const double rms_v = fit::rms_v(cell, log, z0).value_or(0.0);
  const fit::Trace t = fit::trace(cell, log, z0);
  double measured_j = 0.0;
  double predicted_j = 0.0;
  for (std::size_t k = 1; k < log.t_s.size(); ++k) {
    const double h = 0.5 * (log.t_s[k] - log.t_s[k - 1]);
    measured_j += h * (log.volts[k] * log.amps[k] + log.volts[k - 1] * log.amps[k - 1]);
    predicted_j += h * (t.volts[k] * log.amps[k] + t.volts[k - 1] * log.amps[k - 1]);
  }
  const accuracy::Goal goal = accuracy::goal_at(one.chamber_c);
  const auto off_at = [&](double stop_v) -> std::optional<double> {
    fit::Log to = log;
    to.cutoff_v = stop_v;
    const auto lasted_s = fit::measured_duration_s(log, stop_v);
    const double end_s = lasted_s.value_or(log.t_s.back() - fit::first_load_s(log));
    if (!lasted_s && stop_v > log.volts.back() + 0.05) return std::nullopt;
    return fit::trace(cell, to, z0).duration_s / end_s - 1.0;
  };
  const auto cell_of = [](const std::optional<double>& off) {
    return off ? fmt::format("{:+6.1f}", 100.0 * *off) : std::string("      ");
  };
  std::optional<double> off;
  std::optional<double> off_device;
  std::optional<double> off_rated;
  if (one.stop_v > 0.0) {
    off = off_at(one.stop_v);
    off_device = off_at(kDeviceCutoff_v);
    off_rated = set.label_ah * set.nominal_v * 3600.0 / measured_j - 1.0;
  }
  std::string verdict = "shown";
  if (one.judged) {
    const bool volts_met = rms_v <= goal.rms_v;
    ++tally.volts;
    tally.volts_met += volts_met ? 1 : 0;
    tally.volts_beyond += rms_v > goal.rms_most_v ? 1 : 0;
    bool met = volts_met;
    if (off) {
      const bool length_met = std::fabs(*off) <= goal.duration;
      ++tally.durations;
      tally.durations_met += length_met ? 1 : 0;
      met = met && length_met;
    }
    verdict = met ? "met" : "not met";
  }
  fmt::print("| {} | {:.0f} | {} | {} | {} | {:.0f} | {:.0f} | {:+.1f} | {} | {} |\n", set.name + "/" + one.file,
             one.chamber_c, how, cell_of(off), cell_of(off_device), 1e3 * rms_v, 1e3 * goal.rms_v,
             100.0 * (predicted_j / measured_j - 1.0), cell_of(off_rated), verdict);
  std::fflush(stdout);
}

fit::Log log_of(const Set& set, const Case& one) {
  Case named = one;
  named.file = set.name + "/" + one.file;
  return accuracy::read_log(named);
}

// The fitted cell in the state in which `one` was logged, as far as the other logs of its temperature tell.
cell::CellParams now(const fit::Fitted& fitted, const Case& one) {
  cell::Ageing age = one.known;
  for (const fit::Estimated& number : fitted.numbers) {
    if (one.aged && number.name == accuracy::ageing_name(one)) age.capacity_fraction = number.value;
  }
  return cell::aged(fitted.cell, age);
}

void heading(const char* title) {
  fmt::print("\n{}\n\n", title);
  fmt::print(
      "| file | °C | how | length, % | to 3.3 V, % | RMS, mV | goal | energy, % | Wh ÷ W, % | verdict |\n"
      "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n");
}

void leave_files_out(const Set& set, Tally& tally) {
  for (const Case& out : set.cases) {
    if (out.slow || out.pulse) continue;
    std::vector<Case> rest;
    for (const Case& one : set.cases) {
      if (one.file != out.file) rest.push_back(one);
    }
    const fit::Fitted fitted = fit::fit(accuracy::problem_of(set, rest));
    const fit::Log log = log_of(set, out);
    predict(set, out, now(fitted, out), log, "file left out", tally);
  }
}

void leave_temperatures_out(const Set& set, Tally& tally) {
  std::vector<double> temperatures;
  for (const Case& one : set.cases) {
    const double rounded = std::round(one.chamber_c / 5.0) * 5.0;
    if (rounded != 25.0 && (temperatures.empty() || temperatures.back() != rounded)) temperatures.push_back(rounded);
  }
  for (const double temperature : temperatures) {
    const auto there = [&](const Case& one) { return std::round(one.chamber_c / 5.0) * 5.0 == temperature; };
    std::vector<Case> rest;
    for (const Case& one : set.cases) {
      if (!there(one)) rest.push_back(one);
    }
    const fit::Fitted fitted = fit::fit(accuracy::problem_of(set, rest, temperature));
    for (const Case& one : set.cases) {
      if (!there(one) || one.pulse) continue;
      const fit::Log log = log_of(set, one);
      // Calibrated by the hardest steady log or the pulse test of the temperature, never by the file itself.
      const Case* by = nullptr;
      for (const Case& other : set.cases) {
        if (there(other) && other.file != one.file && (by == nullptr || other.pulse || other.calibrates)) by = &other;
      }
      if (by == nullptr) {
        predict(set, one, now(fitted, one), log, "temperature left out", tally);
        continue;
      }
      Tally shown;  // uncalibrated, for comparison only
      Case only_shown = one;
      only_shown.judged = false;
      predict(set, only_shown, now(fitted, one), log, "temperature left out", shown);
      fit::Log calibrating = log_of(set, *by);
      calibrating.known = {};
      const fit::Health health = fit::health(fitted.cell, {calibrating});
      predict(set, one, health.fitted.cell, log,
              fmt::format("… health from {}: {:.3f}, {:.2f}", by->file, health.age.capacity_fraction,
                          health.age.resistance_factor),
              tally);
    }
  }
}

int print_sets() {
  for (const Set& set : accuracy::sets()) {
    const fit::Problem problem = accuracy::problem_of(set, set.cases);
    const fit::Fitted all = fit::fit(problem);
    fmt::print("{}: {} rounds\n", set.name, all.rounds);
    for (const auto& e : all.numbers)
      fmt::print("  {:36s} {:10.4g} +- {:8.2g}  {:.2f}\n", e.name, e.value, e.plus_minus, e.share_of_prior);
    for (const auto& log : all.logs)
      fmt::print("  {:28s} {:6.1f} mV  {:+.2f} %\n", log.name, 1e3 * log.rms_v, 100.0 * log.duration_off.value_or(0.0));
    for (const fit::PulseResistance& pulse : set.resistances) {
      fmt::print("  {:.1f} charge, {:3.0f} °C: {:5.1f} mΩ, {:+.1f} % off the table\n", pulse.charge,
                 pulse.temperature_k - kZeroCelsiusK, 1e3 * fit::resistance_of(all.cell, pulse),
                 100.0 * (fit::resistance_of(all.cell, pulse) / pulse.ohm - 1.0));
    }
    app::FitAnswer answer;
    answer.started_from = set.catalogue_id;
    answer.kind.id = set.catalogue_id;
    answer.fitted = all;
    fmt::print("{}", app::params_json(answer));
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc > 1 && std::strcmp(argv[1], "--sets") == 0) return print_sets();
  if (!std::filesystem::exists(accuracy::data_folder())) {
    fmt::print(stderr, "skipped: no measured data in {} (set TILLWRAP_DATA)\n", accuracy::data_folder().string());
    return 2;
  }
  Tally files;
  heading("Leave one file out");
  for (const Set& set : accuracy::sets()) leave_files_out(set, files);
  Tally temperatures;
  heading("Leave one temperature out");
  for (const Set& set : accuracy::sets()) leave_temperatures_out(set, temperatures);
  fmt::print("\n");
  for (const auto& [name, t] : {std::pair{"files", &files}, std::pair{"temperatures", &temperatures}}) {
    fmt::print(
        "{} left out: length within its goal {} of {}; RMS within its goal {} of {} (80 % wanted), {} beyond the most "
        "allowed\n",
        name, t->durations_met, t->durations, t->volts_met, t->volts, t->volts_beyond);
  }
}
