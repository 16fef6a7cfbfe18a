// One source on a bench: a pack or a cell, one load, air at one temperature, until the volts fall to a limit.
//
// Pure: everything comes in as arguments. Volts, amps and watts are the whole source's; discharge current is positive.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cell/pack.hpp"

namespace tillwrap::forecast {

// The load is on for the first `on_s` of every `period_s`. Several together must all be on ("15 s a minute, 8 h a
// day").
struct Duty {
  double on_s = 0.0;
  double period_s = 0.0;
};

struct BenchLoad {
  enum class Kind {
    power,            // value in W
    current,          // value in A
    resistance,       // value in ohm
    power_profile,    // W at `profile_t_s`, straight lines between
    current_profile,  // A at `profile_t_s`, straight lines between
  };
  Kind kind = Kind::power;
  double value = 0.0;
  std::vector<Duty> duty{};           // none = always on; not with a profile
  std::vector<double> profile_t_s{};  // strictly rising, at least two
  std::vector<double> profile_value{};
  std::vector<double> measured_v{};  // optional, one a profile time: what was measured there
  bool repeat = false;               // the profile starts again at its end
};

struct BenchStart {
  double ambient_k = 298.15;
  double start_k = 298.15;
  std::optional<double> charge{};    // 0..1; when absent, from the rested volts, else 1
  std::optional<double> rested_v{};  // of the whole source
};

struct BenchLimits {
  double stop_v = 0.0;  // ends when the loaded volts fall to this; 0 = never
  double longest_s = 90 * 86400.0;
  double volts_error = 2e-5;        // a cell in series, a step: what the step control holds
  std::size_t curve_points = 4000;  // at most this many without a profile
};

struct BenchPoint {
  double t_s = 0.0;
  double volts = 0.0;
  double current_a = 0.0;
  double temperature_k = 0.0;
  double charge = 0.0;
  friend bool operator==(const BenchPoint&, const BenchPoint&) = default;
};

enum class BenchEnd {
  stop_volts,       // loaded volts reached the limit
  cell_protection,  // the pack's electronics: volts of the pack or of the weakest cell
  over_current,
  too_cold,
  too_hot,
  low_load,  // the pack switched itself off
  collapse,  // no current can deliver the power asked
  flat,      // emptied: charge ran out below every limit given
  profile_over,
  time_limit,
};
const char* words(BenchEnd end);

struct BenchResult {
  double duration_s = 0.0;       // from the first load: from profile time 0 where the profile starts before it
  double on_s = 0.0;             // of which the load was on
  double charge_ah = 0.0;        // taken from the source, net
  double energy_wh = 0.0;        // delivered at its terminals, net
  double open_circuit_wh = 0.0;  // drawn from the cells at rested volts; less the next two it is energy_wh
  double heat_wh = 0.0;          // lost inside
  double idle_wh = 0.0;          // taken by its own electronics
  double mean_v = 0.0;           // energy over charge
  BenchEnd end_reason = BenchEnd::time_limit;
  std::optional<double> rms_error_v{};  // against measured volts, samples above 10 % charge
  double warmest_k = 0.0;
  std::vector<BenchPoint> curve{};  // with a profile: at its own times
};

// Throws std::invalid_argument when the load is not usable (unordered profile, wrong sizes, not finite).
BenchResult bench_run(const cell::PackParams& source, const BenchLoad& load, const BenchStart& start,
                      const BenchLimits& limits);

// One cell lying free on the bench, as a source.
cell::PackParams single_cell(const cell::CellParams& cell, int series = 1);

}  // namespace tillwrap::forecast
