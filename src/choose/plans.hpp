// Between the search and the kit: poses the problem for holders that stand alone and those that feed things together,
// puts names to what was found, and says what is missing when nothing was.
#pragma once

#include <vector>

#include "choose/choose.hpp"
#include "choose/setup.hpp"
#include "choose/tables.hpp"
#include "choose/whole_days.hpp"

namespace tillwrap::choose {

struct Best {
  Answer answer;
  std::vector<Task> tasks;                // the answer's holders; then the seats of each group
  std::vector<std::vector<Task>> groups;  // searched as one
};

std::vector<int> stock_of(const Setup& setup);

Best best_plan(const Setup& setup, const Options& options, Tables& tables, int days, int need,
               const std::vector<int>& stock);

// Fills in assignments, charging, spares, what stays home.
NamedPlan name_packs(const day::Scenario& scenario, const Setup& setup, const Options& options, Tables& tables,
                     const Best& best, Choice& choice);

// Fills in shortages and additions.
void explain_shortage(const Setup& setup, const Options& options, Tables& tables, int days, int need, const Best& best,
                      Choice& choice);

}  // namespace tillwrap::choose
