// The rested curve from a slow discharge: the model's own losses at that small current added back to the volts.
#pragma once

#include "fit/log.hpp"

namespace tillwrap::fit {

// At most this rate counts as slow, of the rated capacity an hour.
inline constexpr double kSlowRate_c = 0.105;

// Puts the curve (its zero is where the slow discharge ends) into `cell` and returns the capacity the log says, A s.
// `full_v` > 0 is the rested volts at full; otherwise they are those before the load, or the curve's own.
double curve_from_slow(cell::CellParams& cell, const Log& log, double full_v);

}  // namespace tillwrap::fit
