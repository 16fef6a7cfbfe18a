// The kit seen as a search problem: kinds of packs, holders that can be served, moments for changes, bays.
#pragma once

#include <string>
#include <vector>

#include "choose/choose.hpp"
#include "choose/search.hpp"
#include "day/scenario.hpp"

namespace tillwrap::choose {

// Packs that count as the same: same mount, capacity within 2 %, resistance within 5 %, start charge within 2 %, same
// spare place. `pack` is the weakest of them: what holds for it holds for all.
struct PackClass {
  day::Pack pack;
  std::vector<int> members;  // packs of the scenario, strongest first
  int candidate = -1;        // of the options, when it is not in the kit
  PackCost cost;
};

struct Seat {      // a holder that can be served
  int holder = 0;  // of the scenario
  int group = 0;   // seats of one group feed something together
  std::vector<double> moments;
  std::vector<int> kinds;
};

struct Setup {
  std::vector<double> worn;  // as in Options
  std::vector<PackClass> kinds;
  std::vector<Seat> seats;        // those behind a must-run device
  std::vector<int> free_holders;  // any whose pack can be taken out
  std::vector<int> bays;          // charger holders
  double end_s = 0.0;
  std::vector<int> group_of_device;  // by device; -1: no seat feeds it
  int groups = 0;
};

Setup set_up(const day::Scenario& scenario, const Options& options);

// Candidate moments for a change: where a window opens, where a period begins inside one, every two hours of a long
// stretch, and the last moment before a window closes; at least 20 minutes apart but for the last.
std::vector<double> change_moments(const day::Scenario& scenario, int holder, double end_s);

// The first pack goes in when the file says, else when an adapter in the same holder stops, else when the day begins.
double first_moment(const day::Scenario& scenario, int holder);

bool fits(const day::Scenario& scenario, int holder, const day::Pack& pack);

}  // namespace tillwrap::choose
