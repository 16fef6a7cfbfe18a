// The night as a planning problem, and the best plan there is for it.
//
// Tasks (packs, or as many loose cells as a charger takes at once) go into chargers. Hands are there in given stretches
// only. How long a task takes is a curve: the share of what has to go in, over time, one for each number of tasks that
// share the charger's current. A plan may act when somebody comes, when somebody goes or lies down, at a time to get
// up, when the power comes or goes, and, while somebody is there, whenever a task is done; then a task that is not done
// stays where it is. Within these plans the search is exact.
//
// Cost, lexicographic: needed tasks not ready; which (in order of need); watt-hours they are short; times to get up;
// watt-hours others are short; seconds of charging while everybody sleeps; times a pack is put in; minutes spent full
// before the end, of tasks that age by it. All of packs together.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include "day/scenario.hpp"

namespace tillwrap::recharge {

inline constexpr double kNoLimit = std::numeric_limits<double>::infinity();

// Share of what has to go in, 0..1 and rising, over seconds of charging.
struct Curve {
  std::vector<double> at_s;
  std::vector<double> share;

  [[nodiscard]] double seconds_at(double share_in) const;  // when that share is reached
  [[nodiscard]] double share_at(double seconds) const;
  [[nodiscard]] double length_s() const { return at_s.empty() ? 0.0 : at_s.back(); }
};

// A task on a charger. No curves: it does not fit there.
struct Fit {
  std::vector<Curve> with;    // [k]: k + 1 tasks share the charger
  std::vector<double> watts;  // [k]: taken from the supply by this one then
  int bays = 1;               // it takes up
};

struct Task {
  std::string name;
  int rank = -1;  // order of need, 0 first; -1: not needed
  double missing_wh = 0.0;
  double ready_share = 1.0;   // ready when that much of it is in
  double not_before_s = 0.0;  // too cold or too hot until then
  bool ages_full = true;      // minutes spent full cost
  std::vector<Fit> on;        // by charger
};

struct Station {
  std::string name;
  int bays = 1;
  bool in_turn = false;  // one after another, by itself, in the order put in
  int supply = -1;
  std::vector<day::Span> live{};  // in order
};

struct Problem {
  double from_s = 0.0;
  double until_s = 0.0;
  std::vector<day::Span> there{};   // somebody is awake and near; in order
  std::vector<day::Span> asleep{};  // somebody sleeps in the room: charging goes on, hands do not
  std::vector<Task> tasks{};
  std::vector<Station> stations{};
  std::vector<double> supply_w{};  // by supply, kNoLimit
  int most_get_ups = 0;
  double get_up_grid_s = 900.0;
};

enum Level { not_ready, which, short_needed, get_ups, short_others, asleep_s, put_ins, full_minutes, kLevels };
// What a needed task that is not ready weighs in `which`: earlier ones more than all later ones together.
std::int64_t weight_of(int rank);

using Cost = std::array<std::int64_t, kLevels>;

struct Move {
  double at_s = 0.0;
  int task = 0;
  int station = -1;  // -1: out
};

struct Plan {
  Cost cost{};
  Cost bound{};          // no plan of the kind above costs less; equal to `cost` when `complete`
  bool complete = true;  // the search was not cut short
  long nodes = 0;
  std::vector<double> get_up_s{};
  std::vector<Move> moves{};      // in order of time
  std::vector<double> share{};    // by task, at the end
  std::vector<double> ready_s{};  // by task; infinity: not
};

// `most_nodes` bounds the search: past it the best found is given and `complete` is false.
Plan best_plan(const Problem& problem, long most_nodes = 400000);

}  // namespace tillwrap::recharge
