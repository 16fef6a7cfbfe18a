// What tracking is asked.
#pragma once

#include <cstdint>

#include "odds/odds.hpp"

namespace tillwrap::track {

struct Options {
  odds::Spread spread;
  std::uint64_t seed = 1;
  double at_s = 0.0;                       // now
  double roll_s = 45.0 * 60.0;             // how long a take is asked about
  double search_beyond_s = 24.0 * 3600.0;  // past off
  double tolerance = 8.0;
  std::uint32_t points = 256;  // the first time; more until the effective sample is large enough
};

}  // namespace tillwrap::track
