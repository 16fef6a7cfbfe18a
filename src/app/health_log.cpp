#include "app/health_log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "app/fit_columns.hpp"
#include "app/words.hpp"
#include "decode/units.hpp"
#include "quantity/maths.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

// What the model itself is good for (docs/model.md: 1C discharges within 0.5 %, unseen ones 3 %).
constexpr double kModelResistanceDoubt = 0.05;
// Of a gauge's learned capacity: right only as far as it was run down and up again; from memory.
constexpr double kGaugeDoubt = 0.08;
// Health outside these is another pack's log, or a wrong size; so is a misfit no cell of the sets shows at rest or
// under the loads they were fitted to (fit::most_misfit_v).
constexpr double kLeastResistance = 0.5, kMostResistance = 8.0;
// Another chemistry is named where its volts lie off by less than this share of what they lie off as this one, and by
// so much less. On the measured runs of three lithium cells (docs/model.md) that questions no right one and misses one
// of eleven.
constexpr double kLikeShare = 0.6, kLikeBy_v = 0.008;
constexpr double kAnyLike = 0.7;  // where the log is not this cell's anyway
constexpr double kGaugeOff = 0.05;
// A result so far from a pack's earlier ones is told before it is believed; common practice, no source.
constexpr double kUnlike = 0.15, kUnlikeSd = 4.0;

[[noreturn]] void refuse(const std::string& wrong, const std::string& advice) {
  throw decode::InputError("command line", {1, 1}, wrong, advice);
}

double typed(const std::string& option, const std::string& text, decode::Dimension dimension, const char* unit) {
  try {
    const bool bare = text.find_first_not_of("0123456789.+-eE \xE2\x88\x92") == std::string::npos;
    return decode::parse_quantity(bare ? text + " " + unit : text, dimension);
  } catch (const decode::QuantityError& error) {
    refuse(option + ": " + error.what(), error.hint);
  }
}

// What the log is of: its cell as new, and how cells make up what was logged.
struct Subject {
  std::string name;
  cell::CellParams cell;
  int series = 1;
  int parallel = 1;
  double electronics_ohm = 0.0;
  double rated_ah = 0.0;    // of the whole
  double cell_end_v = 0.0;  // where one cell ends the pack
  bool as_measured = false;
};

Subject subject_of(const HealthWords& words, const catalogue::Catalogue& catalogue) {
  const int said = (words.kind ? 1 : 0) + (words.chemistry ? 1 : 0) + (words.params ? 1 : 0);
  if (said == 0)
    refuse("of what pack is this log?", "give --pack LABEL, --kind PACK-KIND, --chemistry NAME or --params FILE");
  if (said > 1) refuse("--kind, --chemistry, --params: more than one of them", "say once what the log is of");
  Subject out;
  if (words.kind) {
    const catalogue::PackKind* kind = catalogue.pack(*words.kind);
    if (kind == nullptr)
      refuse("--kind: the catalogue has no pack \"" + words.kind->substr(0, 60) + "\"",
             catalogue::unknown_id_hint(catalogue, "packs", *words.kind));
    if (kind->regulator)
      refuse("--kind " + kind->id + ": its output volts tell nothing about its cells", "log the cells themselves");
    const cell::PackParams pack = catalogue::pack_params(*kind, *catalogue.cell(kind->cell));
    out = {.name = kind->id,
           .cell = pack.cell,
           .series = pack.series,
           .parallel = pack.parallel,
           .electronics_ohm = pack.electronics_ohm,
           .rated_ah = kind->rated_ah,
           .cell_end_v = pack.protection.under_cell_v > 0.0 ? pack.protection.under_cell_v : pack.cell.cutoff_v};
    // A cell warms and cools as its share of the pack.
    const double cells = pack.series * pack.parallel;
    out.cell.heat_capacity_j_k = pack.heat_capacity_j_k / cells;
    out.cell.cooling_w_k = pack.cooling_w_k / cells;
    if (words.cells) refuse("--cells with a pack's kind", "the kind says how many cells it has");
    if (words.capacity_ah) refuse("--capacity-ah with a pack's kind", "the kind says its capacity");
    return out;
  }
  if (words.params) {
    const catalogue::CellKind cell = catalogue::read_cell(*words.params);
    out = {.name = cell.id, .cell = cell.params, .as_measured = true};
    if (words.capacity_ah) refuse("--capacity-ah with --params", "the parameter file says its capacity");
  } else {
    const catalogue::CellKind* cell = catalogue.cell(*words.chemistry);
    if (cell == nullptr)
      refuse("--chemistry: the catalogue has no cell \"" + words.chemistry->substr(0, 60) + "\"",
             catalogue::unknown_id_hint(catalogue, "cells", *words.chemistry));
    out = {.name = cell->id, .cell = cell->params};
    if (words.capacity_ah) {
      const double as = typed("--capacity-ah", *words.capacity_ah, decode::Dimension::charge, "Ah");
      if (!(as >= 36.0 && as <= 3.6e6)) refuse("--capacity-ah: outside 0.01 to 1000 Ah", "write 2.9");
      out.cell = cell::scaled_to(out.cell, as / 3600.0);
    }
  }
  out.series = words.cells.value_or(1);
  if (out.series < 1 || out.series > 100) refuse("--cells: outside 1 to 100", "write how many are in series");
  out.rated_ah = out.cell.rated_ah;
  out.cell_end_v = out.cell.cutoff_v;
  return out;
}

// Volts and amps of the log as one cell's.
void per_cell(fit::Log& log, const Subject& of) {
  for (std::size_t k = 0; k < log.volts.size(); ++k) {
    log.volts[k] += log.amps[k] * of.electronics_ohm / of.series;  // the log has them divided by the series already
    log.amps[k] /= of.parallel;
  }
}

double together(double a, double b, double c) { return std::sqrt(a * a + b * b + c * c); }

const fit::Estimated& number(const fit::Fitted& fitted, std::string_view name) {
  return *std::find_if(fitted.numbers.begin(), fitted.numbers.end(), [&](const auto& one) { return one.name == name; });
}

GaugeCheck gauge_check(const Registers& registers, double rated_ah, std::vector<std::string>& notes) {
  GaugeCheck out{.registers = registers};
  constexpr double kOtherDesign = 0.15;
  if (registers.design_ah && std::fabs(*registers.design_ah / rated_ah - 1.0) > kOtherDesign) {
    notes.push_back(fmt::format(
        "its design capacity (0x18) is {:.3g} Ah where the label of this kind says {:.3g} Ah: another pack, or "
        "an export in 10 mWh",
        *registers.design_ah, rated_ah));
  }
  const double design = registers.design_ah.value_or(0.0) > 0.0 ? *registers.design_ah : rated_ah;
  if (registers.full_ah) out.claims = *registers.full_ah / design;
  return out;
}

HealthAnswer by_gauge_alone(const GaugeCheck& gauge, const std::string& source, HealthAnswer out) {
  if (!gauge.claims)
    throw decode::InputError(source, {1, 1},
                             "neither a log (time, 0x09, 0x0A) nor a capacity (0x10) is in these registers",
                             "export 0x09 Voltage and 0x0A Current over a discharge, and 0x10 FullChargeCapacity");
  if (!(*gauge.claims >= kLeastCapacity / 2.0 && *gauge.claims <= 1.5))
    throw decode::InputError(
        source, {1, 1},
        fmt::format("a full-charge capacity of {} of the design's is no pack's", percent_words(*gauge.claims)),
        "check 0x10 and 0x18, both in mAh");
  out.by = HealthAnswer::By::gauge_alone;
  out.capacity = factor_band(*gauge.claims, kGaugeDoubt);
  out.resistance = factor_band(cell::prior_resistance_factor(std::min(1.0, *gauge.claims)), kKindResistanceDoubt);
  out.resistance_told = false;
  out.notes.push_back("by the pack's own gauge alone: it may be wrong; log a discharge to know");
  out.gauge = gauge;
  return out;
}

// A day's amps and what a gauge or a meter showed, without volts: coulombs over the share they made of the charge.
HealthAnswer by_field_day(CsvLog& csv, const std::string& source, double rated_ah, HealthAnswer out) {
  settle_columns(csv, source, {"time_s", "current_a", kLeftColumn}, out.notes);
  const std::vector<double>& t_s = *csv.column("time_s");
  const std::vector<double>& amps = *csv.column("current_a");
  const std::vector<double>& left = *csv.column(kLeftColumn);
  for (std::size_t k = 0; k < left.size(); ++k) {
    if (left[k] >= 0.0 && left[k] <= 100.0) continue;
    throw decode::InputError(source, csv.place(k, kLeftColumn), "a charge left outside 0 to 100 %",
                             "the column is what the gauge or the meter showed, in per cent");
  }
  double drawn_as = 0.0;
  for (std::size_t k = 1; k < t_s.size(); ++k) drawn_as += 0.5 * (amps[k] + amps[k - 1]) * (t_s[k] - t_s[k - 1]);
  const double depth = 0.01 * (left.front() - left.back());
  if (depth < kLeastDepth)
    throw decode::InputError(source, csv.place(left.size() - 1, kLeftColumn),
                             fmt::format("it draws {:.0f} % of the charge by what was shown: too little to tell its "
                                         "capacity by",
                                         100.0 * depth),
                             fmt::format("at least {:.0f} % from first to last", 100.0 * kLeastDepth));
  out.by = HealthAnswer::By::field_day;
  out.drawn_ah = drawn_as / 3600.0;
  out.covers = depth;
  const double capacity = out.drawn_ah / depth / rated_ah;
  if (!(capacity > 0.0)) {
    throw decode::InputError(source, csv.place(0, "current_a"),
                             "nothing flows out of the pack while what is left falls", "discharge current is positive");
  }
  out.capacity = factor_band(capacity, std::max(field_day_sd(depth), kFieldSd));
  out.resistance = factor_band(cell::prior_resistance_factor(std::min(1.0, capacity)), kKindResistanceDoubt);
  out.resistance_told = false;
  out.plausible = capacity >= kLeastCapacity && capacity <= kMostCapacity;
  if (!out.plausible)
    out.why_not = fmt::format("by {:.3g} Ah over {:.0f} % it would hold {:.0f} % of its label", out.drawn_ah,
                              100.0 * depth, 100.0 * capacity);
  out.notes.push_back(
      "by what was shown, without volts: a gauge that counts charge repeats what it has learned, and a meter is worth "
      "its profile; log volts to know");
  return out;
}

bool possible(double capacity, double resistance) {
  return capacity >= kLeastCapacity && capacity <= kMostCapacity && resistance >= kLeastResistance &&
         resistance <= kMostResistance;
}

// A fit's factors as bands. Volts off by the model's usual error are in the fit; more than that makes its numbers so
// much less sure.
struct Bands {
  health::Band capacity, resistance;
};
Bands bands_of(const fit::Fitted& fitted, double sigma_v, bool as_measured) {
  const fit::Estimated& capacity = number(fitted, "capacity_fraction");
  const fit::Estimated& resistance = number(fitted, "resistance_factor");
  const double misfit = std::max(1.0, fitted.logs.front().rms_v / sigma_v);
  return {factor_band(capacity.value, together(misfit * capacity.plus_minus / capacity.value, kModelCapacityDoubt,
                                               as_measured ? 0.0 : kKindCapacityDoubt)),
          factor_band(resistance.value, together(misfit * resistance.plus_minus / resistance.value,
                                                 kModelResistanceDoubt, as_measured ? 0.0 : kKindResistanceDoubt))};
}

// Cells of the other chemistries that could be what was logged, the best fit first.
std::vector<OtherCells> other_cells(const HealthWords& words, const Subject& of, const catalogue::Catalogue& catalogue,
                                    const CsvLog& csv) {
  std::vector<OtherCells> out;
  for (const catalogue::CellKind& other : catalogue.cells) {
    if (other.params.chemistry == of.cell.chemistry) continue;
    try {
      std::vector<std::string> unsaid;
      const cell::CellParams cell = cell::scaled_to(other.params, of.cell.rated_ah);
      fit::Log log = read_fit_log(csv, words.log.name, {.cells = of.series, .ambient_k = {}}, cell, unsaid);
      per_cell(log, of);
      settle_fit_log(log, cell, unsaid);
      const double sigma_v = log.sigma_v;
      const fit::Health health = fit::health(cell, {std::move(log)});
      if (!possible(health.age.capacity_fraction, health.age.resistance_factor)) continue;
      const Bands bands = bands_of(health.fitted, sigma_v, false);
      out.push_back({other.id, health.fitted.logs.front().rms_v, bands.capacity, bands.resistance});
    } catch (const decode::InputError&) {
      continue;  // volts this chemistry never shows
    }
  }
  sort_stably(out, [](const auto& a, const auto& b) { return a.rms_v < b.rms_v; });
  return out;
}

}  // namespace

void compare_with_history(HealthAnswer& log, const PackHistory& before) {
  if (!log.plausible || !log.capacity_told || before.tests == 0) return;
  const double sd = std::hypot(log.capacity.high - log.capacity.low, before.capacity.high - before.capacity.low) /
                    (2.0 * health::kBand);
  const double off = std::fabs(log.capacity.middle - before.capacity.middle);
  if (off < kUnlike || off < kUnlikeSd * sd) return;
  log.plausible = false;
  log.why_not = fmt::format(
      "it says {:.0f} % where {} so far {} {:.0f} %: another pack's log, or this pack failed at once",
      100.0 * log.capacity.middle, before.tests == 1 ? "its one test" : fmt::format("its {} tests", before.tests),
      before.tests == 1 ? "says" : "say", 100.0 * before.capacity.middle);
}

HealthReport health_report(std::optional<HealthAnswer>& log, const DayHealth* day, const journal::PackState* pack,
                           const journal::State& state, std::int64_t log_us, std::int64_t now_us,
                           journal::PackState& with_log, const catalogue::Catalogue& catalogue) {
  HealthReport out{.day = day, .now_us = now_us};
  if (pack != nullptr) {
    if (log) compare_with_history(*log, pack_history(*pack, catalogue, now_us));
    with_log = *pack;
    if (log && log->plausible && log->capacity_told) {
      journal::Test test = log_as_test(*log, log_us);
      if (!log->as_well.empty()) {
        const health::Band capacity = least_capacity(*log), resistance = most_resistance(*log);
        with_log.tests.push_back({.at_us = log_us,
                                  .capacity = capacity.middle,
                                  .resistance = resistance.middle,
                                  .capacity_sd = sd_of(capacity),
                                  .resistance_sd = sd_of(resistance)});
        out.unkind = pack_history(with_log, catalogue, now_us);
        with_log.tests.pop_back();
      }
      with_log.tests.push_back(std::move(test));
    }
    if (const auto test = day != nullptr ? day_as_test(*day, pack->label) : std::nullopt) {
      std::erase_if(with_log.tests, [&](const journal::Test& one) { return one.day == test->day; });
      with_log.tests.push_back(*test);
      journal::count_by_day(with_log, test->day, day->offset_min);
    }
    out.pack = &with_log;
    out.history = pack_history(with_log, catalogue, now_us);
    out.twin = weak_twin(state, with_log, out.history,
                         [&](const journal::PackState& other) { return pack_history(other, catalogue, now_us); });
  }
  out.log = log ? &*log : nullptr;
  return out;
}

health::Band least_capacity(const HealthAnswer& log) {
  health::Band least = log.capacity;
  for (const OtherCells& other : log.as_well) {
    if (other.capacity.middle < least.middle) least = other.capacity;
  }
  return least;
}

health::Band most_resistance(const HealthAnswer& log) {
  health::Band most = log.resistance;
  for (const OtherCells& other : log.as_well) {
    if (other.resistance.middle > most.middle) most = other.resistance;
  }
  return most;
}

journal::Test log_as_test(const HealthAnswer& log, std::int64_t at_us) {
  // Standard deviation of all it may be, each as likely, around what it was told to be.
  const auto wide = [&](const health::Band& own, health::Band OtherCells::*of) {
    double square = 0.0;
    for (const OtherCells& other : log.as_well) {
      const double off = (other.*of).middle - own.middle;
      square += off * off / static_cast<double>(log.as_well.size() + 1);
    }
    return std::sqrt(sd_of(own) * sd_of(own) + square);
  };
  return {.at_us = at_us,
          .capacity = log.capacity.middle,
          .resistance = log.resistance.middle,
          .capacity_sd = wide(log.capacity, &OtherCells::capacity),
          .resistance_sd = wide(log.resistance, &OtherCells::resistance),
          .log = log.log.substr(log.log.find_last_of('/') + 1)};
}

HealthAnswer health_of_log(const HealthWords& words, const catalogue::Catalogue& catalogue) {
  const Subject of = subject_of(words, catalogue);
  HealthAnswer out{.log = words.log.name, .of = of.name, .series = of.series};
  CsvLog csv = read_csv_log(words.log.text, words.log.name, &out.notes);
  std::optional<GaugeCheck> gauge;
  if (are_registers(csv)) {
    gauge = gauge_check(read_registers(csv, words.log.name, out.notes), of.rated_ah, out.notes);
    if (!gauge->registers.has_log) {
      if (!settle_cell_columns(csv, words.log.name, out.notes).empty())
        out.notes.push_back("cells read once tell their balance, not what each holds: log a discharge");
    }
    if (!gauge->registers.has_log) return by_gauge_alone(*gauge, words.log.name, std::move(out));
  }
  if (!has_column(csv, "voltage_v") && has_column(csv, kLeftColumn))
    return by_field_day(csv, words.log.name, of.rated_ah, std::move(out));
  FitLogWords how{.cells = of.series, .ambient_k = {}};
  if (words.ambient) {
    how.ambient_k = typed("--ambient", *words.ambient, decode::Dimension::temperature, "°C");
    if (!(*how.ambient_k >= 213.15 && *how.ambient_k <= 353.15))
      refuse("--ambient: air outside −60 to 80 °C", "the cell models end there");
  }
  const std::vector<int> cells = settle_cell_columns(csv, words.log.name, out.notes);
  if (!cells.empty()) check_cell_columns(csv, words.log.name, cells, of.series, out.notes);
  fit::Log log = read_fit_log(csv, words.log.name, how, of.cell, out.notes);
  out.drawn_ah = fit::charge_as(log) / 3600.0;
  per_cell(log, of);
  settle_fit_log(log, of.cell, out.notes);
  if (!cells.empty()) out.cells = cell_check(csv, cells, of.cell, log, of.cell_end_v, of.parallel);
  out.by = log.cutoff_v > 0.0 ? HealthAnswer::By::run_down : HealthAnswer::By::part;
  const double drawn_as = fit::charge_as(log);
  const fit::Health found = fit::health(of.cell, {log});
  out.rms_v = found.fitted.logs.front().rms_v;
  const fit::Estimated& capacity = number(found.fitted, "capacity_fraction");
  const fit::Estimated& resistance = number(found.fitted, "resistance_factor");
  out.capacity_told = capacity.told;
  out.resistance_told = resistance.told;
  out.covers = drawn_as / (of.cell.capacity_as * capacity.value);
  const Bands bands = bands_of(found.fitted, log.sigma_v, of.as_measured);
  out.capacity = bands.capacity;
  out.resistance = bands.resistance;
  if (!capacity.told) out.notes.push_back("the log cannot tell the capacity: draw more of the charge");
  if (!resistance.told) out.notes.push_back("the log cannot tell the resistance: draw a stronger current");
  const double most_misfit_v = fit::most_misfit_v(log);
  out.plausible = possible(capacity.value, resistance.value) && out.rms_v <= most_misfit_v;
  const double below_v = out.plausible ? std::min(kLikeShare * out.rms_v, out.rms_v - kLikeBy_v) : kAnyLike * out.rms_v;
  // The very cell, measured as new, is of its chemistry.
  const std::vector<OtherCells> others =
      of.as_measured ? std::vector<OtherCells>() : other_cells(words, of, catalogue, csv);
  const OtherCells like = !others.empty() && others.front().rms_v < below_v ? others.front() : OtherCells{};
  out.looks_like = like.cell;
  for (const OtherCells& other : others) {
    if (out.plausible && other.cell != like.cell && other.rms_v <= std::max(out.rms_v + kLikeBy_v, log.sigma_v))
      out.as_well.push_back(other);
  }
  if (out.plausible && !like.cell.empty()) {
    out.notes.push_back(
        fmt::format("its volts are rather those of {}, {:.0f} mV a cell off and not {:.0f}: if it has "
                    "such cells, ask again with --chemistry {}",
                    like.cell, 1e3 * like.rms_v, 1e3 * out.rms_v, like.cell));
  }
  if (!out.plausible) {
    out.why_not =
        out.rms_v > most_misfit_v
            ? fmt::format("its volts lie {:.0f} mV a cell off any state of {}", 1e3 * out.rms_v, of.name)
            : fmt::format("as {} it would hold {:.0f} % of a new one's charge, with {:.2f} times its resistance",
                          of.name, 100.0 * capacity.value, resistance.value);
    if (!like.cell.empty()) out.why_not += "; it looks more like " + like.cell;
  }
  if (gauge) {
    gauge->flowed_ah = out.drawn_ah;
    const Registers& r = gauge->registers;
    if (r.first_remaining_ah && r.last_remaining_ah) {
      gauge->counted_ah = *r.first_remaining_ah - *r.last_remaining_ah;
    } else if (r.first_fraction && r.last_fraction && r.full_ah) {
      gauge->counted_ah = (*r.first_fraction - *r.last_fraction) * *r.full_ah;
    }
    if (gauge->counted_ah)
      gauge->wrong_count =
          std::fabs(*gauge->counted_ah - out.drawn_ah) > kGaugeOff * std::max(out.drawn_ah, 0.1 * of.rated_ah);
    if (gauge->claims && out.capacity_told)
      gauge->wrong_capacity = (*gauge->claims < out.capacity.low || *gauge->claims > out.capacity.high) &&
                              std::fabs(*gauge->claims / out.capacity.middle - 1.0) > kGaugeOff;
    out.gauge = gauge;
  }
  return out;
}

}  // namespace tillwrap::app
