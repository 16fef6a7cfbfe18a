// Cells and packs for the tests, and the open measured data where it is at hand.
#pragma once

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "cell/pack.hpp"

namespace tillwrap::test {

inline cell::CellParams catalogue_cell(const std::string& id) {
  const catalogue::CellKind* kind = catalogue::builtin().cell(id);
  if (kind == nullptr) throw std::invalid_argument("no cell " + id);
  return kind->params;
}

inline const std::vector<std::string>& cell_ids() {
  static const std::vector<std::string> ids{
      "nca",      "nmc",      "nmc-21700-5ah",          "lco",      "lfp",     "nimh",
      "nimh-lsd", "alkaline", "lithium-iron-disulfide", "vrla-agm", "vrla-gel"};
  return ids;
}

// A made-up cell with every term of the model switched on.
inline cell::CellParams full_cell() {
  cell::CellParams c;
  c.capacity_as = 2.9 * 3600;
  c.rated_ah = 2.9;
  c.ocv = Curve({0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1}, {2.5, 3.07, 3.25, 3.33, 3.46, 3.6, 3.77, 3.95, 4.17});
  c.lag_gain = {2.0 / 3.0, 2.0 / 3.0};
  c.lag_rate = {20.19, 59.68};
  c.surface_gain = 0.0225;
  c.diffusion_s = 3000;
  c.diffusion_activation_k = 5000;
  c.diffusion_shape = Curve({0, 0.2, 1}, {3, 1.5, 1});
  c.cold_tail = 0.03;
  c.cold_tail_width = 0.2;
  c.series_ohm = 0.018;
  c.electrolyte_ohm = 0.006;
  c.electrolyte_activation_k = 2000;
  c.resistance_shape = Curve({0, 0.5, 1}, {2, 1.2, 1});
  c.exchange_a = 8;
  c.exchange_activation_k = 9000;
  c.exchange_alpha = 0.5;
  c.exchange_electrodes = 2;
  c.exchange_s = 0.3;
  c.rc_ohm = 0.02;
  c.rc_s = 35;
  c.heat_capacity_j_k = 43;
  c.cooling_w_k = 0.1;
  return c;
}

struct Log {
  std::vector<double> t_s, volts, amps, surface_c;
};

// One measured file, or nothing when the data folder is not at hand.
inline std::optional<Log> measured(const std::string& file) {
  const char* from_environment = std::getenv("TILLWRAP_DATA");
  const std::filesystem::path folder = from_environment != nullptr
                                           ? std::filesystem::path(from_environment)
                                           : std::filesystem::path(TILLWRAP_SOURCE_DIR) / ".." / "shared" / "data";
  std::ifstream in(folder / file);
  if (!in) return std::nullopt;
  Log log;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::istringstream row(line);
    std::string field;
    double value[4] = {};
    for (double& v : value) {
      std::getline(row, field, ',');
      v = field.empty() ? 0.0 : std::stod(field);
    }
    log.t_s.push_back(value[0]);
    log.volts.push_back(value[1]);
    log.amps.push_back(value[2]);
    log.surface_c.push_back(value[3]);
  }
  return log;
}

}  // namespace tillwrap::test
