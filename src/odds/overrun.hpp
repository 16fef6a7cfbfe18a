// How late a day really goes past off: one more unknown, drawn beside the others.
#pragma once

#include <cstdint>

namespace tillwrap::odds {

// Its dimension of the sequence, after those of the common unknowns: days drawn before it was there stay as they are.
inline constexpr int kOverrunDimension = 6;

// Seconds past off on day `day` of `seed`: the size of a normal number times `spread` (a fraction of what the day may
// overrun), at most `most_s`, which the day itself states. With 0.5 two days in three go at most half of it over, one
// in twenty takes it whole.
double overrun_on(std::uint32_t day, std::uint64_t seed, double spread, double most_s);

}  // namespace tillwrap::odds
