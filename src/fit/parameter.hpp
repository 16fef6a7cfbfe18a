// The numbers a fit may move, each with what was believed before (its prior).
#pragma once

#include <Eigen/Core>
#include <functional>
#include <string>
#include <vector>

#include "cell/cell.hpp"

namespace tillwrap::fit {

// A cell's parameters while they are put together from the unknowns.
struct Draft {
  cell::CellParams cell;
  std::vector<double> exchange_log;  // ln of i0 over i0 at half charge, at exchange_z
  std::vector<double> ocv_shift_v;   // added to U at ocv_z, straight between
  double diffusion_rise = 0.0;       // td(z) = td (1 + rise / (1 + (z/width)^2))
  double diffusion_width = 0.2;
  double capacity_over_slow = 1.0;   // Q over what the slow discharge says
  std::vector<double> start_charge;  // one a log
  std::vector<cell::Ageing> age;     // one a log
};

struct Parameter {
  std::string name;  // as in the parameter file, or in words
  double middle = 0.0;
  double spread = 0.0;  // logarithmic: of ln(value)
  bool logarithmic = true;
  bool of_the_cell = true;  // false: a number of one log (its start charge), not reported as the cell's
  std::function<void(Draft&, double)> put;

  [[nodiscard]] double value(double x) const;                  // x in spreads from the middle
  [[nodiscard]] double plus_minus(double x, double sd) const;  // one standard deviation, in the value's unit
};

// Free number of the cell's own: `name` is the field's; the middle is what `cell` has. Throws std::invalid_argument
// for an unknown name.
Parameter field(const std::string& name, const cell::CellParams& cell, double spread);

// Grids of the shapes a fit may bend.
inline const std::vector<double> kExchangeZ{0.0, 0.03, 0.07, 0.12, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 0.92, 1.0};
inline const std::vector<double> kShiftZ{0.0, 0.06, 0.15, 0.3, 0.5, 0.75, 1.0};

// The shapes of a draft written into its cell; its rested curve's shift comes last, when the curve is known.
void finish(Draft& draft);
void shift_curve(Draft& draft);

}  // namespace tillwrap::fit
