// What a reading of volts is worth against the clock: how well each tells the time left, over many drawn discharges.
#pragma once

#include <vector>

#include "meters/curve.hpp"

namespace tillwrap::meters {

// Half the width of the band that holds eight discharges in ten, s.
struct Worth {
  double clock_s = 0.0;  // knowing only when the pack went in
  double volts_s = 0.0;  // knowing only the volts shown
};

enum class Guide {
  volts,             // from half on, volts tell more
  clock_then_volts,  // only towards the end
  clock,             // volts tell less even where one would warn
};

struct Guidance {
  Guide guide = Guide::clock;
  double volts_below = 0.0;  // share of the usable energy below which volts tell more than the clock
  Worth half, warning;
};

// `display_v`: step of the meter's display. `warn_left`: share at which one would warn. Curves that never got going are
// left out.
Guidance guidance(const Curve& nominal, const std::vector<Curve>& drawn, double display_v, double warn_left);

// p-quantile of sorted values, straight lines between them.
double quantile(const std::vector<double>& sorted, double p);

}  // namespace tillwrap::meters
