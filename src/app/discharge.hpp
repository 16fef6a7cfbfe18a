// `tillwrap discharge`: one source on a bench, from the command line's words to figures.
#pragma once

#include <optional>
#include <string>

#include "app/csv_log.hpp"
#include "catalogue/catalogue.hpp"
#include "forecast/bench_run.hpp"

namespace tillwrap::app {

// As written by the user; every quantity is text with or without its unit.
struct DischargeWords {
  std::optional<std::string> pack, cell;
  std::optional<decode::Document> params;  // --params, read
  std::optional<std::string> power, current, resistance;
  std::optional<std::string> profile_text, profile_name;
  bool repeat = false;
  bool start_from_surface = false;  // start temperature from the profile's first surface_c
  int cells = 1;
  std::optional<std::string> ambient, start_temperature, start_charge, rested, until, duty, health, resistance_factor;
};

struct Discharge {
  std::string source;  // what was discharged, in words
  std::string load;
  cell::PackParams pack;
  forecast::BenchStart start;
  forecast::BenchLimits limits;
  forecast::BenchResult result;
};

// Throws decode::InputError (source "command line" for options).
Discharge run_discharge(const DischargeWords& words, const catalogue::Catalogue& catalogue);

std::string discharge_text(const Discharge& run);
std::string discharge_json(const Discharge& run);  // schema/discharge.schema.json

}  // namespace tillwrap::app
