#include "cli/fit_command.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "app/fit_cell.hpp"
#include "catalogue/catalogue.hpp"
#include "cli/files.hpp"
#include "cli/watched.hpp"

namespace tillwrap::cli {

namespace {

constexpr std::size_t kMostLogBytes = 256U * 1024 * 1024;

}  // namespace

CLI::App* add_fit(CLI::App& program, FitOptions& options) {
  CLI::App* fit = program.add_subcommand("fit", "cell parameters from measured discharges");
  fit->add_option("LOG", options.logs, "CSV with time_s, voltage_v, current_a; optionally surface_c, ambient_c");
  fit->add_option("--pulse", options.pulses, "pulse test: CSV with discharged_ah too, rested at each level");
  fit->add_option("--chemistry", options.chemistry, "the catalogue's cell to start from, such as nmc");
  fit->add_option("--capacity-ah", options.capacity, "rated capacity, Ah");
  fit->add_option("--cells", options.cells, "cells in series in the logs")->capture_default_str();
  fit->add_option("--ambient", options.ambient, "air temperature, °C: one for all, or one a log (pulse tests last)");
  fit->add_flag("--health-only", options.health_only, "only what is left: capacity fraction and resistance factor");
  fit->add_option("--params", options.params, "with --health-only: parameter file of the cell as new");
  fit->add_option("--out", options.out, "parameter file to write (schema/params.schema.json)");
  fit->add_flag("--json", options.json, "print JSON (schema/fit.schema.json)");
  return fit;
}

std::string fit_command(const FitOptions& options, decode::Document (*read_document)(const std::string&)) {
  app::FitWords words;
  std::vector<std::string> inputs = options.logs;
  inputs.insert(inputs.end(), options.pulses.begin(), options.pulses.end());
  if (!options.params.empty()) inputs.push_back(options.params);
  for (const std::string& input : inputs) {
    if (!options.out.empty() && same_file(input, options.out))
      throw decode::InputError(options.out, {1, 1}, "this is one of the files read",
                               "name another file to write; nothing was changed");
  }
  for (auto path = inputs.begin(); path != inputs.end(); ++path) {
    if (std::any_of(inputs.begin(), path,
                    [&](const std::string& other) { return *path == other || same_file(*path, other); }))
      throw decode::InputError(name_of(*path), {1, 1}, "this file is named twice",
                               "name each once: it would count twice");
  }
  for (const std::string& path : options.logs) words.logs.push_back({name_of(path), read_file(path, kMostLogBytes)});
  for (const std::string& path : options.pulses)
    words.pulses.push_back({name_of(path), read_file(path, kMostLogBytes)});
  if (!options.params.empty()) words.params = read_document(options.params);
  if (!options.chemistry.empty()) words.chemistry = options.chemistry;
  words.capacity_ah = options.capacity;
  words.ambient = options.ambient;
  words.cells = options.cells;
  words.health_only = options.health_only;
  Watched watched("fitting");
  words.progress = [&](int round, double cost) { watched.say(fmt::format("round {}, misfit {:.4g}", round, cost)); };
  const app::FitAnswer answer = app::run_fit(words, catalogue::builtin());
  watched.over();
  if (!options.out.empty()) write_file(options.out, app::params_json(answer));
  return options.json ? app::fit_json(answer) : app::fit_text(answer, options.out);
}

}  // namespace tillwrap::cli
