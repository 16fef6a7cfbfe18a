// What a journal's facts say of a pack's health: its tests and field days, a line through them, when to retire it.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "app/field_turns.hpp"
#include "catalogue/catalogue.hpp"
#include "health/trend.hpp"
#include "journal/fold.hpp"

namespace tillwrap::app {

inline constexpr double kYear_us = 365.25 * 86400.0 * 1e6;

struct PackHistory {
  health::Band capacity;    // now, over new
  health::Band resistance;  // now, over new
  health::Trend trend;      // of capacity; years from `now_us`
  health::Trend resistance_trend;
  std::vector<health::Result> capacity_results;  // tests, all field days together as one, a health told on acquiring
  std::vector<health::Result> resistance_results;
  double new_years = 0.0;   // when it was new, from now; where that was never told: its first result
  health::Crossing retire;  // years from now; nothing: not within `kHorizon_years`
  std::size_t tests = 0;
  std::size_t field_days = 0;     // `used` lines from a told charge to a told charge, and turns that tell the capacity
  std::vector<TurnAnswer> turns;  // in which anything was read
  bool age_known = false;         // bought or acquired is told
};
inline constexpr double kHorizon_years = 20.0;

// A day on which charge is drawn from one told share of it to another says the capacity by coulombs over the
// difference: one standard deviation over the value. Shallower than `kLeastDepth` it says nothing.
inline constexpr double kLeastDepth = 0.3;
double field_day_sd(double depth);
inline constexpr double kFieldSd = 0.05;  // of any number of them: readings of one gauge err together

// Of a kind the catalogue does not have, days in use say nothing.
PackHistory pack_history(const journal::PackState& pack, const catalogue::Catalogue& catalogue, std::int64_t now_us);

// A pack bought on the same day, of the same kind, that holds more by more than chance.
struct WeakTwin {
  std::string stronger;
  double less = 0.0;  // of the capacity as new
};
std::optional<WeakTwin> weak_twin(const journal::State& state, const journal::PackState& pack, const PackHistory& own,
                                  const std::function<PackHistory(const journal::PackState&)>& history_of);

// What to do about it, in one sentence.
std::string advice(const journal::PackState& pack, const PackHistory& history, const std::optional<WeakTwin>& twin,
                   std::int64_t now_us);

// "2027-03" of so many years from now.
std::string month_text(std::int64_t now_us, double years);

}  // namespace tillwrap::app
