// The use case behind `tillwrap choose`: what the catalogue and the inventory know put beside the scenario, then the
// search.
#pragma once

#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "catalogue/catalogue.hpp"
#include "choose/choose.hpp"

namespace tillwrap::app {

struct ChooseWords {
  double sure = 0.95;
  bool one_loss = false;
  bool plan_only = false;  // as choose::Options
  double overrun_s = 0.0;
  std::uint32_t fresh_days = 10000;
  std::uint64_t seed = 1;
  std::vector<double> worn;  // by pack, full cycles: of a kind the least worn goes first; empty: the strongest
  odds::Tell tell;
};

struct ChooseAnswer {
  DayFile file;  // with bays the day file did not list
  choose::Options options;
  choose::Choice choice;
  std::vector<std::string> notes;  // what was taken how
  std::string written;             // day file the plan was written into; empty: none
};

// Throws decode::InputError: no packs, nothing that must run.
ChooseAnswer choose_day(DayFile file, const catalogue::Catalogue& catalogue, const ChooseWords& words,
                        const odds::Each& each);

}  // namespace tillwrap::app
