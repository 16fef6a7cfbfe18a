// A change to come, as the page and `tillwrap track` are told it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/report_json.hpp"
#include "app/wording.hpp"
#include "day/scenario.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

// holder, place (of the holder), out, in (labels), in_waits (where it lies), planned_s, safe_s, likely_s, last_safe_s.
// `now_s`: what lies before it cannot be done any more.
Json change_json(const day::Scenario& day, const odds::ChangeOdds& change, double now_s);

// Last moment at which hands reach the holder while the pack in it is safe (nine days in ten it serves so long), from
// the moment that pack went in and from `now_s` on, at most to the end of the overrun. It may lie before the planned
// moment: then the plan is too late. Nothing where hands do not reach it in time.
std::optional<double> last_safe_s(const day::Scenario& day, const odds::ChangeOdds& change, double now_s);

// Whether the planned moment is more than a minute past that one.
bool plan_too_late(const odds::ChangeOdds& change, std::optional<double> last_safe_s);

// What is wrong with the planned moment, a sentence; empty when nothing is, or the pack in use is safe to off without
// it.
std::string change_warning(const day::Scenario& day, const odds::ChangeOdds& change, std::optional<double> last_safe_s,
                           const Wording& wording);
// Of all planned before off, in their order; after them what the odds make of such changes.
std::vector<std::string> change_warnings(const day::Scenario& day, const std::vector<odds::ChangeOdds>& changes,
                                         const Wording& wording);

}  // namespace tillwrap::app
