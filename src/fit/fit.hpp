// Parameters of one cell from its logs: least squares of volts through the cell equations, temperature following from
// the cell's own heat, with a prior on every number, so that little data moves little.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "fit/least_squares.hpp"
#include "fit/log.hpp"
#include "fit/parameter.hpp"

namespace tillwrap::fit {

// Loses 5 % to least squares where errors are normal (Huber, Ann. Math. Stat. 35(1) 73, 1964).
inline constexpr double kHuber = 1.345;

// Volts lost between rest and the end of a pulse over its current, as a published table gives it.
struct PulseResistance {
  double charge = 0.0;
  double temperature_k = 298.15;
  double amps = 0.0;
  double lasts_s = 10.0;
  double ohm = 0.0;
};
double resistance_of(const cell::CellParams& cell, const PulseResistance& pulse);

// What a cell of its kind gives at least, fresh and full, in the test its label rests on (IEC 61960: 0.2C at 20 °C).
struct Rating {
  double ah = 0.0;
  double amps = 0.0;
  double stop_v = 0.0;
  double temperature_k = 293.15;
};
double rated_share(const cell::CellParams& cell, const Rating& rating);  // what it gives over that

struct Problem {
  cell::CellParams base;
  std::vector<double> exchange_log;  // start of the free exchange shape; empty = the base's own shape stays
  double diffusion_rise = 0.0;       // > 0: td over charge is the draft's form instead of the base's own
  std::vector<Parameter> free;
  std::vector<Log> logs;
  std::vector<PulseResistance> resistances;
  std::optional<Rating> rating;
  std::optional<std::size_t> slow;  // index into logs: the rested curve comes from this one
  double full_v = 0.0;              // rested volts at full, where the slow log does not show them
  double smooth = 0.0;              // weight of the exchange shape's bending
  // Rows of one log are not independent, as the model's own error drifts slowly along it: a log counts as this many
  // readings.
  double readings_a_log = 5.0;
  // > 0: a row off by more than so many times its doubt counts in proportion, not by the square, so that a stretch the
  // model cannot follow does not bend the rest.
  double straight_beyond = 0.0;
  double heavy_c = 0.0;          // > 0: rows above this rate (of the rated capacity an hour) are doubted in proportion
  double surface_doubt_k = 0.0;  // > 0: the logged surface temperature counts too, so that the thermal constants follow
  std::function<void(int, double)> progress;
  int most_rounds = 40;
};

struct Estimated {
  std::string name;
  double value = 0.0;
  double plus_minus = 0.0;      // one standard deviation
  double share_of_prior = 0.0;  // posterior over prior spread: 1 = nothing learnt
  bool told = false;            // false: the logs cannot tell; `value` is the prior's
  bool of_the_cell = true;
};

struct LogFit {
  std::string name;
  double rms_v = 0.0;                  // above 10 % charge
  double rms_before_v = 0.0;           // the same with the chemistry's set
  std::optional<double> duration_off;  // fraction; steady discharges to their cut-off
  std::size_t rows = 0;
};

struct Fitted {
  cell::CellParams cell;
  std::vector<Estimated> numbers;
  std::vector<LogFit> logs;
  std::vector<double> x;  // the solution in prior spreads, for a warm start
  int rounds = 0;
};

Fitted fit(const Problem& problem, const std::vector<double>& start = {});

// Root mean square of model minus log over rows above 10 % charge; nothing where no row is.
std::optional<double> rms_v(const cell::CellParams& cell, const Log& log, double start_charge);

// A model of the right kind of cell is off by no more than this, RMS a cell: 45 mV, 90 mV below 10 °C (docs/model.md:
// 15 mV warm, up to 60 mV at -20 °C).
double most_misfit_v(const Log& log);

// A number whose posterior spread is more than this part of its prior's is kept at the prior and named.
inline constexpr double kToldBelow = 0.9;

}  // namespace tillwrap::fit
