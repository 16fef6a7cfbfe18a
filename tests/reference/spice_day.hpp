// A whole day's wiring as a circuit for ngspice: packs with their warmth and weakest cell, leads, regulators, loads
// that take constant power, a device's ranked inputs, packs that go out and come in, periods, the bag's warmth.
//
// In the circuit a charge is a volt on a capacitor of the cell's capacity, a lag and a temperature likewise; curves are
// straight lines between points of ours. Left out: cut-offs, restarts and protections (what is compared ends at the
// first of them), fuses as anything but a resistance, current limits of supplies and regulators, lags of packs that
// wait.
#pragma once

#include <string>

#include "forecast/simulator.hpp"
#include "reference/spice.hpp"

namespace tillwrap::reference {

struct SpiceDayOptions {
  int curve_points = 400;    // straight lines a curve is cut into
  double node_f = 0.0;       // a capacitor at every port: what jumps otherwise takes a few milliseconds
  bool copper_warms = true;  // leads in a bag follow its warmth
};

// Adds the day's circuit. Time 0 is the start of the first period. Every node of the model's topology is `n<number>`,
// the terminals of pack p are `q<p>`. `tag` goes into the names of everything, so that several pieces fit one deck.
void add_day(Deck& deck, const forecast::Model& model, const forecast::ChangePlan& plan, const SpiceDayOptions& options,
             const std::string& tag = "");

}  // namespace tillwrap::reference
