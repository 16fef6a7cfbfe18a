// One way of feeding a load against another on the same day: how long one pack lasts, how many are needed, what a
// change costs, what a day costs.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "odds/odds.hpp"

namespace tillwrap::compare {

struct Depth {
  std::uint32_t days = 128;
  std::uint64_t seed = 1;
  odds::Spread spread;
};

// Devices a holder can feed, through boxes, regulators and inputs.
std::vector<int> fed_devices(const day::Scenario& day, int holder);

// How long one full pack carries the day's load from call on, alone: no mains, no bridge, no second pack. The last
// period's load goes on past off, 24 h at most.
struct Serving {
  bool starts = false;
  double safe_s = 0.0;    // nine days in ten it lasts so long
  double likely_s = 0.0;  // every other day
  bool likely_is_least = false;
  double mean_w = 0.0;  // at the pack's terminals, in the forecast
};
Serving serving(const day::Scenario& day, const std::string& holder, const Depth& depth);

// The day with as many packs as the caller puts in; only what the holders feed must run.
using Build = std::function<day::Scenario(int packs)>;

struct Need {
  int packs = 0;                 // in the kit, so that nine days in ten reach off
  bool possible = false;         // no number of packs does it otherwise
  int packs_one_loss = 0;        // so that any one of them may be dead; 0: no number tried does it
  int changes = 0;               // before off, in the forecast
  double likely_margin_s = 0.0;  // with `packs`
  double safe_margin_s = 0.0;
  std::vector<double> drawn;  // share of its charge each turn takes, call to off
};
// `expected` packs are tried first. Fixed: that number and no other.
Need need(const Build& build, const std::vector<std::string>& holders, int expected, bool fixed, const Depth& depth);

// Devices of the holders' load that go dark while a pack is changed in the first of them.
std::vector<std::string> dark_in_change(const day::Scenario& with_two, const std::vector<std::string>& holders);

// Full cycles to 80 % by depth of discharge, lithium-ion: 100 % 300-500, 50 % 1200-1500, 25 % 2000-2500 (secondary
// source); the middle of each, straight lines between, constant below.
double cycle_life(double depth);

struct Wear {
  enum class Kind { disposable, cycles_known, cycles_unknown };
  Kind kind = Kind::cycles_unknown;
  double price = 0.0;  // one pack
  int packs = 0;
  std::vector<double> drawn;  // of each turn of a day
};
// Money a day over so many days: what is used up, or the packs bought once and again when their cycles are through.
double money_a_day(const Wear& wear, int days);

}  // namespace tillwrap::compare
