// Loss-only runs cruise over quiet stretches; their losses and the ends of packs must be those of the full stepping.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "forecast/fixed_seed.hpp"
#include "forecast/random_day.hpp"

namespace tillwrap::test {
namespace {

const FixedSeed kSeed("seed=20261126 max_success=120");

RC_GTEST_PROP(Cruise, LossesAreThoseOfTheFullStepping, ()) {
  const Kit kit = random_kit();
  const forecast::Model model(kit.day);
  const double until_s = kit.day.off_s + 6.0 * kHour_s;
  const forecast::ChangePlan plan = forecast::plan_changes(model, until_s);
  const forecast::DayRun full = forecast::run_day(model, plan, {.search_until_s = until_s, .tolerance = 0.1});
  const forecast::DayRun quick = forecast::run_day(model, plan, {.search_until_s = until_s, .longest_step_s = 7200.0, .tolerance = 1.0, .loss_only = true});
  RC_LOG() << "full " << full.first_loss.device << " at " << full.first_loss.at_s << ", quick " << quick.first_loss.device << " at " << quick.first_loss.at_s << "\n";
  RC_ASSERT(full.first_loss.device == quick.first_loss.device);
  if (full.first_loss.device >= 0) {
    const double lasts_s = full.first_loss.at_s - kit.day.periods.front().from_s;
    RC_ASSERT(std::fabs(full.first_loss.at_s - quick.first_loss.at_s) <= 1e-3 * lasts_s + 1.0);
    RC_ASSERT(full.first_loss.why.cause == quick.first_loss.why.cause);
  }
  RC_ASSERT(full.stints.size() == quick.stints.size());
  RC_ASSERT(quick.unsolved == 0);
}

}  // namespace
}  // namespace tillwrap::test
