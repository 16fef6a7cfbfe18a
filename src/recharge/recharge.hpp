// Which pack goes on which charger when, so that what the next day needs is ready by call: durations by the cell model,
// the plan by exact search, then every stay computed again as it will go.
#pragma once

#include <string>
#include <vector>

#include "recharge/plan.hpp"

namespace tillwrap::recharge {

struct Battery {
  day::Pack pack{};
  double charge = 1.0;
  double temperature_k = 293.15;  // when the rest begins
  int rank = -1;                  // order in which the next day needs it; -1: a spare
  double wanted = 1.0;            // charge at which it is ready; 1: what its charger calls full
};

struct Charger {
  std::string name;
  std::vector<std::string> fits;  // mounts
  int bays = 1;
  bool cell_a_bay = false;  // loose cells, one a bay
  bool in_turn = false;     // one bay after another, by itself
  double bay_a = 1.0;
  double together_a = 0.0;  // all bays; shared by those at work. 0: no limit
  double together_w = 0.0;  // the same in watts given out
  double end_fraction = 0.05;
  double put_in = 1.25;  // by coulombs
  double efficiency = 0.85;
  double coldest_k = 273.15;
  double hottest_k = 318.15;
  double surround_k = 293.15;  // where it stands
  int supply = -1;
  std::vector<day::Span> live{};
};

struct Supply {
  std::string name;
  double watts = kNoLimit;
};

struct Night {
  double from_s = 0.0;
  double until_s = 0.0;
  std::vector<day::Span> there{};
  std::vector<day::Span> asleep{};
  int most_get_ups = 1;
  std::vector<Battery> batteries{};
  std::vector<Charger> chargers{};
  std::vector<Supply> supplies{};
};

struct Row {
  double at_s = 0.0;
  double charge = 0.0;
};

// A battery (or some of its loose cells) in a charger, from in to out.
struct Stay {
  int battery = 0;
  int part = 0;  // of `parts`
  int parts = 1;
  int cells = 0;  // in this part; 0: the whole pack
  int charger = 0;
  int first_bay = 0;
  int bays = 1;
  double in_s = 0.0;
  double out_s = 0.0;
  double start_charge = 0.0;
  double end_charge = 0.0;
  double full_s = kNoLimit;
  double warming_s = 0.0;  // spent too cold or too hot to charge
  double put_in_j = 0.0;   // at the pack's terminals
  double taken_j = 0.0;    // from the supply
  double stored_j = 0.0;   // in the cells, at rested volts
  double put_in_as = 0.0;
  double stored_as = 0.0;
  std::vector<Row> rows{};
};

enum class Why { ready, time, no_charger, too_cold, too_hot, not_chargeable };

struct Outcome {
  double charge = 0.0;  // when the rest ends
  bool ready = false;
  double ready_s = kNoLimit;
  bool was_ready = false;  // from the start
  Why why = Why::ready;
  double alone_s = kNoLimit;  // charging time on its quickest charger, with nothing else in it
  double warm_s = 0.0;        // not charged before that moment
};

struct Answer {
  Plan plan;
  std::vector<Stay> stays;        // in order of time
  std::vector<Outcome> outcomes;  // by battery
  int needed = 0, needed_ready = 0;
  double differ_s = 0.0;  // most by which a computed end of charge differs from the plan's
};

// The planning problem; `task_of` says which battery and part each task is.
struct Posed {
  struct Of {
    int battery = 0;
    int part = 0;
    int parts = 1;
    int cells = 0;
  };
  Problem problem;
  std::vector<Of> task_of;
  std::vector<Outcome> outcomes;  // what is known before planning
};
Posed pose(const Night& night);

Answer recharge(const Night& night, long most_nodes = 400000);

// One thing that would help, and what it brings.
struct Help {
  enum class Kind { bay, charger, earlier, later, get_up, asleep, warmth, watts };
  Kind kind = Kind::bay;
  int charger = -1;
  int count = 0;         // bays more
  double seconds = 0.0;  // earlier, later
  int ready = 0;         // needed packs ready with it
  bool all = false;
};
// Smallest changes that make more of the needed packs ready, best first; empty when all are.
std::vector<Help> what_would_help(const Night& night, const Answer& answer, long most_nodes = 40000);

}  // namespace tillwrap::recharge
