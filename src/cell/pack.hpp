// A removable battery as its holder sees it: cells in series and parallel, one weaker cell, electronics, protection,
// gauge. All currents and volts here are the whole pack's.
#pragma once

#include <string>

#include "cell/cell.hpp"

namespace tillwrap::cell {

struct Protection {
  double under_v = 0.0;         // pack volts below which it disconnects; 0 = none (AA cells)
  double under_cell_v = 0.0;    // weakest cell below this disconnects; 0 = none
  double over_current_a = 0.0;  // 0 = none
  double over_current_s = 0.0;  // how long it tolerates more
  double coldest_k = 0.0;       // no discharge below; 0 = none
  double hottest_k = 0.0;       // no discharge above; 0 = none
  double low_load_a = 0.0;      // switches itself off under this current ...
  double low_load_s = 0.0;      // ... after this long; 0 = never
  bool latches = false;         // stays off until taken out or put on a charger
};

// A smart pack's own opinion of its charge: coulombs counted against a learned capacity that may be wrong.
struct Gauge {
  bool present = false;
  double learned_capacity_factor = 1.0;  // learned capacity over true capacity
};

struct PackParams {
  std::string label;
  std::string kind;
  CellParams cell;  // already aged
  int series = 1;
  int parallel = 1;
  double electronics_ohm = 0.0;  // protection switch, leads, internal contacts
  double weak_fraction = 1.0;    // weakest cell's capacity over the others'; 1 = equal
  double heat_capacity_j_k = 0.0;
  double cooling_w_k = 0.0;  // whole pack to its surroundings
  double idle_a = 0.0;       // its own electronics, drawn while in a holder
  Protection protection;
  Gauge gauge;
  double rated_wh = 0.0;
  double mass_kg = 0.0;
};

struct PackState {
  CellState cell;            // the ordinary cells
  double weak_charge = 1.0;  // charge fraction of the weakest cell, of its own capacity
  friend bool operator==(const PackState&, const PackState&) = default;
};

// A pack at rest, at uniform temperature, all cells (the weak one too) at `charge`.
PackState rested(const PackParams& params, double charge, double temperature_k);

struct PackPoint {
  double volts = 0.0;
  double slope_ohm = 0.0;      // dV/dI, negative
  double open_v = 0.0;         // sum of rested open-circuit volts
  double lost_v = 0.0;         // everything between open_v and volts, summed from its parts
  double lowest_cell_v = 0.0;  // the weakest cell's terminal volts
};
PackPoint evaluate(const PackParams& params, const CellRates& rates, const PackState& state, double current_a);
// The point as much further along its tangent.
void follow_tangent(const PackParams& params, PackPoint& point, double change_a);

// Electrical state after `step_s`, current going straight from `start_a` to `end_a` (pack amps).
PackState advance(const PackParams& params, const CellRates& rates, const PackState& state, double step_s,
                  double start_a, double end_a);

// For advancing over the same step again with another end current, and for finding that current; see cell.hpp.
StepLags lags_over(const PackParams& params, const CellRates& rates, const PackState& state, double step_s,
                   double start_a, double end_a);
StepLags lags_over(const PackParams& params, const CellRates& start, const CellRates& middle, const CellRates& end,
                   const PackState& state, double step_s, double start_a, double end_a);
PackState advance(const PackParams& params, const CellRates& rates, const StepLags& lags, const PackState& state,
                  double start_a, double end_a);
void let_transfer_follow(const PackParams& params, const StepLags& lags, PackState& state, double end_a);

// Temperature after `step_s` with constant heat and surroundings: exact exponential of
// C dT/dt = heat_w - hA (T - surround_k).
double warmed_k(const PackParams& params, double temperature_k, double step_s, double heat_w, double surround_k);
// The same with that exponential at hand: one step is tried with several heats.
double warmed_k(const PackParams& params, double temperature_k, double step_s, double decay, double heat_w,
                double surround_k);
double cooling_decay(const PackParams& params, double step_s);

// Rested energy left above charge 0 of the ordinary cells, J.
double energy_left_j(const PackParams& params, double charge);

// What the pack's gauge shows, 0..1.
double gauge_fraction(const PackParams& params, const PackState& state);

}  // namespace tillwrap::cell
