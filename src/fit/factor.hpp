// A pack's capacity and resistance over new, as readings tell them.
#pragma once

#include <optional>

namespace tillwrap::fit {

struct Factor {
  double value = 1.0;  // over the pack as new
  double ln_sd = 0.0;
};

// As a number and not its logarithm: volts go in a straight line with it. In ln the same readings would seem to tell
// more of a high resistance than of a low one, and those that are told would be those that came out too high.
struct Times {
  double value = 1.0;  // as high as new; noise may carry it below
  double sd = 0.0;
};

// Before any reading, one standard deviation each: packs in use keep 70 to 105 % and have up to twice the resistance;
// common practice, no source.
inline constexpr double kCapacityDoubt = 0.25;                             // of ln
inline constexpr double kResistanceDoubt = 0.6;                            // of ln, where a whole log tells it
inline constexpr double kResistanceMiddle = 1.5, kResistanceSpread = 0.8;  // as a number

// A result with more spread than this says nothing.
inline constexpr double kTellsCapacity = 0.25, kTellsResistance = 0.6;

// Where an unknown of prior variance 1 around 0 is put; never below what leaves a cell a cell.
double resistance_at(double x);

// What readings alone say: a posterior of that mean and variance, in units of the prior's spread around its middle,
// with the prior divided out again (both taken for Gaussian). Nothing where that is wider than `most`; of a resistance,
// where it is the prior or wider.
std::optional<Factor> alone(double mean, double variance, double prior_ln_sd, double most);
std::optional<Times> resistance_alone(double mean, double variance);
// Its standard deviation.
double resistance_sd_alone(double variance);

}  // namespace tillwrap::fit
