// Several steps at once. What two steps give together is not the sum of what each gives: every set is a changed day of
// its own, computed like any other.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

#include "remedies/remedies.hpp"

namespace tillwrap::remedies {

struct StepSet {
  std::vector<int> steps;
  Outcome outcome;
  bool reaches = false;
  Cost cost;
};

// A set computed: what it gives, and what its steps take together, which need not be the sum of what each takes.
struct TriedSet {
  Tried tried;
  Cost cost;
};

// Computes sets of steps, in the order given; `quick` looks at what can be had at most: the forecast and, of the drawn
// days, the worst ones only. The cost is the same.
using Batch = std::function<std::vector<TriedSet>(const std::vector<std::vector<int>>& sets, bool quick)>;

// What all searches go by.
struct Search {
  Goal goal = Goal::reach_off;
  Outcome base;
  std::vector<Tried> single;  // every step alone
  std::vector<int> order;     // steps, the most promising first; only those in it are combined
  double overrun_s = 0.0;
  Batch compute;
};

struct PairBounds {
  std::size_t listed = 5;
  std::size_t computed = 300;  // quickly
  std::size_t drawn = 48;      // of which over all drawn days
};
struct Pairs {
  std::vector<StepSet> best;  // best first; each gives at least a minute more than the better of its two, or reaches
  std::size_t all = 0;        // pairs there are
  std::size_t tried = 0;      // quickly, those that exclude one another included
  std::size_t exclude = 0;    // of those, pairs that exclude one another
  std::size_t drawn = 0;
  std::size_t not_drawn = 0;  // of those tried, could be among the best and were not put on all drawn days
  bool complete = false;      // no pair left out could be among the best
  PairBounds bounds;          // that left them out
};
// Pairs that reach the goal go by cost, then gain; others by gain in whole minutes, then cost. Where there are more
// pairs than may be computed, those of the first steps in `order` are. A quick look is never worse than the whole, so
// the pairs go onto all drawn days in the order of the best they can come to, until none that is left can be better
// than the last one listed.
Pairs pairs(const Search& search, const PairBounds& bounds);

// When no pair reaches the goal: grows the best few a step at a time, each time trying every further step, until one
// reaches it or nothing helps any more. Greedy, so a set of three or more may not be the smallest.
StepSet smallest_set(const Search& search, const Pairs& pairs);

}  // namespace tillwrap::remedies
