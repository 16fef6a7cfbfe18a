// What the parts of cruising share (cruise.cpp, cruise_together.cpp).
#pragma once

namespace tillwrap::forecast {

// Newton squares its error: a change of this share leaves less than a millionth of the current.
inline constexpr double kAmpShare = 1e-3;
// Such a change of the first guess leaves two millionths, and the volts follow in a straight line.
inline constexpr double kGuessShare = 1.5e-3;
inline constexpr int kMostCruiseIterations = 30;
inline constexpr double kFuseRoom = 0.8;  // share of the hold current; a warming bag lowers a protector's
inline constexpr double kNoLimit_a = 1e9;

}  // namespace tillwrap::forecast
