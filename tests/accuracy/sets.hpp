// The open measured sets, what is known of each log, and the fit that a set is given. Nothing here comes from the
// catalogue's sets, which were fitted to these very logs.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "fit/fit.hpp"

namespace tillwrap::accuracy {

struct Case {
  std::string file;
  double chamber_c = 25.0;
  double stop_v = 0.0;         // > 0: constant current, ends at these volts
  bool judged = true;          // a load of at most 1C; false: shown only
  double lead_in_s = 0.0;      // load before the first row
  bool starts_rested = false;  // the first row is at rest and not full
  double sigma_v = 0.015;
  double weight = 1.0;
  cell::Ageing known{};
  bool aged = false;  // logged late in the campaign: one capacity a temperature is fitted along
  bool pulse = false;
  bool calibrates = false;  // tells the health at its temperature best
  bool slow = false;        // gives the rested curve, so it is never left out
};

struct Set {
  std::string name;
  std::string catalogue_id;
  double rated_ah = 0.0;  // delivered in the rating test
  double label_ah = 0.0;
  double nominal_v = 3.6;
  double full_v = 0.0;
  double stop_v = 0.0;
  std::vector<Case> cases;
  std::vector<fit::PulseResistance> resistances{};  // of its pulse tests
};

const std::vector<Set>& sets();

// The folder of the data, from TILLWRAP_DATA or beside the checkout.
std::filesystem::path data_folder();

// Name of the number that is the cell's capacity at the temperature of an aged case.
std::string ageing_name(const Case& one);

// Throws decode::InputError where a file is missing or spoilt.
fit::Log read_log(const Case& one);

// The fit of a set with the logs of `cases` (some of the set's), from numbers that are common to lithium cells; the
// table of resistances without its column at `without_c`.
fit::Problem problem_of(const Set& set, const std::vector<Case>& cases, std::optional<double> without_c = {});

struct Goal {
  double duration = 0.0;
  double rms_v = 0.0;
  double rms_most_v = 0.0;  // no file beyond this
};
Goal goal_at(double chamber_c);

}  // namespace tillwrap::accuracy
