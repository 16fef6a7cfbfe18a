// The use case behind `tillwrap remedies`: every step computed, ranked; pairs and larger sets of them where
// no single one suffices.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/remedy_steps.hpp"
#include "app/remedy_taken.hpp"
#include "odds/work.hpp"
#include "remedies/sets.hpp"

namespace tillwrap::app {

struct RemedyOptions {
  std::uint32_t days = 128;  // drawn for each step that helps
  std::uint64_t seed = 1;
  bool no_help_too = false;      // list also what does not help
  std::size_t most_pairs = 300;  // computed, where no single step is enough; 0: no sets are looked for
  odds::Tell tell;
};

struct RemedyAnswer {
  remedies::Goal goal = remedies::Goal::reach_off;
  remedies::Outcome base;
  std::vector<RemedyStep> steps;
  std::vector<remedies::Tried> tried;  // one a step
  std::vector<Taken> taken;            // one a step
  std::vector<std::string> why_not;    // of steps that are not possible here
  std::vector<int> ranked;
  int cheapest = -1;                     // step that reaches the goal at the least cost
  std::optional<remedies::Pairs> pairs;  // where no single one does
  std::vector<Taken> pairs_taken;        // one for each of its best
  remedies::StepSet set;                 // empty when a single step reaches the goal, or none helps
  Taken set_taken;
};

// `file` is `document` read, measured draws applied.
RemedyAnswer find_remedies(const decode::Document& document, const DayFile& file, const catalogue::Catalogue& catalogue,
                           const RemedyOptions& options, const odds::Each& each);

}  // namespace tillwrap::app
