// The command line: reads files, calls the use cases, prints. Exit 0: done, the day reaches wrap; 1: it does not;
// 2: bad input, one line on standard error says where and what to do.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <string>

#include "app/day_file.hpp"
#include "app/discharge.hpp"
#include "app/forecast_report.hpp"
#include "app/measured.hpp"
#include "app/starter.hpp"
#include "app/strip_svg.hpp"
#include "catalogue/explain.hpp"
#include "cli/files.hpp"

namespace {

using namespace tillwrap;

constexpr std::size_t kMostProfileBytes = 256U * 1024 * 1024;

int print(const std::string& text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0) {
    std::fputs("tillwrap: the output could not be written\n", stderr);
    return 2;
  }
  return 0;
}

bool ends_with(const std::string& text, const std::string& end) {
  return text.size() >= end.size() && text.compare(text.size() - end.size(), end.size(), end) == 0;
}

decode::Document read_document(const std::string& path) {
  const std::string text = cli::read_file(path, decode::kMaxTextBytes);
  return ends_with(path, ".json") ? decode::read_json(text, path) : decode::read_toml(text, path);
}

int forecast_command(const std::string& path, bool json, const std::string& csv, const std::string& svg,
                     double step_s) {
  const decode::Document document = read_document(path);
  app::DayFile file = app::read_day(document, catalogue::builtin());
  const std::vector<app::MeasuredOutcome> measured = app::apply_measured(file);
  forecast::ForecastOptions options;
  options.trace = !csv.empty() || !svg.empty();
  if (options.trace) options.longest_step_s = step_s;
  const forecast::Forecast answer = forecast::forecast(file.scenario, options);
  const app::ForecastReport report{.file = &file, .forecast = &answer, .measured = &measured};
  if (!csv.empty()) cli::write_file(csv, app::forecast_csv(report));
  if (!svg.empty()) cli::write_file(svg, app::strip_svg(report));
  if (print(json ? app::forecast_json(report) : app::forecast_text(report)) != 0) return 2;
  return answer.reaches_wrap ? 0 : 1;
}

int check_command(const std::string& path) {
  const decode::Document document = read_document(path);
  app::DayFile file = app::read_day(document, catalogue::builtin());
  app::apply_measured(file);
  std::string text = path + ": ";
  const day::Scenario& day = file.scenario;
  text += std::to_string(day.packs.size()) + " packs, " + std::to_string(day.holders.size()) + " holders, " + std::to_string(day.devices.size()) + " devices, " +
          std::to_string(day.periods.size()) + " periods: no errors, " + std::to_string(file.warnings.size()) + (file.warnings.size() == 1 ? " warning\n" : " warnings\n");
  for (const app::Warning& warning : file.warnings) {
    text += path + ":" + std::to_string(warning.place.line) + ":" + std::to_string(warning.place.column) + ": warning: " + warning.text + "\n";
  }
  return print(text);
}

int catalogue_command(const std::string& what, bool json) {
  const catalogue::Catalogue& known = catalogue::builtin();
  const auto text = json ? catalogue::explain_json(known, what) : catalogue::explain(known, what);
  if (!text) {
    std::fprintf(stderr, "%s\n", catalogue::unknown_words(known, what).c_str());
    return 2;
  }
  return print(*text);
}

int init_command(const std::string& path) {
  if (cli::exists(path)) throw decode::InputError(path, {1, 1}, "this file exists already", "name another; nothing was changed");
  cli::write_file(path, app::starter_day());
  return print("wrote " + path + "\nedit it, then: tillwrap forecast " + path + "\n");
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App program{"tillwrap: will the power of a portable sound kit last till wrap?"};
  program.require_subcommand(1);
  program.set_version_flag("--version", "tillwrap 0.1.0");
  program.footer("Exit codes: 0 the day reaches wrap, 1 it does not, 2 bad input.");
  bool json = false;

  std::string path;
  std::string csv;
  std::string svg;
  double step_s = 60.0;
  CLI::App* forecast = program.add_subcommand("forecast", "compute one day: does it last, what fails first, what if one pack is dead");
  forecast->add_option("DAY", path, "day file, TOML or JSON")->required();
  forecast->add_flag("--json", json, "print JSON (schema/forecast.schema.json)");
  forecast->add_option("--csv", csv, "write the curves to this file");
  forecast->add_option("--svg", svg, "draw the day as a strip into this file");
  forecast->add_option("--step", step_s, "longest step between rows of the curves, seconds")->check(CLI::Range(1.0, 3600.0));

  CLI::App* check = program.add_subcommand("check", "validate a day file: errors and warnings with line and column");
  check->add_option("DAY", path, "day file, TOML or JSON")->required();

  std::string what;
  CLI::App* catalogue = program.add_subcommand("catalogue", "list the generic kinds, or explain one with the source of every number");
  catalogue->add_option("KIND", what, "a list (packs, devices, ...) or one entry's id");
  catalogue->add_flag("--json", json, "print JSON (schema/catalogue.schema.json)");

  std::string starter = "day.toml";
  CLI::App* init = program.add_subcommand("init", "write a commented starter day file");
  init->add_option("FILE", starter, "where to write it")->capture_default_str();

  app::DischargeWords words;
  std::string params_path;
  std::string profile_path;
  CLI::App* discharge = program.add_subcommand("discharge", "discharge one pack or cell on a bench");
  discharge->add_option("--pack", words.pack, "a pack kind of the catalogue");
  discharge->add_option("--cell", words.cell, "a cell of the catalogue");
  discharge->add_option("--params", params_path, "a cell's parameter file");
  discharge->add_option("--power", words.power, "constant power, W");
  discharge->add_option("--current", words.current, "constant current, A");
  discharge->add_option("--resistance", words.resistance, "constant resistance, ohm");
  discharge->add_option("--profile", profile_path, "CSV with time_s and current_a or power_w; optionally voltage_v, surface_c, ambient_c");
  discharge->add_flag("--repeat", words.repeat, "start the profile again at its end");
  discharge->add_flag("--start-from-surface", words.start_from_surface, "start at the profile's first surface_c");
  discharge->add_option("--cells", words.cells, "cells in series")->capture_default_str();
  discharge->add_option("--ambient", words.ambient, "air temperature, °C");
  discharge->add_option("--start-temp", words.start_temperature, "temperature of the source at the start, °C");
  discharge->add_option("--start-charge", words.start_charge, "charge at the start, 0..1");
  discharge->add_option("--rested", words.rested, "rested volts at the start, whole source");
  discharge->add_option("--until", words.until, "end at these volts, whole source");
  discharge->add_option("--duty", words.duty, "on time over period, such as \"4 h / 24 h\"");
  discharge->add_option("--health", words.health, "capacity left of an aged source, such as \"86 %\"");
  discharge->add_option("--resistance-factor", words.resistance_factor, "resistance of an aged source over new");
  discharge->add_flag("--json", json, "print JSON (schema/discharge.schema.json)");

  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return program.exit(error) == 0 ? 0 : 2;
  }
  try {
    if (*forecast) return forecast_command(path, json, csv, svg, step_s);
    if (*check) return check_command(path);
    if (*catalogue) return catalogue_command(what, json);
    if (*init) return init_command(starter);
    if (!params_path.empty()) words.params = read_document(params_path);
    if (!profile_path.empty()) {
      words.profile_text = cli::read_file(profile_path, kMostProfileBytes);
      words.profile_name = profile_path;
    }
    const app::Discharge run = app::run_discharge(words, catalogue::builtin());
    return print(json ? app::discharge_json(run) : app::discharge_text(run));
  } catch (const decode::InputError& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 2;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "tillwrap: %s\n", error.what());
    return 2;
  }
}
