// A change to come, as the page and `tillwrap track` are told it.
#pragma once

#include <optional>

#include "app/report_json.hpp"
#include "day/scenario.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

// holder, place (of the holder), out, in (labels), in_waits (where it lies), planned_s, safe_s, likely_s, last_safe_s.
Json change_json(const day::Scenario& day, const odds::ChangeOdds& change);

// Last moment from `now_s` on at which hands reach the holder while the pack in it is safe; nothing where they do not.
std::optional<double> last_reach_s(const day::Scenario& day, const odds::ChangeOdds& change, double now_s);

}  // namespace tillwrap::app
