// One measured discharge of one cell, ready to be fitted to. SI; discharge current is positive.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "cell/cell.hpp"

namespace tillwrap::fit {

struct Log {
  std::string name;
  std::vector<double> t_s;  // strictly rising
  std::vector<double> volts;
  std::vector<double> amps;
  std::vector<double> discharged_as;  // a pulse test's own charge count; empty = integrate the current
  std::vector<double> surface_k;      // of the cell's surface; a pulse test's levels start there; empty = at `start_k`
  double ambient_k = 298.15;
  double start_k = 298.15;
  std::optional<double> rested_v{};  // volts at rest before the load; decides the start charge
  double start_charge = 1.0;         // otherwise
  double lead_in_s = 0.0;            // the first current ran this long before the first row
  double start_charge_sd = 0.0;      // > 0: fitted along, around that
  cell::Ageing known{};              // the cell's state when it was logged, relative to the set; 1 and 1 = part of it
  double cutoff_v = 0.0;             // > 0: a steady discharge to these volts, its duration counts
  double sigma_v = 0.015;            // what the model is expected to be off by
  double weight = 1.0;
};

// A pulse test's levels: between them the clock jumps and the discharge is not logged. [first, last) row of each.
struct Level {
  std::size_t first;
  std::size_t last;
};
std::vector<Level> levels(const Log& log);

// Seconds from the first load to the volts `stop_v`, straight between rows; none where the log ends above them.
std::optional<double> measured_duration_s(const Log& log, double stop_v);
double first_load_s(const Log& log);
double charge_as(const Log& log);  // integral of the current

// Rows merged so that at most about `most_rows` are left; charge is kept (means of equal runs of rows).
Log thinned(Log log, std::size_t most_rows);

}  // namespace tillwrap::fit
