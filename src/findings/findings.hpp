// The rules on a day's wiring. Each is computed from the forecast run, the kit and the catalogue; each shows up once,
// with every place it applies to.
#pragma once

#include <vector>

#include "catalogue/catalogue.hpp"
#include "findings/finding.hpp"
#include "forecast/forecast.hpp"
#include "kit/inventory.hpp"

namespace tillwrap::findings {

struct Input {
  const day::Scenario* day = nullptr;
  const kit::Inventory* kit = nullptr;
  const catalogue::Catalogue* known = nullptr;
  const forecast::Forecast* forecast = nullptr;  // with a trace
};

struct Options {
  bool single_points = true;  // simulates the day once for each cable, cup and box
};

// Worst first; within a severity in the order of `Rule`.
std::vector<Finding> find(const Input& input, const Options& options = {});

// The same for a day without a forecast at hand.
std::vector<Finding> find(const day::Scenario& day, const kit::Inventory& kit, const catalogue::Catalogue& known);

}  // namespace tillwrap::findings
