// Cells in series of one pack, by volts of each: which is the weak one, and by how much it ends the pack sooner.
//
// All carry one current, so what the model misses it misses in all of them alike: what is fitted is the difference of a
// cell's volts from the others' mean,
//
//   V(w c, p r, z0 + d)(t) - V(c, r, z0)(t) = v_i(t) - v_others(t),
//
// V the cell equations put through the log's amps, c and r the others' own health by the same log. Unknown are the
// cell's capacity w and resistance p over the others' and the charge d it began with above theirs; before any volts
// cells of one pack are taken to be alike within kAlikeCapacity, kAlikeResistance and kAlikeCharge.
#pragma once

#include <vector>

#include "fit/log.hpp"

namespace tillwrap::fit {

struct CellFound {
  double capacity = 1.0, capacity_ln_sd = 0.0;       // over the others' mean
  double resistance = 1.0, resistance_ln_sd = 0.0;   // likewise
  double start_charge = 0.0, start_charge_sd = 0.0;  // above the others' mean, of a capacity
  bool capacity_told = false;                        // false: the volts say hardly more than what is believed anyway
  double gives_ah = 0.0;  // from where it began to its end volts, at the log's mean amps; of one cell's size
  double gives_ln_sd = 0.0;
};

struct CellsFound {
  std::vector<CellFound> cells;
  std::size_t weakest = 0;  // ends first
  std::size_t next = 0;     // would end first without it
  // 1 - what it gives over what the next gives.
  double shorter = 0.0, shorter_sd = 0.0;
};

// `shared` is the log of the pack as one mean cell: time, amps of one cell, temperatures, start; `volts` holds one
// column a cell, at the log's times; at least two. `as_new` is the kind's cell; `end_v` where a cell ends the pack.
CellsFound cells_of_pack(const cell::CellParams& as_new, const Log& shared, std::vector<std::vector<double>> volts,
                         double end_v);

}  // namespace tillwrap::fit
