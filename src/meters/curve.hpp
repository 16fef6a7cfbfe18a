// A discharge as the device sees it: its volts against what is left of what it can use.
#pragma once

#include <vector>

namespace tillwrap::meters {

// Rows by time, from the pack going in full to the moment the device goes off. `left` is the energy the packs still
// deliver at their contacts before that moment, over all they deliver from full: 1 to 0.
struct Curve {
  std::vector<double> at_s;
  std::vector<double> volts;  // at the device's terminals
  std::vector<double> left;
  double usable_j = 0.0;

  [[nodiscard]] bool empty() const { return at_s.size() < 2; }
  [[nodiscard]] double end_s() const { return empty() ? 0.0 : at_s.back(); }
  [[nodiscard]] double volts_at(double time_s) const;
  [[nodiscard]] double time_when_left(double share) const;  // s
  [[nodiscard]] double left_at(double time_s) const;
  // When the volts fall below `limit_v` for good (they do not come back above it); end_s() when they never do.
  [[nodiscard]] double falls_below_s(double limit_v) const;
};

}  // namespace tillwrap::meters
