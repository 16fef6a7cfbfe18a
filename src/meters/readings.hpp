// "At this time it should read": volts, gauge and amps expected through the day, with the band drawn days leave, and
// the reading below which a pack would not last to its change.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "meters/feeds.hpp"
#include "odds/odds.hpp"

namespace tillwrap::meters {

struct Band {
  double expected = 0.0;         // the forecast's own
  double low = 0.0, high = 0.0;  // eight drawn days in ten, and the expected one
};

enum class Moment { period, hour, before_change, after_change, before_off };

struct Reading {
  double at_s = 0.0;
  Moment moment = Moment::hour;
  int pack = -1;
  Band volts;                 // at the device
  std::optional<Band> gauge;  // of the pack, 0 to 1
  Band amps;                  // out of the pack
  double until_s = 0.0;       // the pack's planned change, or off
  // At or below: one day in ten like this it would not serve to its change; with a change at a fixed time, not to the
  // reserve after it (a moment the forecast chose lies before the reserve already). Empty: no such reading is to be
  // expected, or the reading tells too little.
  std::optional<double> early_v, early_gauge;
};

struct ReadingList {
  int device = -1;
  int holder = -1;
  std::vector<Reading> rows;
};

// One list a feed asked for, in their order.
std::vector<ReadingList> expected_readings(const day::Scenario& scenario, const PlannedDay& planned,
                                           const std::vector<const Feed*>& asked, const odds::Spread& spread,
                                           std::uint32_t days, std::uint64_t seed);

// The value of x at or below which one y in ten, by the straight line of y on x and the spread about it, falls short of
// `need`. Empty when y does not rise with x, when x explains less than a tenth of y's variance, or when that x lies
// below all that is likely.
std::optional<double> early_below(const std::vector<double>& x, const std::vector<double>& y, double need);

}  // namespace tillwrap::meters
