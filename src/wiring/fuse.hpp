// Fuses and resettable (PPTC) protectors: when a current opens them.
#pragma once

#include <string>
#include <vector>

#include "quantity/curve.hpp"

namespace tillwrap::wiring {

// One point of a time-current limit: at `ratio` times the rated current it opens within `within_s`.
struct FusePoint {
  double ratio = 1.0;
  double within_s = 0.0;
};

// What a fuse standard promises. A fuse carries up to `holds_ratio` for ever; above the first point it opens within the
// standard's time, read between points on log-log axes; between the two it is taken to hold (the standard is silent).
struct FuseLaw {
  std::string standard;  // "UL 248-14", "IEC 60127 F", ...
  double holds_ratio = 1.0;
  double long_load_ratio = 1.0;   // load it to no more than this for hours
  std::vector<FusePoint> points;  // ascending ratio
  bool resettable = false;        // PPTC
  Curve derating;                 // PPTC: hold current over its 23 °C value, against temperature in K
  double trip_over_hold = 2.0;    // PPTC: certain trip over hold current
};

// Seconds to open at a steady `ratio` of rated current; +inf when it holds. Throws std::invalid_argument on no points.
double seconds_to_open(const FuseLaw& law, double ratio);

// Current a protector is sure to carry at an ambient temperature, A.
double hold_current_a(const FuseLaw& law, double rated_a, double ambient_k);

// Rate at which it is used up, 1/s: it opens when the integral reaches 1. A fuse recovers nothing; a PPTC's heat decays
// with its own time constant, see forecast.
double opening_rate_per_s(const FuseLaw& law, double rated_a, double ambient_k, double current_a);

}  // namespace tillwrap::wiring
