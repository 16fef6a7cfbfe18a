// The use case behind `tillwrap recharge`: the packs as the day leaves them, the chargers as they stand after it, and
// the plan between.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "catalogue/catalogue.hpp"
#include "forecast/forecast.hpp"
#include "recharge/recharge.hpp"

namespace tillwrap::app {

// What was asked; times by the clock as written. What is left out comes from the day file's [rest].
struct RechargeWords {
  std::optional<double> from_s, until_s;
  std::optional<std::vector<day::Span>> there;
  std::optional<bool> asleep;
  std::optional<int> get_ups;
  std::optional<double> watts;
  std::vector<std::pair<std::string, double>> left;  // charge of a pack where it is known: outranks the forecast
  double enough = 1.0;                               // charge that is enough; 1: full
  bool to_needed = false;                            // only as far as the day draws, with a reserve
  bool with_help = true;
  // In a run: the day the packs are for, when it begins (in this day's seconds), and what its run file says of the
  // rest.
  const day::Scenario* next = nullptr;
  double next_begin_s = 0.0;
  std::optional<kit::Rest> rest;
  std::vector<std::string> chargers;  // at hand; empty: all
  std::map<std::string, int> extra_bays;
  double travel_s = 0.0;
  long most_nodes = 400000;
};

struct RechargeAnswer {
  DayFile file;
  recharge::Night night;
  recharge::Answer answer;
  std::vector<recharge::Help> help;
  std::vector<int> pack_of;        // by battery: pack of the scenario
  std::vector<std::string> fresh;  // packs used that are thrown away: new ones instead
  bool asleep = false;
  bool in_the_day = false;  // ends before the day does
  // The day once more with the packs as they then are; not where the rest lies within the day.
  std::optional<bool> again_reaches;
  double again_margin_s = 0.0;
  bool again_margin_is_least = false;
  std::vector<std::string> notes;
};

// A charger of that kind as the catalogue has it; where it stands and when it has power is left to say.
recharge::Charger charger_of(const catalogue::ChargerKind& kind);

// The rest as a question: `night` posed, `pack_of`, `fresh`, `asleep`, `in_the_day` and `notes` told, nothing planned
// yet. The day may have no charger, and no pack that can be charged. Throws decode::InputError.
RechargeAnswer night_after(DayFile file, const RechargeWords& words);

// The same, planned. Throws decode::InputError.
RechargeAnswer recharge_day(DayFile file, const RechargeWords& words);

// Of the run that the day's forecast makes: charge of every pack at `at_s` (kNever: when the kit goes off), who sits in
// a holder then, and when each was first used.
struct LeftOver {
  std::vector<double> charge;
  std::vector<char> in_use;
  std::vector<double> first_in_s;  // kNever: not used
  std::vector<char> given_all;     // stopped serving
  std::vector<double> drawn;       // fraction of charge given
  std::vector<int> place;          // where it lies
};
LeftOver left_over(const day::Scenario& day, double at_s);

}  // namespace tillwrap::app
