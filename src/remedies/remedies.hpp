// What a step buys: the day computed with it, against the day computed without it, over the same drawn days, so that
// differences are the step's and not chance. Ranks steps.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "odds/odds.hpp"

namespace tillwrap::remedies {

// What there is to win.
enum class Goal {
  reach_off,  // nine days in ten end at off or later
  one_loss,   // that holds already: any one pack may be dead
  overrun,    // both hold: nine days in ten last through the overrun
  more,       // all hold: more margin
};

struct Outcome {
  double margin_s = 0.0;  // as stated: first must-run loss after off; negative: before
  bool margin_is_least = false;
  double safe_margin_s = 0.0;    // one day in ten ends earlier; never more than margin_s, as in a forecast
  double likely_margin_s = 0.0;  // every other day ends earlier; margin_s where not all days were drawn
  double probability = 0.0;      // share of the drawn days that reach off
  // The loss the margin counts from; empty: none found.
  std::string lost_device;
  double lost_at_s = 0.0;
  forecast::Cause cause = forecast::Cause::none;
  std::string lost_pack;  // label, where a pack is to blame
  // Only where asked for.
  bool with_one_loss = false;
  bool one_loss_holds = false;
  double one_loss_margin_s = 0.0;           // of the worst case
  double one_loss_short_s = 0.0;            // how far the cases that fail end before off, added up
  std::string one_loss_pack;                // the pack whose loss hurts most
  std::vector<std::string> one_loss_fails;  // packs whose loss the day does not survive, worst first
};

struct Depth {
  std::uint32_t days = 256;  // 0: no odds, safe_margin_s is margin_s
  std::uint64_t seed = 1;
  odds::Spread spread;
  bool one_loss = false;
  std::vector<std::string> only_lost;  // labels; empty: every pack in use
  // Of the drawn days only these: safe_margin_s is then the most it can be over all of them.
  std::vector<std::uint32_t> only_days;
};

// The drawn days that end first, enough of them for a bound on the tenth part: what lifts the safe margin lifts these.
std::vector<std::uint32_t> worst_days(const day::Scenario& scenario, const Depth& depth);

// Pure: same scenario and depth, same bytes.
Outcome measure(const day::Scenario& scenario, const Depth& depth);

// A quick look, for telling apart what does something from what does nothing: coarse steps; of the odds so many days
// (0: none), of the single losses those named only.
struct Glance {
  double margin_s = 0.0;
  double safe_margin_s = 0.0;
  double one_loss_short_s = 0.0;  // of those named, added up
};
Glance glance(const day::Scenario& scenario, const Depth& depth);

Goal goal_of(const Outcome& base, double overrun_s);
bool reached(Goal goal, const Outcome& outcome, double overrun_s);
// What the goal is measured by, s; larger is better.
double score(Goal goal, const Outcome& outcome);

// What a step asks for.
struct Cost {
  double money = 0.0;  // the user's price, else the catalogue's guess
  double mass_kg = 0.0;
  double hands_s = 0.0;  // on the day
  bool ask = false;      // somebody else has to agree
  bool buy = false;
};

// Cheaper first: nothing to buy, then money, then nobody to ask, then hands, then weight.
bool cheaper(const Cost& a, const Cost& b);
Cost sum(const std::vector<Cost>& costs);

inline constexpr double kWorthWhile_s = 60.0;  // less is no help
double whole_minutes(double seconds);

struct Tried {
  bool possible = false;  // the changed day could be computed
  Outcome outcome;
};

// Steps that help, best first: those that reach the goal before those that do not; for `one_loss` and `overrun` those
// that reach it go by cost, all others by what they gain. Gains within a minute count as equal and go by cost.
std::vector<int> ranked(Goal goal, const Outcome& base, const std::vector<Tried>& tried, const std::vector<Cost>& costs,
                        double overrun_s);

// The step that reaches the goal at the least cost; -1: none does.
int cheapest_enough(Goal goal, const std::vector<Tried>& tried, const std::vector<Cost>& costs, double overrun_s);

}  // namespace tillwrap::remedies
