// Which packs feed which device during the day, through which input, and under which load for longest.
#pragma once

#include <vector>

#include "forecast/forecast.hpp"
#include "kit/inventory.hpp"

namespace tillwrap::meters {

// Packs of one kind on one input of a device. Indices are the whole day's.
struct Feed {
  int device = -1;
  int input = -1;               // of the device's selected ones; -1: one input, or inputs joined
  int pack = -1;                // the one of the kind that gives most
  int holder = -1;              // where it sits
  std::vector<int> companions;  // holders that carry together with it
  std::vector<int> packs;       // all of the kind that serve here
  double delivered_j = 0.0;     // by all of them, to everything they feed
  int period = 0;               // in which they give most
  double in_s = 0.0;            // when the pack named goes in
  double around_k = 298.15;     // of the holder's place then
};

// The day as planned, one traced run a piece.
struct PlannedDay {
  explicit PlannedDay(const day::Scenario& scenario);
  forecast::WholeDay whole;
  std::vector<forecast::ChangePlan> plans;  // one a piece
  std::vector<forecast::DayRun> runs;       // with trace
};

// By device, then input, then the packs that give most first.
std::vector<Feed> feeds(const day::Scenario& scenario, const kit::Inventory& inventory, const PlannedDay& planned);

}  // namespace tillwrap::meters
