// One thing read on a running day, and what a computed day shows in its place.
#pragma once

#include "forecast/result.hpp"
#include "forecast/split.hpp"
#include "quantity/curve.hpp"

namespace tillwrap::track {

enum class Where { device_v, device_a, device_meter, holder_a, supply_a, gauge };

// One number read at a time. `noise` and `model` are standard deviations in the value's unit (V, A, fraction): what the
// instrument scatters and rounds, and what the model is off by in the same way each time.
struct Reading {
  Where where = Where::device_v;
  int index = 0;  // of the device, holder, supply or pack in the whole day
  double at_s = 0.0;
  double value = 0.0;
  double noise = 0.0;
  double model = 0.0;
  double width = 1.0;  // range a mistaken entry may lie anywhere in
  Curve scale{};       // of a device's own meter: the share it shows over the volts at its terminals
};

// Index of the thing read, or of another of its kind, within a piece of the day; -1: not in it. Supplies keep their
// numbers.
int inside(const forecast::Piece& piece, const Reading& reading, int index);

// What `probe` of a run of `day`, a piece or a variant of it, shows there; `index` within the piece.
double value_of(const day::Scenario& day, const forecast::Probe& probe, const Reading& reading, int index);

// How many of what is read there the day has.
int count_of(const day::Scenario& day, Where where);

}  // namespace tillwrap::track
