// Expendables: fresh primary cells a day takes, when they go in, and whether rechargeable ones of the same size would
// carry the devices from window to window instead. Every figure is a simulated day.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "day/scenario.hpp"
#include "kit/inventory.hpp"

namespace tillwrap::expendables {

inline constexpr double kNever = std::numeric_limits<double>::infinity();

// When a fresh set goes in.
enum class Moment {
  call,        // by call
  meal,        // in a period named so
  last_reach,  // in the last stretch in which hands reach it before wrap
  between,
  overrun,  // after off, if the day goes on
};

struct Fresh {
  int holder = 0;
  int device = -1;  // what it feeds; -1: more than one or none
  const catalogue::PackKind* kind = nullptr;
  double in_s = 0.0;
  Moment moment = Moment::between;
};

// The sets one holder goes through.
struct Use {
  int holder = 0;
  int device = -1;
  const catalogue::PackKind* kind = nullptr;
  std::vector<double> in_s;          // before off
  std::vector<double> in_overrun_s;  // after off, to the end of the overrun
  double fails_s = kNever;           // device dark before off, changes not counted
  double last_reach_s = 0.0;         // hands reach it until then; wrap: to the end
};

struct Option {
  std::string cell;  // cell set of the catalogue; empty: as the day file has it
  bool rechargeable = false;
  std::vector<Use> uses;
  bool lasts = true;
  int cells = 0;                                    // a day
  int cells_overrun = 0;                            // more, if it goes on to the end of the overrun
  double mass_kg = 0.0;                             // of a day's cells
  const catalogue::ChargerKind* charger = nullptr;  // rechargeable: which, how many, for one rest
  int chargers = 0;
  double charge_s = 0.0;  // one filling
};

struct Options {
  double rest_s = 6.0 * 3600.0;  // at a wall socket between two days
};

struct Answer {
  std::vector<Fresh> fresh;  // as the day file plans it, by time
  Option as_written;
  std::vector<Option> options;  // each kind of cell that fits every one of those holders, changed only when needed
};

// Empty when no holder starts with primary cells.
Answer answer(const day::Scenario& day, const kit::Inventory& inventory, const catalogue::Catalogue& catalogue,
              const Options& options = {});

}  // namespace tillwrap::expendables
