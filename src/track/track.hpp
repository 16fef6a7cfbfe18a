// What the readings of a running day say of how it will go on: the day is replayed with a few unknowns that stay the
// same all day (odds/draw.hpp), points of them are weighted by how well they explain what was read, and the same runs
// carried on tell when it ends (docs/model.md, tracking).
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "odds/odds.hpp"
#include "odds/work.hpp"
#include "track/proposal.hpp"
#include "track/reading.hpp"

namespace tillwrap::track {

struct Options {
  odds::Spread spread;
  std::uint64_t seed = 1;
  double at_s = 0.0;                       // now
  double roll_s = 45.0 * 60.0;             // how long a take is asked about
  double search_beyond_s = 24.0 * 3600.0;  // past off
  double tolerance = 8.0;
  std::uint32_t points = 256;  // at a time, until the effective sample is large enough
};

struct Explained {               // one reading, by the weighted points
  double expected = 0.0;         // median of what the model gives there
  double low = 0.0, high = 0.0;  // 5 and 95 %, the reading's own scatter not counted
  double doubt = 0.0;            // probability that it is a mistake
  // Of a doubted one: the value that a slip of the decimal point would make of it, 0 = none fits; and the other thing
  // of its kind that it fits, -1 = none.
  double slipped = 0.0;
  int other = -1;
};

struct Unknown {
  std::string name;
  double left = 1.0;  // standard deviation after the readings over that before
};

// How often a device is the first to go, as planned, up to the end of the search.
struct FirstToGo {
  int device = 0;
  double share = 0.0;  // of the weight
};

struct Answer {
  double effective = 0.0;  // sample size
  int rounds = 0;
  bool settled = false;                               // effective sample of at least 400
  double probability = 0.0;                           // every must-run device reaches off
  double safe_s = 0.0, likely_s = 0.0, long_s = 0.0;  // when it ends: 10, 50, 90 %
  double plan_safe_s = 0.0, plan_likely_s = 0.0;      // before the readings
  double hands_safe_s = 0.0, hands_likely_s = 0.0;    // until when it runs if nobody changes anything from now on
  double roll_probability = 0.0;                      // it runs for roll_s from now with no hands on it
  std::vector<FirstToGo> first_to_go;                 // most often first
  std::vector<odds::ChangeOdds> changes;              // of each holder the next to come, the soonest needed first
  std::vector<Explained> readings;                    // one each
  std::vector<Unknown> unknowns;
  std::vector<double> ends_s;  // of the final points, and their weights, for whoever wants the whole band
  std::vector<double> weights;
};

// Value below which a share `p` of the weight lies.
double weighted_quantile(std::vector<double> values, const std::vector<double>& weights, double p);

// Readings in any order, none after `at_s`; the same answer however `each` shares the work out. Throws
// std::invalid_argument when an index is out of range or a meter's scale is missing.
Answer track(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options,
             const odds::Each& each = odds::one_after_another);

}  // namespace tillwrap::track
