// When packs are changed: times the user fixed, and moments chosen inside the windows for the rest.
#pragma once

#include "day/scenario.hpp"
#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

// Turns each holder's slots into timed changes. A slot without a time goes in at the last moment hands can reach the
// holder that still leaves `reserve_s` before the pack in it would stop serving; if no such moment exists, as soon as
// hands reach it again. Each choice is a simulated day.
ChangePlan plan_changes(const Model& model, double search_until_s);

// The day as it would go if `lost_pack` turned out dead the moment it is put in: the next pack of that holder takes its
// turn, then the kit's unused packs that fit, then half-used ones.
day::Scenario without_pack(const day::Scenario& scenario, const ChangePlan& plan, const DayRun& base, int lost_pack);

}  // namespace tillwrap::forecast
