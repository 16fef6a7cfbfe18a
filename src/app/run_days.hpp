// The use case behind `tillwrap run`: consecutive days on the same packs. Each day is forecast with the packs as they
// are; what they gave, what the rest put back and what they lost lying goes with them to the next.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "app/choose_day.hpp"
#include "app/packs_by_journal.hpp"
#include "app/recharge_day.hpp"
#include "app/run_file.hpp"

namespace tillwrap::app {

struct RunWords {
  bool choose = false;  // packs chosen each day, the least worn of a kind first; else as the day files say
  bool help = true;     // look for the smallest addition when a day fails
  long most_nodes = 60000;
  std::optional<JournalPacks> journal;  // what the packs begin with, where a journal was asked
  odds::Tell tell;
  std::function<void(const struct RunAnswer&)> found;  // the days so far, after each; empty: nobody asks
};

// One pack on one day.
struct PackDay {
  std::string label;
  int pack = 0;  // of the day's scenario
  double at_call = 0.0;
  double at_off = 0.0;
  double after_rest = 0.0;
  double lost_lying = 0.0;  // self-discharge until the next call, fraction
  double drawn_ah = 0.0;
  double put_in_ah = 0.0;
  double stored_ah = 0.0;
  bool used = false;
};

struct DayOfRun {
  DayFile file;
  forecast::Forecast forecast;
  std::vector<PackDay> packs;
  std::optional<RechargeAnswer> rest;
  std::string chosen;  // what choose said; empty: as the day file has it
  bool proven = false;
  int fresh_cells = 0;  // thrown away that day, sets
};

struct PackOfRun {
  std::string label;
  std::string kind;
  double capacity_ah = 0.0;
  double drawn_ah = 0.0;
  double cycles = 0.0;  // full ones that makes
  int days_used = 0;
  double health = 1.0;  // at the end, over new
  double health_before = 1.0;
};

struct Addition {
  std::string pack_kind;  // empty: no packs
  int packs = 0;
  std::string charger;
  int bays = 0;
};

struct RunAnswer {
  RunFile run;
  std::optional<JournalPacks> journal;  // what the packs began with, where a journal was asked
  std::vector<DayOfRun> days;
  std::vector<PackOfRun> packs;
  int first_failure = -1;
  std::vector<Addition> additions;  // each alone makes every day last; smallest first
  bool looked = false;
  double evenness = 0.0;  // most cycles less fewest, of packs of one kind that could take turns
};

// `files`: one a day of the run, read and with measured draws applied. Throws decode::InputError.
RunAnswer run_days(const RunFile& run, const std::vector<DayFile>& files, const RunWords& words,
                   const catalogue::Catalogue& catalogue, const odds::Each& each);

}  // namespace tillwrap::app
