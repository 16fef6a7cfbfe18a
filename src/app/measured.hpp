// A measured draw outranks the sum of parts: scales the devices behind the point where it was read.
#pragma once

#include "app/day_file.hpp"

namespace tillwrap::app {

// What one measured draw did to the sum of parts.
struct MeasuredOutcome {
  const MeasuredDraw* draw = nullptr;
  double predicted_w = 0.0;  // mean, before
  double measured_w = 0.0;
  double factor = 1.0;  // now on every device behind the point
  // Of gauge readings: the draw that comes to the same factor whatever packs are in, read in one of the periods they
  // lie in.
  int period = -1;
  double amps = 0.0;  // at the draw's own volts
};

// Applies all measured draws to the scenario, in the order written. A reading in watts or amps scales by the ratio of
// powers; a pair of gauge readings by the ratio of charge used, found by running the day (four rounds).
std::vector<MeasuredOutcome> apply_measured(DayFile& file);

}  // namespace tillwrap::app
