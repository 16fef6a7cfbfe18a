// A logged current put through the cell equations, temperature following from the cell's own heat.
#pragma once

#include <vector>

#include "fit/log.hpp"

namespace tillwrap::fit {

struct Trace {
  std::vector<double> volts;
  std::vector<double> charge;
  std::vector<double> kelvin;
  std::vector<double> slope_v;  // dU/dz at the surface, V per unit of charge
  std::vector<char> counts;     // 0: the row is left out of comparisons (a pulse test's strong pulses and gaps)
  double duration_s = 0.0;      // from the first load to log.cutoff_v; past the log's end its last current goes on
  double warmest_k = 0.0;
};

// Fixed steps (a row, divided where it is longer than 20 s), so the result is smooth in the parameters.
Trace trace(const cell::CellParams& params, const Log& log, double start_charge);

// The charge at which the rested cell shows the log's volts before load, else the log's own start charge.
double start_charge(const cell::CellParams& params, const Log& log);

}  // namespace tillwrap::fit
