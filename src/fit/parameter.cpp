#include "fit/parameter.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

#include "quantity/maths.hpp"

namespace tillwrap::fit {

namespace {

using cell::CellParams;

const std::vector<std::pair<const char*, double CellParams::*>> kFields{
    {"capacity_as", &CellParams::capacity_as},
    {"diffusion_s", &CellParams::diffusion_s},
    {"diffusion_activation_k", &CellParams::diffusion_activation_k},
    {"cold_tail", &CellParams::cold_tail},
    {"series_ohm", &CellParams::series_ohm},
    {"electrolyte_ohm", &CellParams::electrolyte_ohm},
    {"electrolyte_activation_k", &CellParams::electrolyte_activation_k},
    {"exchange_a", &CellParams::exchange_a},
    {"exchange_activation_k", &CellParams::exchange_activation_k},
    {"exchange_electrodes", &CellParams::exchange_electrodes},
    {"exchange_s", &CellParams::exchange_s},
    {"rc_ohm", &CellParams::rc_ohm},
    {"rc_s", &CellParams::rc_s},
    {"heat_capacity_j_k", &CellParams::heat_capacity_j_k},
    {"cooling_w_k", &CellParams::cooling_w_k},
};

// td over charge is written at these knots.
const std::vector<double> kDiffusionZ{-0.1, 0.0, 0.03, 0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.7, 1.0};

double between(const std::vector<double>& x, const std::vector<double>& y, double at) {
  if (at <= x.front()) return y.front();
  for (std::size_t k = 1; k < x.size(); ++k) {
    if (at <= x[k]) return y[k - 1] + (y[k] - y[k - 1]) * (at - x[k - 1]) / (x[k] - x[k - 1]);
  }
  return y.back();
}

}  // namespace

double Parameter::value(double x) const { return logarithmic ? middle * maths::exp(spread * x) : middle + spread * x; }

double Parameter::plus_minus(double x, double sd) const {
  return logarithmic ? value(x) * (maths::exp(spread * sd) - 1.0) : spread * sd;
}

Parameter field(const std::string& name, const CellParams& cell, double spread) {
  for (const auto& [known, member] : kFields) {
    if (name != known) continue;
    const auto where = member;
    return {.name = name, .middle = cell.*where, .spread = spread, .put = [where](Draft& draft, double value) {
              draft.cell.*where = value;
            }};
  }
  throw std::invalid_argument("no fitted field " + name);
}

void finish(Draft& draft) {
  CellParams& cell = draft.cell;
  if (!draft.exchange_log.empty()) {
    std::vector<double> x = kExchangeZ;
    std::vector<double> y;
    for (const double value : draft.exchange_log) y.push_back(maths::exp(value));
    // Flat past both ends.
    x.insert(x.begin(), -0.05);
    x.push_back(1.05);
    y.insert(y.begin(), y.front());
    y.push_back(y.back());
    cell.exchange_shape = Curve(x, y);
  }
  if (draft.diffusion_rise > 0.0) {
    std::vector<double> y;
    for (const double z : kDiffusionZ) {
      const double u = std::max(z, 0.0) / draft.diffusion_width;
      y.push_back(1.0 + draft.diffusion_rise / (1.0 + u * u));
    }
    cell.diffusion_shape = Curve(kDiffusionZ, y);
  }
}

void shift_curve(Draft& draft) {
  if (draft.ocv_shift_v.empty()) return;
  CellParams& cell = draft.cell;
  std::vector<double> u = cell.ocv.knots_y();
  const std::vector<double>& z = cell.ocv.knots_x();
  for (std::size_t k = 0; k < u.size(); ++k) u[k] += between(kShiftZ, draft.ocv_shift_v, z[k]);
  // A rested curve rises with charge whatever is added to it.
  for (std::size_t k = 1; k < u.size(); ++k) u[k] = std::max(u[k], u[k - 1] + 1e-5);
  cell.ocv = Curve(z, u);
}

}  // namespace tillwrap::fit
