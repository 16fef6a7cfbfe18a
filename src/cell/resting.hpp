// A pack at rest: what it loses by itself (docs/model.md, self-discharge).
//
//   dz/dt = -k z - i/Q,   k = -ln(1 - s) / month x 2^((T - 20 °C) / 10 K)
//
// s is the cell's loss in a month of 30 days at 20 °C; i what the pack's own electronics take.
#pragma once

#include "cell/pack.hpp"

namespace tillwrap::cell {

inline constexpr double kMonth_s = 30.0 * 86400.0;

struct Rest {
  double for_s = 0.0;
  double temperature_k = 293.15;
  bool in_holder = false;    // the electronics are awake and take all of `idle_a`
  double rate_factor = 1.0;  // over the usual rate, for a band
};

// What the electronics take, A of the whole pack. Out of a holder they sleep: at most 2 % of the capacity a month
// (1 to 3 %, from memory).
double resting_a(const PackParams& params, bool in_holder);

// Charge of the ordinary cells after the rest, never below 0.
double charge_after_rest(const PackParams& params, double charge, const Rest& rest);

}  // namespace tillwrap::cell
