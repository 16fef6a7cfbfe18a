#include "app/fit_log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/csv_log.hpp"
#include "app/fit_columns.hpp"
#include "app/words.hpp"
#include "decode/node.hpp"
#include "fit/trace.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kLeastRows = 10;
constexpr std::size_t kMostRows = 40000;  // longer logs are thinned by means of equal runs of rows
constexpr double kLeastCharge = 0.01;     // of the capacity: a log that takes less tells nothing
constexpr double kMostChargeBack = 0.03;  // of the capacity, in one stretch: more is charging, not braking
constexpr double kMostOfCapacity = 1.5;   // that can have been taken
constexpr double kMostRate_c = 200.0;     // no cell carries more times its capacity in an hour; from memory
constexpr double kGap_s = 60.0;           // and kGapSteps usual steps: a longer step under load is a gap
constexpr double kGapSteps = 10.0;
constexpr double kMostGaps = 0.05;  // of the log's length

// Charge that flows the other way: the whole log with its sign turned, or volts that rise while it discharges.
void check_sign(const CsvLog& csv, const std::string& source, const fit::Log& log) {
  const double drawn = *std::max_element(log.amps.begin(), log.amps.end());
  const double charged = -*std::min_element(log.amps.begin(), log.amps.end());
  const std::size_t n = log.amps.size();
  if (!(drawn > 0.0) && !(charged > 0.0)) {
    throw decode::InputError(source, csv.place(0, "current_a"), "no current flows in this log",
                             "log a discharge under load");
  }
  const auto loaded = [&](std::size_t k) { return std::fabs(log.amps[k]) > 0.05 * std::max(drawn, charged); };
  std::size_t first = 0;
  std::size_t last = n - 1;
  while (first < n && !loaded(first)) ++first;
  while (last > first && !loaded(last)) --last;
  const char* turn = "discharge current is positive: turn the sign of the column";
  if (fit::charge_as(log) < 0.0) {
    throw decode::InputError(source, csv.place(first, "current_a"),
                             log.volts[last] < log.volts[first]
                                 ? "the current is negative here while the volts fall: its sign is turned"
                                 : "the cell is being charged in this log",
                             log.volts[last] < log.volts[first] ? turn : "fit discharges only");
  }
  constexpr double kRise_v = 0.15;  // more than a cell recovers at the same current
  if (last > first && log.amps[last] > 0.7 * log.amps[first] && log.volts[last] > log.volts[first] + kRise_v) {
    throw decode::InputError(source, csv.place(first, "current_a"),
                             "the current is positive here while the volts rise: this is a charge",
                             "fit discharges only; discharge current is positive");
  }
}

// A pulse test's own count has to rise, by no more than the cell holds, and its volts fall while current is drawn.
void check_pulse_test(const CsvLog& csv, const std::string& source, const fit::Log& log, const cell::CellParams& cell) {
  const auto ends = std::minmax_element(log.discharged_as.begin(), log.discharged_as.end());
  const double least_as = *ends.first;
  const auto refuse_count = [&](std::size_t row, const std::string& wrong, const std::string& advice) {
    throw decode::InputError(source, csv.place(row, "discharged_ah"), wrong, advice);
  };
  if (!(*ends.second > least_as)) refuse_count(0, "discharged_ah does not move", "write the charge taken so far, Ah");
  double highest_as = log.discharged_as.front();
  for (std::size_t k = 0; k < log.discharged_as.size(); ++k) {
    highest_as = std::max(highest_as, log.discharged_as[k]);
    if (highest_as - log.discharged_as[k] > kMostChargeBack * cell.capacity_as)
      refuse_count(k, "discharged_ah falls here", "write the charge taken so far, not what is left; discharges only");
  }
  const auto beyond = std::find_if(log.discharged_as.begin(), log.discharged_as.end(),
                                   [&](double as) { return as - least_as > kMostOfCapacity * cell.capacity_as; });
  if (beyond != log.discharged_as.end()) {
    refuse_count(static_cast<std::size_t>(beyond - log.discharged_as.begin()),
                 fmt::format("{:.3g} Ah were taken from a cell of {:.3g} Ah", (*beyond - least_as) / 3600.0,
                             cell.capacity_as / 3600.0),
                 "check --capacity-ah, and that the count is in Ah");
  }
  const std::vector<fit::Level> levels = fit::levels(log);
  if (levels.empty())
    throw decode::InputError(source, {1, 1}, "no level of this pulse test has enough rows", "log at least 20 a level");
  double rise = 0.0;  // amps times volts above the rest they begin at
  std::size_t strongest = levels.front().first;
  for (const fit::Level& level : levels) {
    for (std::size_t k = level.first; k < level.last; ++k) {
      rise += log.amps[k] * (log.volts[k] - log.volts[level.first]);
      if (std::fabs(log.amps[k]) > std::fabs(log.amps[strongest])) strongest = k;
    }
  }
  if (rise > 0.0) {
    throw decode::InputError(source, csv.place(strongest, "current_a"),
                             "the volts rise with the current in this pulse test: its sign is turned",
                             "discharge current is positive: turn the sign of the column");
  }
}

std::optional<double> mean_of(const std::vector<double>* values) {
  if (values == nullptr) return std::nullopt;
  double sum = 0.0;
  double count = 0.0;
  for (const double value : *values) {
    if (std::isnan(value)) continue;
    sum += value;
    count += 1.0;
  }
  return count > 0.0 ? std::optional(sum / count) : std::nullopt;
}

}  // namespace

fit::Log read_fit_log(const FitLogFile& file, const FitLogWords& words, const cell::CellParams& cell,
                      std::vector<std::string>& notes) {
  return read_fit_log(read_csv_log(file.text, file.name, &notes), file.name, words, cell, notes);
}

fit::Log read_fit_log(CsvLog csv, const std::string& source, const FitLogWords& words, const cell::CellParams& cell,
                      std::vector<std::string>& notes) {
  std::vector<std::string> required{"time_s", "voltage_v", "current_a"};
  if (words.pulse) required.emplace_back("discharged_ah");
  settle_columns(csv, source, required, notes);
  const std::size_t n = csv.line.size();
  if (n < kLeastRows)
    throw decode::InputError(source, {csv.line.empty() ? 1 : csv.line.back(), 1},
                             fmt::format("{} rows are too few to tell anything", n),
                             fmt::format("log at least {}", kLeastRows));
  fit::Log log{.name = source, .t_s = *csv.column("time_s"), .amps = *csv.column("current_a")};
  const double most_v = cell.ocv.value(1.0) + 0.25;
  for (std::size_t k = 0; k < n; ++k) {
    const double volts = (*csv.column("voltage_v"))[k] / words.cells;
    if (!(volts > 0.2 * cell.cutoff_v) || volts > most_v) {
      throw decode::InputError(
          source, csv.place(k, "voltage_v"),
          fmt::format("{:g} V is no voltage of {}", volts * words.cells,
                      words.cells == 1 ? "one cell of this kind" : fmt::format("{} cells of this kind", words.cells)),
          fmt::format("a cell shows {:.2f} to {:.2f} V: check the chemistry, and give --cells N for N in series",
                      cell.cutoff_v, cell.ocv.value(1.0)));
    }
    log.volts.push_back(volts);
  }
  for (std::size_t k = 0; k < n; ++k) {
    if (std::fabs(log.amps[k]) > kMostRate_c * cell.capacity_as / 3600.0) {
      throw decode::InputError(
          source, csv.place(k, "current_a"),
          fmt::format("{:g} A is no current of a cell of {:.3g} Ah", log.amps[k], cell.capacity_as / 3600.0),
          "check that the current is in amps; give --capacity-ah for a cell of another size");
    }
  }
  if (!words.pulse) check_sign(csv, source, log);
  const double drawn = *std::max_element(log.amps.begin(), log.amps.end());
  const std::vector<double>* surface = csv.column("surface_c");
  if (surface != nullptr && std::isnan(surface->front())) surface = nullptr;
  if (words.ambient_k) {
    log.ambient_k = *words.ambient_k;
  } else if (const auto air_c = mean_of(csv.column("ambient_c"))) {
    log.ambient_k = celsius(*air_c).si;
  } else if (surface != nullptr) {
    log.ambient_k = celsius(surface->front()).si;
    notes.push_back(source + ": air taken as the first surface reading, " + celsius_words(log.ambient_k));
  } else {
    log.ambient_k = celsius(25.0).si;
    notes.push_back(source + ": no temperature in the log and no --ambient: 25 °C taken");
  }
  log.start_k = surface != nullptr ? celsius(surface->front()).si : log.ambient_k;
  for (const double k : {log.ambient_k, log.start_k}) {
    if (k < 213.15 || k > 353.15)
      throw decode::InputError(source, csv.place(0, surface != nullptr ? "surface_c" : "ambient_c"),
                               "a temperature outside −60 to 80 °C", "write degrees Celsius");
  }
  if (words.pulse) {
    for (const double ah : *csv.column("discharged_ah")) log.discharged_as.push_back(3600.0 * ah);
    if (surface != nullptr) {
      for (const double c : *surface) log.surface_k.push_back(celsius(std::isnan(c) ? surface->front() : c).si);
    }
    check_pulse_test(csv, source, log, cell);
    return log;
  }
  // Gaps: a step far longer than the log's usual one while current flows on both sides.
  std::vector<double> steps;
  for (std::size_t k = 1; k < n; ++k) steps.push_back(log.t_s[k] - log.t_s[k - 1]);
  std::vector<double> sorted = steps;
  std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2), sorted.end());
  const double long_s = std::max(kGap_s, kGapSteps * sorted[sorted.size() / 2]);
  double gaps_s = 0.0;
  std::size_t gaps = 0;
  for (std::size_t k = 1; k < n; ++k) {
    if (steps[k - 1] <= long_s || (log.amps[k] < 0.02 * drawn && log.amps[k - 1] < 0.02 * drawn)) continue;
    gaps_s += steps[k - 1];
    ++gaps;
    if (gaps_s > kMostGaps * (log.t_s.back() - log.t_s.front())) {
      throw decode::InputError(
          source, csv.place(k, "time_s"),
          "a gap of " + length_words(steps[k - 1]) + " under load: the charge taken in it is unknown",
          "cut the log there, or give it as --pulse with a column discharged_ah");
    }
  }
  if (gaps > 0) {
    notes.push_back(fmt::format("{}: {} of {} in all crossed with the current straight between its ends", source,
                                gaps == 1 ? "one gap" : fmt::format("{} gaps", gaps), length_words(gaps_s)));
  }
  double back_as = 0.0;
  for (std::size_t k = 1; k < n; ++k) {
    const double mean_a = 0.5 * (log.amps[k] + log.amps[k - 1]);
    back_as = mean_a < 0.0 ? back_as - mean_a * steps[k - 1] : 0.0;
    if (back_as > kMostChargeBack * cell.capacity_as && back_as > kMostChargeBack * std::fabs(fit::charge_as(log))) {
      throw decode::InputError(source, csv.place(k, "current_a"), "the cell is being charged here",
                               "fit discharges only: cut the log before the charge; discharge current is positive");
    }
  }
  if (n > kMostRows) {
    log = fit::thinned(std::move(log), kMostRows);
    notes.push_back(fmt::format("{}: {} rows thinned to {} by means of equal runs", source, n, log.t_s.size()));
  }
  return log;
}

namespace {

// Refuses a log that begins with an empty cell: of other cells, or of fewer in series than was said.
void need_charge(const fit::Log& log, double charge, double volts, const char* when) {
  constexpr double kNothingLeft = 0.1;  // no volts are compared below
  if (charge >= kNothingLeft) return;
  throw decode::InputError(
      log.name, {1, 1},
      fmt::format("it begins at {:.2f} V a cell {}, which is an empty cell of this kind", volts, when),
      "check what the log is of, and the number of cells in series");
}

}  // namespace

void settle_fit_log(fit::Log& log, const cell::CellParams& cell, std::vector<std::string>& notes) {
  if (!log.discharged_as.empty()) return;
  const double drawn_as = fit::charge_as(log);
  if (drawn_as < kLeastCharge * cell.capacity_as) {
    throw decode::InputError(
        log.name, {1, 1},
        fmt::format("too short to tell anything: it takes {:.1f} % of the charge", 100.0 * drawn_as / cell.capacity_as),
        "log at least a few per cent; if the cell is of another size, give --capacity-ah");
  }
  if (drawn_as > kMostOfCapacity * cell.capacity_as) {
    throw decode::InputError(
        log.name, {1, 1},
        fmt::format("{:.3g} Ah were taken from a cell of {:.3g} Ah", drawn_as / 3600.0, cell.capacity_as / 3600.0),
        "check --capacity-ah, and that the current is in amps and the time in seconds");
  }
  // The start: rested volts where the log shows them, else the loaded volts of a full cell or what they say.
  const double most_a = *std::max_element(log.amps.begin(), log.amps.end());
  std::size_t rest = 0;
  while (rest < log.t_s.size() && std::fabs(log.amps[rest]) < 0.01 * most_a) ++rest;
  const double full_v = cell.ocv.value(1.0);
  constexpr double kFullWithin_v = 0.03;
  if (rest > 0) {
    if (log.volts[rest - 1] < full_v - kFullWithin_v) {
      log.rested_v = log.volts[rest - 1];
      const double charge = fit::start_charge(cell, log);
      need_charge(log, charge, log.volts[rest - 1], "at rest");
      notes.push_back(fmt::format("{}: starts at {:.0f} % by its rested volts", log.name, 100.0 * charge));
    } else {
      log.start_charge = 1.0;
    }
  } else {
    // The load came on at most one step of the log before its first row, and the charge transfer followed meanwhile.
    constexpr double kLongestLead_s = 120.0;
    const double step_s = std::min(log.t_s[1] - log.t_s[0], kLongestLead_s);
    const auto loaded_v = [&](double z, double for_s) {
      const cell::CellRates rates = cell::rates_at(cell, log.start_k);
      cell::CellState state;
      state.charge = z;
      state.temperature_k = log.start_k;
      state = cell::advance(cell, rates, state, for_s, log.amps.front(), log.amps.front());
      return cell::evaluate(cell, rates, state, log.amps.front()).volts;
    };
    // The argument from `low` to `high` at which rising volts are those of the first row; the nearer end beyond them.
    const auto where_seen = [&](double low, double high, auto&& volts_at) {
      for (int k = 0; k < 40; ++k) {
        const double middle = 0.5 * (low + high);
        (volts_at(middle) < log.volts.front() ? low : high) = middle;
      }
      return high;
    };
    constexpr double kNearFull_v = 0.15;  // a full cell of this kind may show as much less under load
    if (log.volts.front() > loaded_v(1.0, step_s) - kNearFull_v) {
      log.start_charge_sd = 0.006;
      log.lead_in_s = step_s - where_seen(0.0, step_s, [&](double later_s) { return loaded_v(1.0, step_s - later_s); });
      notes.push_back(log.name + ": begins under load; taken as full" +
                      (log.lead_in_s < 1.0 ? "" : " " + length_words(log.lead_in_s) + " before"));
    } else {
      const double high = where_seen(0.0, 1.0, [&](double z) { return loaded_v(z, step_s); });
      need_charge(log, high, log.volts.front(), "under load");
      // How much it shows less than at rest is known to a third.
      const double drop_v = cell.ocv.value(high) - log.volts.front();
      log.start_charge = high;
      log.start_charge_sd = std::clamp(0.3 * drop_v / cell.ocv.at(high).slope, 0.05, 0.25);
      log.lead_in_s = step_s;
      notes.push_back(fmt::format("{}: begins under load and not full, at about {:.0f} %", log.name, 100.0 * high));
    }
  }
  // Steady and run down: its length counts.
  double mean_a = 0.0;
  double squares = 0.0;
  double count = 0.0;
  for (std::size_t k = rest + 1; k + 1 < log.t_s.size(); ++k) {
    mean_a += log.amps[k];
    squares += log.amps[k] * log.amps[k];
    count += 1.0;
  }
  if (count < 2.0) return;
  mean_a /= count;
  const double sd_a = std::sqrt(std::max(0.0, squares / count - mean_a * mean_a));
  const double end_v = *std::min_element(log.volts.begin() + static_cast<std::ptrdiff_t>(rest), log.volts.end());
  if (sd_a < 0.05 * mean_a && end_v < cell.cutoff_v + 0.3) log.cutoff_v = std::max(end_v, cell.cutoff_v);
}

}  // namespace tillwrap::app
