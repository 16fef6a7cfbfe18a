// When packs are changed: times the user fixed, moments chosen inside the windows for the rest, and what the recordist
// would do if one pack turned out dead.
#pragma once

#include "day/scenario.hpp"
#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

// Turns each holder's slots into timed changes. A slot without a time goes in at the last moment hands can reach the
// holder that still leaves `reserve_s` before the pack in it would stop serving; if no such moment exists, as soon as
// hands reach it again. Each choice is a simulated day, stepped to `tolerance`: a day run as finely ends its packs at
// the same moments.
ChangePlan plan_changes(const Model& model, double search_until_s, double tolerance = 1.0);
// The same with a simulator of that model, going on from `marks` of that day's earlier runs with it.
ChangePlan plan_changes(const Model& model, double search_until_s, double tolerance, Simulator& simulator,
                        Marks& marks);

// The changes if `lost_pack` turned out dead the moment it goes in (or, being the first, before the day): everything up
// to its turn stays; from there on its holder takes, each time, the fullest pack of the kit that fits and is not at
// work elsewhere (one on a charger may be taken off it), changed by the same rule.
ChangePlan plan_without(const Model& model, const ChangePlan& plan, int lost_pack, double search_until_s);

// A pack stopped serving before its change was due, or while one waits that was not planned for: hands watching the
// meter would have changed it sooner.
bool ended_early(const day::Scenario& day, const ChangePlan& plan, const DayRun& run);
// Has slots whose moment the day decides.
bool plans_anew(const day::Scenario& day);

}  // namespace tillwrap::forecast
