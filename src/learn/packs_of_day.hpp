// What the readings of one day say of each pack in use on it. What is read is computed by the whole day's network, with
// all packs in: packs that feed one bus share what is read of the bus, and are told apart only as far as something
// does, such as the amps of each cup or the charge each came out with (docs/model.md, health from a day).
//
// Found together, by least squares against what is believed before: of each pack capacity, resistance and start charge;
// load, air, the bag's loss of heat, the leads; what each kind of reading is off by alike; and at each moment at which
// something was read the load at that moment. Two moments within minutes tell how the volts follow the load.
#pragma once

#include <optional>
#include <vector>

#include "day/scenario.hpp"
#include "fit/factor.hpp"
#include "odds/odds.hpp"
#include "track/reading.hpp"

namespace tillwrap::learn {

// The charge a pack came out with.
struct Told {
  int pack = 0;
  double at_s = 0.0;
  double charge = 0.0;
  double sd = 0.06;
};

// One standard deviation each; ln where a factor.
struct Options {
  odds::Spread spread{};  // load, air_k, bag
  double until_s = 0.0;   // nothing is read later
  double capacity = fit::kCapacityDoubt;
  std::vector<double> start_sd;  // of each pack's start charge; missing: 0.02
  double leads = 0.4;            // cables and contacts together; from memory
  double moment = 0.12;          // the load at one moment over its mode's: takes, standby; from memory
  double on_purpose = 2.0;       // at the lighter of two moments within minutes: something was switched; from memory
};

struct PackFound {
  int pack = 0;
  // Over the pack as the scenario has it; nothing: the readings say too little of it.
  std::optional<fit::Factor> capacity;
  std::optional<fit::Times> resistance;
  double capacity_left = 1.0, resistance_left = 1.0;  // share of the doubt before that is left
  // Where its resistance is not told: its standard deviation if on such a day volts, to a hundredth, and the amps of
  // its holder had been read three times with everything on and again with two thirds switched off; 0: not computed.
  double with_pairs_sd = 0.0;
};

// Two packs of which more is known together than of either.
struct Inseparable {
  int one = 0, other = 0;
  fit::Factor together;  // their capacity over that of both as the scenario has them
};

struct Found {
  std::vector<PackFound> packs;  // in use, in pieces of the day in which something was read
  std::vector<Inseparable> inseparable;
  std::vector<std::size_t> weighed;  // readings
  std::vector<std::size_t> aside;    // readings that no such day shows
  std::vector<std::size_t> off;      // readings of a kit that was off, not weighed
  bool fits = true;                  // false: nothing of the packs is told
};

// One standard deviation of volts read now and then, V: by the last digit their display shows.
double volts_scatter(const std::vector<double>& volts);

// Readings in any order; those after `until_s` and those of pieces without a pack are not weighed.
Found packs_of_day(const day::Scenario& scenario, const std::vector<track::Reading>& readings,
                   const std::vector<Told>& told, const Options& options);

}  // namespace tillwrap::learn
