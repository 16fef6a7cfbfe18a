#include "app/discharge.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "app/words.hpp"
#include "decode/units.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

[[noreturn]] void refuse(const std::string& option, const std::string& wrong, const std::string& advice) {
  throw decode::InputError("command line", {1, 1}, option + ": " + wrong, advice);
}

// "14.5 W" or a bare number in the option's plain unit.
double option_value(const std::string& option, const std::string& text, Dimension dimension,
                    const std::string& plain_unit) {
  try {
    const bool bare = text.find_first_not_of("0123456789.+-eE \xE2\x88\x92") == std::string::npos;
    const double value =
        decode::parse_quantity(bare && !plain_unit.empty() ? text + " " + plain_unit : text, dimension);
    if (!std::isfinite(value)) throw decode::QuantityError("\"" + text + "\" is not finite", "write a number");
    return value;
  } catch (const decode::QuantityError& error) {
    refuse(option, error.what(), error.hint);
  }
}

cell::PackParams source_of(const DischargeWords& words, const catalogue::Catalogue& catalogue, std::string& title) {
  if (int(words.pack.has_value()) + int(words.cell.has_value()) + int(words.params.has_value()) != 1) {
    refuse("discharge", "exactly one of --pack, --cell and --params is needed", "for example --cell nca --current 2.9");
  }
  cell::Ageing age;
  if (words.health) age.capacity_fraction = option_value("--health", *words.health, Dimension::fraction, "");
  if (age.capacity_fraction <= 0.0 || age.capacity_fraction > 1.5)
    refuse("--health", "a health of nothing, or over 150 %", "write 0.86 or \"86 %\"");
  age.resistance_factor = words.resistance_factor
                              ? option_value("--resistance-factor", *words.resistance_factor, Dimension::factor, "")
                              : cell::prior_resistance_factor(age.capacity_fraction);
  if (age.resistance_factor <= 0.0 || age.resistance_factor > 20.0)
    refuse("--resistance-factor", "a factor of nothing, or over 20", "write 1.9");
  if (words.cells < 1 || words.cells > 100)
    refuse("--cells", "a number of cells outside 1 to 100", "write how many are in series");
  if (words.pack) {
    const catalogue::PackKind* kind = catalogue.pack(*words.pack);
    if (kind == nullptr)
      refuse("--pack", "the catalogue has no pack \"" + *words.pack + "\"",
             catalogue::unknown_id_hint(catalogue, "packs", *words.pack));
    if (words.cells != 1)
      refuse("--cells", "a pack has its own number of cells", "use --cells with --cell or --params");
    title = kind->regulator ? kind->title + " (its cells, before the converter)" : kind->title;
    return catalogue::pack_params(*kind, *catalogue.cell(kind->cell), age);
  }
  cell::CellParams cell;
  if (words.cell) {
    const catalogue::CellKind* kind = catalogue.cell(*words.cell);
    if (kind == nullptr)
      refuse("--cell", "the catalogue has no cell \"" + *words.cell + "\"",
             catalogue::unknown_id_hint(catalogue, "cells", *words.cell));
    title = kind->title;
    cell = kind->params;
  } else {
    const catalogue::CellKind kind = catalogue::read_cell(*words.params);
    title = kind.title;
    cell = kind.params;
  }
  if (words.cells > 1) title = fmt::format("{} in series: {}", words.cells, title);
  return forecast::single_cell(cell::aged(cell, age), words.cells);
}

forecast::BenchLoad load_of(const DischargeWords& words, CsvLog& log, std::string& title) {
  using Kind = forecast::BenchLoad::Kind;
  if (int(words.power.has_value()) + int(words.current.has_value()) + int(words.resistance.has_value()) +
          int(words.profile_text.has_value()) !=
      1) {
    refuse("discharge", "exactly one of --power, --current, --resistance and --profile is needed",
           "for example --power 14.5");
  }
  forecast::BenchLoad load;
  if (words.power) {
    load = {.kind = Kind::power, .value = option_value("--power", *words.power, Dimension::power, "W")};
    title = fmt::format("{:g} W", load.value);
  } else if (words.current) {
    load = {.kind = Kind::current, .value = option_value("--current", *words.current, Dimension::current, "A")};
    title = fmt::format("{:g} A", load.value);
  } else if (words.resistance) {
    load = {.kind = Kind::resistance,
            .value = option_value("--resistance", *words.resistance, Dimension::resistance, "ohm")};
    title = fmt::format("{:g} ohm", load.value);
  }
  if (!words.profile_text) {
    const char* option = words.power ? "--power" : words.current ? "--current" : "--resistance";
    if (!(load.value > 0.0) || load.value > 1e5)
      refuse(option, "a load of nothing, negative, or beyond 100,000", "write a positive number");
    if (words.repeat) refuse("--repeat", "only a profile can repeat", "use it with --profile");
    if (words.duty) {
      try {
        const decode::Duty duty = decode::parse_duty(*words.duty);
        load.duty.push_back({.on_s = duty.on_s, .period_s = duty.period_s});
        title += fmt::format(", {} in every {}", length_words(duty.on_s), length_words(duty.period_s));
      } catch (const decode::QuantityError& error) {
        refuse("--duty", error.what(), error.hint);
      }
    }
    return load;
  }
  if (words.duty) refuse("--duty", "a profile has its own on and off", "leave --duty out");
  log = read_csv_log(*words.profile_text, *words.profile_name);
  const bool by_current = log.column("current_a") != nullptr;
  const bool by_power = log.column("power_w") != nullptr;
  if (!by_current && !by_power) {
    std::string have;
    for (const std::string& name : log.names) have += (have.empty() ? "" : ", ") + shown(name);
    throw decode::InputError(*words.profile_name, {1, 1}, "a profile needs a column current_a or power_w",
                             "name it so in the header, without a unit of its own; columns here: " + have);
  }
  if (by_current && by_power) {
    throw decode::InputError(*words.profile_name, {1, 1}, "a profile with both current_a and power_w",
                             "keep the one to follow");
  }
  require_complete(log, *words.profile_name, {"time_s", by_power ? "power_w" : "current_a"});
  if (log.line.size() < 2)
    throw decode::InputError(*words.profile_name, {2, 1}, "a profile of one row", "write at least two");
  load.kind = by_power ? Kind::power_profile : Kind::current_profile;
  load.profile_t_s = *log.column("time_s");
  load.profile_value = *log.column(by_power ? "power_w" : "current_a");
  if (log.column("voltage_v") != nullptr) {
    require_complete(log, *words.profile_name, {"voltage_v"});
    load.measured_v = *log.column("voltage_v");
  }
  load.repeat = words.repeat;
  title = "profile " + *words.profile_name;
  return load;
}

std::string tenths_celsius(double temperature_k) {
  const double tenths = std::round(10.0 * (temperature_k - kZeroCelsiusK));
  return fmt::format("{}{:.1f} °C", tenths < 0.0 ? "\u2212" : "", std::fabs(tenths) / 10.0);
}

double mean_of(const std::vector<double>& values) {
  double sum = 0.0;
  double count = 0.0;
  for (const double value : values) {
    if (std::isnan(value)) continue;
    sum += value;
    count += 1.0;
  }
  return count > 0.0 ? sum / count : std::nan("");
}

}  // namespace

Discharge run_discharge(const DischargeWords& words, const catalogue::Catalogue& catalogue) {
  Discharge run;
  CsvLog log;
  run.pack = source_of(words, catalogue, run.source);
  const forecast::BenchLoad load = load_of(words, log, run.load);
  run.start.ambient_k = celsius(25.0).si;
  if (const auto* column = log.column("ambient_c"); column != nullptr && !std::isnan(mean_of(*column)))
    run.start.ambient_k = celsius(mean_of(*column)).si;
  if (words.ambient) run.start.ambient_k = option_value("--ambient", *words.ambient, Dimension::temperature, "°C");
  if (run.start.ambient_k < 213.15 || run.start.ambient_k > 353.15)
    refuse("--ambient", "air outside −60 to 80 °C", "the cell models end there");
  run.start.start_k = run.start.ambient_k;
  if (words.start_from_surface) {
    const auto* column = log.column("surface_c");
    if (column == nullptr || std::isnan(column->front()))
      refuse("--start-from-surface", "the profile has no surface_c in its first row", "give --start-temp");
    run.start.start_k = celsius(column->front()).si;
  }
  if (words.start_temperature)
    run.start.start_k = option_value("--start-temp", *words.start_temperature, Dimension::temperature, "°C");
  if (run.start.start_k < 213.15 || run.start.start_k > 353.15)
    refuse("--start-temp", "a start outside −60 to 80 °C", "the cell models end there");
  if (words.start_charge && words.rested) refuse("--rested", "a start charge and rested volts both given", "keep one");
  if (words.start_charge) {
    run.start.charge = option_value("--start-charge", *words.start_charge, Dimension::fraction, "");
    if (*run.start.charge < 0.0 || *run.start.charge > 1.0)
      refuse("--start-charge", "a charge outside 0 to 1", "write 0.8 or \"80 %\"");
  }
  if (words.rested) {
    run.start.rested_v = option_value("--rested", *words.rested, Dimension::voltage, "V");
    // What the source can show at rest; a little over full for one fresh off its charger.
    const double least_v = run.pack.series * run.pack.cell.ocv.value(0.0);
    const double most_v = 1.03 * run.pack.series * run.pack.cell.ocv.value(1.0);
    if (!(*run.start.rested_v >= least_v && *run.start.rested_v <= most_v)) {
      refuse("--rested", fmt::format("{:g} V is no rested voltage of this source", *run.start.rested_v),
             fmt::format("it rests between {:.2f} and {:.2f} V", least_v, most_v));
    }
  }
  // A pack with electronics of its own ends by them; anything else at the usual end volts of its cells.
  const bool protects_itself =
      words.pack && (run.pack.protection.under_v > 0.0 || run.pack.protection.under_cell_v > 0.0);
  run.limits.stop_v = protects_itself ? 0.0 : run.pack.cell.cutoff_v * run.pack.series;
  if (words.until) run.limits.stop_v = option_value("--until", *words.until, Dimension::voltage, "V");
  if (run.limits.stop_v < 0.0 || run.limits.stop_v > 1000.0)
    refuse("--until", "a limit outside 0 to 1000 V", "write the whole source's volts");
  if (const double full_v = run.pack.series * run.pack.cell.ocv.value(1.0); run.limits.stop_v > full_v)
    refuse("--until", fmt::format("{:g} V is more than this source shows when full", run.limits.stop_v),
           fmt::format("it shows {:.2f} V then; write the volts at which to end", full_v));
  run.result = forecast::bench_run(run.pack, load, run.start, run.limits);
  return run;
}

std::string discharge_text(const Discharge& run) {
  const forecast::BenchResult& r = run.result;
  constexpr std::size_t kWidth = 80;
  std::string how = fmt::format("{} at {}", run.load, celsius_words(run.start.ambient_k));
  if (run.limits.stop_v > 0.0) how += fmt::format(", down to {}", volts_words(run.limits.stop_v));
  std::string text = wrapped(run.source, kWidth, "  ") + "\n" + wrapped(how, kWidth, "  ");
  text += fmt::format("\n\n  lasts          {} ({:.0f} s)\n", length_words(r.duration_s), r.duration_s);
  if (std::fabs(r.on_s - r.duration_s) > 1.0)
    text += fmt::format("  of it loaded   {} ({:.0f} s)\n", length_words(r.on_s), r.on_s);
  text += fmt::format("  delivers       {:.3f} Ah, {:.2f} Wh, mean {:.3f} V\n", r.charge_ah, r.energy_wh, r.mean_v);
  text += fmt::format("  ends           {}\n", forecast::words(r.end_reason));
  text += fmt::format("  warmest        {}\n", tenths_celsius(r.warmest_k));
  if (r.rms_error_v) text += fmt::format("  off by         {:.1f} mV RMS above 10 % charge\n", 1000.0 * *r.rms_error_v);
  text += "\n     time      volts     amps  surface  charge\n";
  const std::size_t rows = 12;
  for (std::size_t i = 0; i < rows && !r.curve.empty(); ++i) {
    const forecast::BenchPoint& p = r.curve[i * (r.curve.size() - 1) / (rows - 1)];
    text += fmt::format("  {:>9}  {:7.3f} V {:6.3f} A {:>8} {:6.1f} %\n", length_words(p.t_s), p.volts, p.current_a,
                        tenths_celsius(p.temperature_k), 100.0 * p.charge);
    if (r.curve.size() < rows && i + 1 >= r.curve.size()) break;
  }
  return text;
}

std::string discharge_json(const Discharge& run) {
  using Json = nlohmann::ordered_json;
  const forecast::BenchResult& r = run.result;
  Json out;
  out["format"] = "tillwrap-discharge-1";
  out["source"] = run.source;
  out["load"] = run.load;
  out["duration_s"] = r.duration_s;
  out["on_s"] = r.on_s;
  out["charge_ah"] = r.charge_ah;
  out["energy_wh"] = r.energy_wh;
  out["mean_v"] = r.mean_v;
  out["end_reason"] = forecast::words(r.end_reason);
  out["rms_error_v"] = r.rms_error_v ? Json(*r.rms_error_v) : Json(nullptr);
  out["warmest_c"] = r.warmest_k - kZeroCelsiusK;
  out["open_circuit_wh"] = r.open_circuit_wh;
  out["heat_wh"] = r.heat_wh;
  Json curve;
  for (const char* name : {"t_s", "v", "i_a", "surface_c", "charge"}) curve[name] = Json::array();
  for (const forecast::BenchPoint& p : r.curve) {
    curve["t_s"].push_back(p.t_s);
    curve["v"].push_back(p.volts);
    curve["i_a"].push_back(p.current_a);
    curve["surface_c"].push_back(p.temperature_k - kZeroCelsiusK);
    curve["charge"].push_back(p.charge);
  }
  out["curve"] = curve;
  return out.dump() + "\n";
}

}  // namespace tillwrap::app
