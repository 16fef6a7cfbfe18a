// A run that goes on from where an earlier one stood gives the bits of a run from the day's start.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "forecast/fixed_seed.hpp"
#include "forecast/random_day.hpp"

namespace tillwrap::test {
namespace {

const FixedSeed kSeed("seed=20261130 max_success=60");

void same(const forecast::DayRun& one, const forecast::DayRun& other) {
  RC_ASSERT(one.first_loss.device == other.first_loss.device);
  RC_ASSERT(one.first_loss.at_s == other.first_loss.at_s);
  RC_ASSERT(one.searched_until_s == other.searched_until_s);
  RC_ASSERT(one.charge == other.charge);
  RC_ASSERT(one.changes.size() == other.changes.size());
  RC_ASSERT(one.stints.size() == other.stints.size());
  for (std::size_t k = 0; k < one.stints.size(); ++k) {
    RC_ASSERT(one.stints[k].in_s == other.stints[k].in_s);
    RC_ASSERT(one.stints[k].out_s == other.stints[k].out_s);
    RC_ASSERT(one.stints[k].ended_s == other.stints[k].ended_s);
    RC_ASSERT(one.stints[k].end_charge == other.stints[k].end_charge);
    RC_ASSERT(one.stints[k].lowest_k == other.stints[k].lowest_k);
  }
  for (std::size_t d = 0; d < one.devices.size(); ++d) RC_ASSERT(one.devices[d].off_s == other.devices[d].off_s);
}

// Changes at drawn moments, some taken back, some runs ended at a loss or a moment, all with the same marks.
RC_GTEST_PROP(Marks, GoingOnIsAsFromTheStart, ()) {
  const Kit kit = random_kit();
  const forecast::Model model(kit.day);
  const double start_s = kit.day.periods.front().from_s;
  const double until_s = kit.day.off_s + 3.0 * kHour_s;
  forecast::ChangePlan plan = forecast::plan_changes(model, until_s);
  forecast::Simulator going_on(model);
  forecast::Simulator anew(model);
  forecast::Marks marks;
  forecast::DayRun one;
  forecast::DayRun other;
  for (int turn = 0; turn < 8; ++turn) {
    forecast::RunOptions options{
        .search_until_s = until_s, .longest_step_s = 7200.0, .tolerance = 8.0, .loss_only = true};
    options.stop_at_loss = one_in(2);
    if (one_in(3)) options.stop_s = between(start_s, until_s);
    going_on.run(plan, options, one, marks);
    anew.run(plan, options, other);
    same(one, other);
    if (!plan.empty() && one_in(3)) {
      plan.erase(plan.begin() + *rc::gen::inRange(0, static_cast<int>(plan.size())));
    } else {
      plan.push_back({.holder = *rc::gen::inRange(0, static_cast<int>(kit.day.holders.size())),
                      .pack = *rc::gen::inRange(0, static_cast<int>(kit.day.packs.size())),
                      .at_s = between(start_s, until_s)});
    }
    std::stable_sort(plan.begin(), plan.end(), [](const auto& a, const auto& b) { return a.at_s < b.at_s; });
  }
}

}  // namespace
}  // namespace tillwrap::test
