#include "accuracy/sets.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <map>
#include <sstream>

#include "app/csv_log.hpp"
#include "decode/node.hpp"
#include "quantity/maths.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::accuracy {

namespace {

// nmc18650 was measured in the order 25, 40, 10, 0, -10, -20 °C and lost about 3 % on the way (its description): spread
// evenly over the five changes, 0.6 and 0.8 of it are gone at 0 and -10 °C. Its 0.5C logs, one row a minute, begin
// under load: the minute that is missing came before.
constexpr cell::Ageing kNmcAt0{.capacity_fraction = 1.0 - 0.6 * 0.03};
constexpr cell::Ageing kNmcAtMinus10{.capacity_fraction = 1.0 - 0.8 * 0.03};
constexpr double kLate_s = 60.0;

// Resistance of the NCA cell after 10 s at 1.45 A, from the pulse tests of doi:10.17632/wykht8y7tg.1 (CC-BY-4.0).
std::vector<fit::PulseResistance> nca_resistances() {
  constexpr double kCharge[] = {0.9, 0.6, 0.5, 0.3};
  constexpr double kCelsius[] = {25, 10, 0, -10, -20};
  constexpr double kOhm[4][5] = {{0.042, 0.068, 0.113, 0.194, 0.314},
                                 {0.042, 0.055, 0.082, 0.138, 0.249},
                                 {0.0365, 0.051, 0.080, 0.138, 0.258},
                                 {0.039, 0.058, 0.103, 0.197, 0.384}};
  std::vector<fit::PulseResistance> all;
  for (std::size_t z = 0; z < 4; ++z) {
    for (std::size_t t = 0; t < 5; ++t)
      all.push_back(
          {.charge = kCharge[z], .temperature_k = kCelsius[t] + kZeroCelsiusK, .amps = 1.45, .ohm = kOhm[z][t]});
  }
  return all;
}

}  // namespace

const std::vector<Set>& sets() {
  static const std::vector<Set> all{
      {.name = "nca18650",
       .catalogue_id = "nca",
       .rated_ah = 2.85,
       .label_ah = 2.9,
       .full_v = 4.178,
       .stop_v = 2.5,
       .cases =
           {
               {.file = "25C_c20.csv", .stop_v = 2.5, .weight = 0.6, .slow = true},
               {.file = "25C_1C_start1.csv", .stop_v = 2.5},
               {.file = "25C_hppc.csv", .pulse = true},
               {.file = "25C_la92.csv"},
               {.file = "25C_cycle1.csv"},
               {.file = "0C_hppc.csv", .chamber_c = 0, .sigma_v = 0.025, .aged = true, .pulse = true},
               {.file = "0C_us06.csv", .chamber_c = 0, .judged = false, .sigma_v = 0.025, .aged = true},
               {.file = "n10C_hppc.csv", .chamber_c = -10, .sigma_v = 0.040, .aged = true, .pulse = true},
               {.file = "n10C_hwfet.csv", .chamber_c = -10, .sigma_v = 0.040, .aged = true},
           },
       .resistances = nca_resistances()},
      {.name = "nmc18650",
       .catalogue_id = "nmc",
       .rated_ah = 2.7,
       .label_ah = 3.0,
       .full_v = 4.1927,
       .stop_v = 2.8,
       .cases =
           {
               {.file = "25C_c20.csv", .chamber_c = 24, .stop_v = 2.8, .weight = 0.6, .slow = true},
               {.file = "25C_0p5C.csv", .chamber_c = 24, .stop_v = 2.8, .lead_in_s = kLate_s},
               {.file = "25C_1C.csv", .chamber_c = 24, .stop_v = 2.8},
               {.file = "25C_us06.csv", .chamber_c = 24, .judged = false},
               {.file = "0C_c20.csv",
                .chamber_c = -0.5,
                .stop_v = 2.8,
                .sigma_v = 0.025,
                .weight = 0.5,
                .known = kNmcAt0},
               {.file = "0C_1C.csv",
                .chamber_c = -0.5,
                .stop_v = 2.8,
                .sigma_v = 0.025,
                .known = kNmcAt0,
                .calibrates = true},
               {.file = "0C_us06.csv", .chamber_c = -0.5, .judged = false, .sigma_v = 0.025, .known = kNmcAt0},
               {.file = "n10C_0p5C.csv",
                .chamber_c = -10,
                .stop_v = 2.8,
                .lead_in_s = kLate_s,
                .sigma_v = 0.040,
                .known = kNmcAtMinus10},
           }},
      {.name = "nmc21700",
       .catalogue_id = "nmc-21700-5ah",
       .rated_ah = 4.8,
       .label_ah = 5.0,
       .full_v = 4.179,
       .stop_v = 2.5,
       .cases =
           {
               {.file = "25C_0p1C.csv", .chamber_c = 24.5, .stop_v = 2.5, .weight = 0.6, .slow = true},
               {.file = "25C_1C.csv", .chamber_c = 24.6, .stop_v = 2.5},
               {.file = "0C_0p5C.csv", .chamber_c = -0.5, .stop_v = 2.5, .starts_rested = true, .sigma_v = 0.025},
               {.file = "45C_0p5C.csv", .chamber_c = 43.1, .stop_v = 2.5},
           }},
  };
  return all;
}

std::filesystem::path data_folder() {
  const char* from_environment = std::getenv("TILLWRAP_DATA");
  return from_environment != nullptr ? std::filesystem::path(from_environment)
                                     : std::filesystem::path(TILLWRAP_SOURCE_DIR) / ".." / "shared" / "data";
}

fit::Log read_log(const Case& one) {
  const std::filesystem::path path = data_folder() / one.file;
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  const app::CsvLog csv = app::read_csv_log(text.str(), path.string());
  app::require_complete(csv, path.string(), {"time_s", "voltage_v", "current_a", "surface_c"});
  fit::Log log{.name = one.file};
  log.t_s = *csv.column("time_s");
  log.volts = *csv.column("voltage_v");
  log.amps = *csv.column("current_a");
  log.ambient_k = one.chamber_c + kZeroCelsiusK;
  log.start_k = csv.column("surface_c")->front() + kZeroCelsiusK;
  for (const double c : *csv.column("surface_c")) log.surface_k.push_back(c + kZeroCelsiusK);
  if (one.pulse) {
    for (const double ah : *csv.column("discharged_ah")) log.discharged_as.push_back(3600.0 * ah);
  }
  log.lead_in_s = one.lead_in_s;
  if (one.starts_rested) log.rested_v = log.volts.front();
  log.known = one.known;
  log.cutoff_v = one.stop_v;
  log.sigma_v = one.sigma_v;
  log.weight = one.weight;
  return log;
}

fit::Problem problem_of(const Set& set, const std::vector<Case>& cases, std::optional<double> without_c) {
  // Numbers common to lithium cells of any make, from memory: a round cell has about 15 mΩ of metal whatever its size;
  // the rest goes with size: a 2.9 Ah cell has 8 mΩ of electrolyte, 20 mΩ in its slow RC, 30 A of exchange current at
  // each of two electrodes.
  const double size = set.rated_ah / 2.9;
  fit::Problem problem;
  cell::CellParams& base = problem.base;
  base.name = set.catalogue_id;
  base.rated_ah = set.rated_ah;
  base.capacity_as = 3600.0 * set.rated_ah;
  base.ocv = Curve({0.0, 1.0}, {2.5, 4.2});  // replaced by the slow discharge's
  base.lag_gain = {1.621, 9.865};            // a sphere's, tools/fit/sphere.py
  base.lag_rate = {31.94, 758.0};
  base.surface_gain = 1.0 / 15.0 - base.lag_gain[0] / base.lag_rate[0] - base.lag_gain[1] / base.lag_rate[1];
  base.diffusion_s = 800.0;
  base.diffusion_activation_k = 5500.0;
  base.cold_tail = 0.05;
  base.cold_tail_width = 0.35;
  base.series_ohm = 0.015;
  base.electrolyte_ohm = 0.008 / size;
  // LiPF6 in carbonates at 1 mol/l: 1700 K from 25 to 0 °C, 1900 K from there to -10 °C (Valøen and Reimers,
  // J. Electrochem. Soc. 152(5) A882, 2005, coefficients from memory).
  base.electrolyte_activation_k = 2000.0;
  base.exchange_a = 30.0 * size;
  base.exchange_activation_k = 8500.0;
  base.exchange_electrodes = 2.0;
  base.exchange_s = 0.3;
  base.rc_ohm = 0.02 / size;
  base.rc_s = 70.0;
  base.heat_capacity_j_k = 43.0 * size;
  base.cooling_w_k = 0.2 * size;
  const auto free = [&](const char* name, double spread) { problem.free.push_back(fit::field(name, base, spread)); };
  free("diffusion_s", 0.8);
  free("diffusion_activation_k", 0.15);
  free("cold_tail", 0.6);
  free("series_ohm", 0.6);
  free("electrolyte_ohm", 0.8);
  free("electrolyte_activation_k", 0.3);
  free("exchange_a", 0.8);
  free("exchange_activation_k", 0.06);
  free("exchange_electrodes", 0.3);
  free("exchange_s", 0.7);
  free("rc_ohm", 0.8);
  free("rc_s", 0.6);
  free("heat_capacity_j_k", 0.15);
  free("cooling_w_k", 0.8);
  problem.free.push_back(
      {.name = "diffusion rise near empty", .middle = 0.5, .spread = 1.2, .put = [](fit::Draft& draft, double value) {
         draft.diffusion_rise = value;
       }});
  problem.diffusion_rise = 0.5;
  problem.free.push_back({.name = "capacity over the slow discharge's",
                          .middle = 1.0,
                          .spread = 0.03,
                          .put = [](fit::Draft& draft, double value) { draft.capacity_over_slow = value; }});
  // i0 over charge leans on sqrt(4 zs (1 - zs)), the textbook insertion electrode.
  for (const double z : fit::kExchangeZ)
    problem.exchange_log.push_back(0.5 * maths::log(std::max(4.0 * z * (1.0 - z), 0.04)));
  for (std::size_t k = 0; k < fit::kExchangeZ.size(); ++k) {
    if (fit::kExchangeZ[k] == 0.5) continue;
    problem.free.push_back({.name = "exchange shape " + std::to_string(k),
                            .middle = problem.exchange_log[k],
                            .spread = 0.7,
                            .logarithmic = false,
                            .put = [k](fit::Draft& draft, double value) { draft.exchange_log[k] = value; }});
  }
  problem.smooth = 0.03;
  // The steps of a C/20 curve are not quite those of a cell under working load.
  for (std::size_t k = 0; k < fit::kShiftZ.size(); ++k) {
    problem.free.push_back({.name = "rested volts " + std::to_string(k),
                            .middle = 0.0,
                            .spread = 0.006,
                            .logarithmic = false,
                            .put = [k](fit::Draft& draft, double value) {
                              draft.ocv_shift_v.resize(fit::kShiftZ.size(), 0.0);
                              draft.ocv_shift_v[k] = value;
                            }});
  }
  problem.readings_a_log = 20.0;
  problem.heavy_c = 1.0;
  problem.surface_doubt_k = 1.0;
  for (const Case& one : cases) {
    if (one.slow) problem.slow = problem.logs.size();
    Case named = one;
    named.file = set.name + "/" + one.file;
    problem.logs.push_back(read_log(named));
  }
  std::map<std::string, std::vector<std::size_t>> aged;
  for (std::size_t k = 0; k < cases.size(); ++k) {
    if (cases[k].aged) aged[ageing_name(cases[k])].push_back(k);
  }
  for (const auto& [name, logs] : aged) {
    problem.free.push_back({.name = name,
                            .middle = 1.0,
                            .spread = 0.04,
                            .of_the_cell = false,
                            .put = [logs = logs](fit::Draft& draft, double value) {
                              for (const std::size_t k : logs) draft.age[k].capacity_fraction = value;
                            }});
  }
  for (const fit::PulseResistance& pulse : set.resistances) {
    if (!without_c || std::fabs(pulse.temperature_k - kZeroCelsiusK - *without_c) > 2.0)
      problem.resistances.push_back(pulse);
  }
  problem.rating = {.ah = set.rated_ah, .amps = 0.2 * set.rated_ah, .stop_v = set.stop_v};
  problem.full_v = set.full_v;
  problem.most_rounds = 25;
  return problem;
}

std::string ageing_name(const Case& one) { return "capacity at " + std::to_string(std::lround(one.chamber_c)) + " °C"; }

Goal goal_at(double chamber_c) {
  if (chamber_c >= 9.0) return {0.02, 0.015, 0.020};
  if (chamber_c >= -1.0) return {0.03, 0.025, 0.050};
  if (chamber_c >= -11.0) return {0.05, 0.040, 0.080};
  return {0.08, 0.060, 0.120};
}

}  // namespace tillwrap::accuracy
