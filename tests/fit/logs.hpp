// Logs for the tests of the fit: made by the engine's own bench with noise on top, or the measured ones.
#pragma once

#include <fmt/format.h>

#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "app/fit_cell.hpp"
#include "catalogue/catalogue.hpp"
#include "forecast/bench_run.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::test {

struct Made {
  double amps = 0.0;              // of a steady discharge ...
  std::vector<double> profile_a;  // ... or these, 10 s each, over and over
  double air_c = 25.0;
  double every_s = 10.0;
  double longest_s = 80.0 * 3600.0;
  double noise_v = 0.002;
  std::uint32_t seed = 1;
};

// The bench's own stepping, so that the fit's is not tested against itself.
inline app::FitLogFile made_log(const std::string& name, const cell::CellParams& truth, const Made& made) {
  forecast::BenchLoad load{.kind = forecast::BenchLoad::Kind::current_profile};
  const double lasts_s =
      made.profile_a.empty() ? std::min(made.longest_s, 1.3 * truth.capacity_as / made.amps) : made.longest_s;
  const double row_s = made.profile_a.empty() ? made.every_s : 5.0;
  for (double t = 0.0; t <= lasts_s; t += row_s) {
    load.profile_t_s.push_back(t);
    const auto k = static_cast<std::size_t>(t / 10.0);
    load.profile_value.push_back(made.profile_a.empty() ? made.amps : made.profile_a[k % made.profile_a.size()]);
  }
  const double air_k = celsius(made.air_c).si;
  const forecast::BenchResult run =
      forecast::bench_run(forecast::single_cell(truth), load, {.ambient_k = air_k, .start_k = air_k, .charge = 1.0},
                          {.stop_v = truth.cutoff_v, .volts_error = 1e-6});
  std::mt19937 bits(made.seed);
  std::normal_distribution<double> noise(0.0, made.noise_v);
  std::string text = "time_s,voltage_v,current_a,surface_c\n";
  text += fmt::format("-10,{:.5f},0,{:.2f}\n", truth.ocv.value(1.0), made.air_c);  // rested and full
  for (const forecast::BenchPoint& p : run.curve)
    text += fmt::format("{:.3f},{:.5f},{:.5f},{:.3f}\n", p.t_s, p.volts + noise(bits), p.current_a,
                        p.temperature_k - kZeroCelsiusK);
  return {.name = name, .text = text};
}

inline std::filesystem::path data_folder() {
  const char* from_environment = std::getenv("TILLWRAP_DATA");
  return from_environment != nullptr ? std::filesystem::path(from_environment)
                                     : std::filesystem::path(TILLWRAP_SOURCE_DIR) / ".." / "shared" / "data";
}

// None where the measured data are not at hand.
inline std::optional<app::FitLogFile> measured_log(const std::string& name) {
  std::ifstream in(data_folder() / name, std::ios::binary);
  if (!in) return std::nullopt;
  std::ostringstream text;
  text << in.rdbuf();
  return app::FitLogFile{.name = name, .text = text.str()};
}

inline const fit::Estimated* number(const fit::Fitted& fitted, const std::string& name) {
  for (const fit::Estimated& one : fitted.numbers) {
    if (one.name == name) return &one;
  }
  return nullptr;
}

}  // namespace tillwrap::test
