// A day in independent pieces. A body-pack on the cast shares nothing with the bag: no wire, no pack, no warm place.
// Each piece steps at its own pace, and a question about one piece leaves the others as they were.
#pragma once

#include <vector>

#include "day/scenario.hpp"
#include "forecast/result.hpp"

namespace tillwrap::forecast {

// One piece: a scenario of its own, and the whole day's index of each of its things. Places, supplies and periods keep
// their numbers.
struct Piece {
  day::Scenario day;
  std::vector<int> packs, ports, leads, devices, holders, regulators;
  bool must_run = false;  // holds a device that decides the day
};

// Joined are: what a lead, a regulator or a device's inputs connect; holders that take the same pack; everything in the
// same bag (one warm node). A pack no holder lists is known to every piece that could take it.
std::vector<Piece> split(const day::Scenario& scenario);

// The pieces' runs as one, in the whole day's numbers; events, stints and changes in order of time. Traces are put on
// one time axis: volts and charge in straight lines between a piece's own rows, packs as they were.
DayRun merged(const day::Scenario& scenario, const std::vector<Piece>& pieces, const std::vector<DayRun>& runs);

}  // namespace tillwrap::forecast
