// Which packs to bring, where each goes, in what order, changed when, charged where: the best plan there is on the same
// few hundred drawn days, judged by full simulation of those days and of ten thousand fresh ones.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "choose/search.hpp"
#include "day/scenario.hpp"
#include "forecast/result.hpp"
#include "odds/odds.hpp"
#include "odds/work.hpp"

namespace tillwrap::choose {

// What taking and using a pack costs.
struct PackCost {
  std::int64_t grams = 0;
  std::int64_t cents = 0;  // spent when it is used: cells thrown away
  bool thrown_away = false;
};

// A pack that is not in the kit but could be added.
struct Candidate {
  std::string name;
  day::Pack pack;
  PackCost cost;
};

struct Options {
  double sure = 0.95;
  bool one_loss = false;
  double overrun_s = 0.0;  // to be reached after off
  odds::OddsOptions odds;  // spread, seed
  std::uint32_t fresh_days = 10000;
  std::vector<PackCost> costs;  // by pack of the scenario
  std::vector<double> worn;  // by pack of the scenario: of a kind the least worn is taken first; empty: the strongest
  std::vector<Candidate> candidates;
  bool look_for_additions = true;
  bool plan_only = false;  // no shortages, additions or stand-ins told; one-loss only where it is asked for
  odds::Each each;
  odds::Tell tell;
};

struct PackTurn {
  int pack = 0;  // of the scenario
  double in_s = 0.0;
  double out_s = 0.0;
  double last_safe_s = 0.0;  // the change that puts it in may wait until then; the first: as in_s
  double window_from_s = 0.0;
  double window_until_s = 0.0;
  bool charged = false;  // was in a bay since it last served here
};

struct Assignment {
  int holder = 0;
  bool must_run = true;  // feeds what has to run; others take what is left
  bool fixed = false;    // built in
  std::vector<PackTurn> turns;
};

struct Stay {
  int pack = 0;
  int bay = 0;  // holder of the scenario
  double from_s = 0.0;
  double until_s = 0.0;
};

// What takes a dead pack's place.
struct StandIn {
  int pack = 0;
  int holder = 0;
  int spare = -1;      // a spare; -1: nothing, see `stays`
  bool stays = false;  // the pack ahead of it stays in
  int covered = 0;     // days of `days`, whole days simulated
  bool holds = false;
};

struct Shortage {
  int holder = -1;
  double from_s = 0.0;  // must-run devices there are lost from then on, on too many days
  bool shared = false;  // it could be served if the others were not
};

struct Addition {
  std::vector<std::string> names;  // kinds: mounts of the kit or names of candidates
  std::int64_t grams = 0;
  std::int64_t cents = 0;
  double probability = 0.0;  // on the common days
};

struct Choice {
  bool feasible = false;
  int days = 0, need = 0;  // common days; how many must be covered
  int covered = 0;         // of them, whole days simulated
  int differ = 0;          // days on which tables and whole days disagree about this plan
  std::uint32_t fresh_days = 0;
  double probability = 0.0;  // on fresh days; with the overrun asked for
  double half_width = 0.0;
  bool fresh_holds = false;
  int raised = 0;         // times `need` was raised because the days above asked for it
  bool one_loss = false;  // any one pack may die
  std::vector<StandIn> stand_ins;
  bool proven_best = false;
  int together = 0;      // groups of holders that feed a thing together: planned as one
  bool complete = true;  // no limit cut the search short
  Cost cost;
  Cost bound;
  std::vector<Assignment> assignments;
  std::vector<Stay> charging;
  std::vector<int> spares;     // come along and are not planned
  std::vector<int> home;       // stay at home
  std::vector<int> left_free;  // must-run holders that get no pack (a bridge that is not needed)
  std::vector<Shortage> shortages;
  std::vector<Addition> additions;
  double end_s = 0.0;
  int kinds = 0;
  day::Scenario scenario;  // with the chosen packs and times in its slots
};

// The scenario must have passed validation and have a must-run device.
Choice choose(const day::Scenario& scenario, const Options& options);

}  // namespace tillwrap::choose
