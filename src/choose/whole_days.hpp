// A chosen plan as a day of its own, and that day simulated whole on the common days.
#pragma once

#include <vector>

#include "choose/choose.hpp"
#include "choose/setup.hpp"
#include "choose/tables.hpp"

namespace tillwrap::choose {

// Everything a plan puts anywhere, by name.
struct NamedPlan {
  struct Put {
    int holder = 0;
    int pack = 0;   // of the scenario
    int drawn = 0;  // whose luck it has in the tables
    double in_s = 0.0;
    double out_s = 0.0;  // bays
  };
  std::vector<Put> puts;
};

// The scenario with these slots, all with times, and no others but those of built-in holders.
day::Scenario scenario_of(const day::Scenario& scenario, const NamedPlan& plan);

// First must-run loss of each common day, one list a piece of the day; kNever when there is none before `end_s`.
struct PieceDays {
  std::vector<int> holders;
  std::vector<double> until_s;
};
// `only_holder`: just the piece it is in; -1: all.
std::vector<PieceDays> whole_days(const day::Scenario& scenario, const NamedPlan& plan, const Tables& tables,
                                  const Options& options, double end_s, int only_holder);

// Days on which no piece loses anything.
int covered_days(const std::vector<PieceDays>& pieces, int days);

// The same with the piece of `changed` in place of its own.
int covered_with(const std::vector<PieceDays>& pieces, const PieceDays& changed, int holder, int days);

}  // namespace tillwrap::choose
