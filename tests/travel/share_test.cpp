// Sharing out against trying every way.
#include "travel/share.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <numeric>

namespace tillwrap::travel {
namespace {

// Every thing to every person in turn: no cleverness.
bool some_way(const std::vector<std::vector<int>>& things, std::size_t next, std::vector<std::vector<int>>& room) {
  if (next == things.size()) return true;
  for (std::vector<int>& person : room) {
    bool fits = true;
    for (std::size_t k = 0; k < person.size(); ++k) fits = fits && things[next][k] <= person[k];
    if (!fits) continue;
    for (std::size_t k = 0; k < person.size(); ++k) person[k] -= things[next][k];
    const bool found = some_way(things, next + 1, room);
    for (std::size_t k = 0; k < person.size(); ++k) person[k] += things[next][k];
    if (found) return true;
  }
  return false;
}

bool some_way(const std::vector<Load>& loads, const std::vector<int>& most, int people) {
  std::vector<std::vector<int>> things;
  for (const Load& load : loads) things.insert(things.end(), static_cast<std::size_t>(load.count), load.weights);
  std::vector<std::vector<int>> room(static_cast<std::size_t>(people), most);
  return some_way(things, 0, room);
}

void check_shares(const std::vector<Load>& loads, const std::vector<int>& most, const Shares& shares) {
  for (std::size_t i = 0; i < loads.size(); ++i) {
    int all = 0;
    for (const std::vector<int>& person : shares) {
      RC_ASSERT(person[i] >= 0);
      all += person[i];
    }
    RC_ASSERT(all == loads[i].count);
  }
  for (const std::vector<int>& person : shares) {
    for (std::size_t k = 0; k < most.size(); ++k) {
      int sum = 0;
      for (std::size_t i = 0; i < loads.size(); ++i) sum += person[i] * loads[i].weights[k];
      RC_ASSERT(sum <= most[k]);
    }
  }
}

// Weights of 0 to 2 and up to three limits that overlap as they like: harder than any rule in print.
RC_GTEST_PROP(Share, AsTryingEveryWay, ()) {
  const int limits = *rc::gen::inRange(1, 4);
  std::vector<int> most;
  for (int k = 0; k < limits; ++k) most.push_back(*rc::gen::inRange(0, 5));
  std::vector<Load> loads;
  int things = 0;
  const int kinds = *rc::gen::inRange(1, 5);
  for (int i = 0; i < kinds; ++i) {
    Load load{.count = *rc::gen::inRange(0, 4)};
    for (int k = 0; k < limits; ++k) load.weights.push_back(*rc::gen::inRange(0, 3));
    things += load.count;
    loads.push_back(load);
  }
  const int people = *rc::gen::inRange(1, 5);
  const auto shares = share(loads, most, people);
  RC_ASSERT(shares.has_value() == some_way(loads, most, people));
  if (shares) check_shares(loads, most, *shares);
  const auto needed = people_needed(loads, most);
  RC_ASSERT(needed.has_value() == some_way(loads, most, std::max(things, 1)));
  if (needed) {
    RC_ASSERT(some_way(loads, most, *needed));
    const bool fewer_do = *needed > 0 && some_way(loads, most, *needed - 1);
    RC_ASSERT(!fewer_do);
  }
}

// The limits of the rules: 20 spares of which 2 approved and 2 banks, both sets overlapping. Then the sums decide
// (the sets make two nested families: totally unimodular, Ghouila-Houri 1962), however large the heap.
RC_GTEST_PROP(Share, SumsDecideForTheRulesOfFlight, ()) {
  const std::vector<int> most = {20, 2, 2, 15};
  const std::vector<Load> loads = {{*rc::gen::inRange(0, 200), {1, 0, 0, 0}}, {*rc::gen::inRange(0, 12), {1, 1, 0, 0}},
                                   {*rc::gen::inRange(0, 12), {1, 0, 1, 0}},  {*rc::gen::inRange(0, 12), {1, 1, 1, 0}},
                                   {*rc::gen::inRange(0, 60), {0, 0, 0, 1}},  {*rc::gen::inRange(0, 60), {0, 0, 0, 0}}};
  int expected = 0;
  for (std::size_t k = 0; k < most.size(); ++k) {
    int sum = 0;
    for (const Load& load : loads) sum += load.count * load.weights[k];
    expected = std::max(expected, (sum + most[k] - 1) / most[k]);
  }
  if (expected == 0 && loads.back().count > 0) expected = 1;
  RC_ASSERT(people_needed(loads, most) == expected);
  const auto shares = share(loads, most, std::max(expected, 1));
  RC_ASSERT(shares.has_value());
  check_shares(loads, most, *shares);
}

}  // namespace
}  // namespace tillwrap::travel
