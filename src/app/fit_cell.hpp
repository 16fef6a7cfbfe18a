// `tillwrap fit`: from logs to a parameter file, and `--health-only`: how much of a known cell is left.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "app/fit_log.hpp"
#include "catalogue/catalogue.hpp"
#include "fit/fit.hpp"

namespace tillwrap::app {

struct FitWords {
  std::vector<FitLogFile> logs;
  std::vector<FitLogFile> pulses;
  std::optional<std::string> chemistry, capacity_ah;
  std::vector<std::string> ambient;  // none, one for all, or one a log (then the pulse tests)
  int cells = 1;
  bool health_only = false;
  std::optional<decode::Document> params;  // --params, read
  std::function<void(int, double)> progress;
};

struct FitAnswer {
  std::string started_from;  // id of the set or of the parameter file's cell
  bool health_only = false;
  cell::Ageing health{};     // health only
  catalogue::CellKind kind;  // as started from
  bool slow = false;         // one of the logs gave the rested curve
  fit::Fitted fitted;
  std::vector<std::string> notes;  // repairs and assumptions
};

// Throws decode::InputError (source "command line" for options).
FitAnswer run_fit(const FitWords& words, const catalogue::Catalogue& catalogue);

std::string fit_text(const FitAnswer& answer, const std::string& out);
std::string fit_json(const FitAnswer& answer);     // schema/fit.schema.json
std::string params_json(const FitAnswer& answer);  // schema/params.schema.json

}  // namespace tillwrap::app
