// A pack discharged where it serves: the day's own wiring, the load of its busiest period going on, from full until the
// device goes off and on to the pack's own end.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "forecast/split.hpp"
#include "meters/curve.hpp"
#include "meters/feeds.hpp"
#include "odds/draw.hpp"

namespace tillwrap::meters {

struct Discharge {
  Curve curve;  // until the device goes off
  forecast::Cause ended =
      forecast::Cause::none;  // what ended it: low_volts, collapse: the device's; pack_...: the pack's
  double source_w = 0.0;      // mean at the packs' contacts
  double drop_v = 0.0;        // pack contacts to device, mean
  double trip_v = 0.0;        // at the device when the pack cut itself off or a cell of it turned round; 0: it did not
  double wasted_j = 0.0;      // the pack could have gone on giving after the device went off
};

class InPlace {
 public:
  // `cutoff_v`: of the device on that input.
  InPlace(const PlannedDay& planned, const Feed& feed);

  [[nodiscard]] double cutoff_v() const { return cutoff_v_; }
  [[nodiscard]] const day::Scenario& scenario() const { return piece_.day; }

  // As given, or as it turns out on a drawn day.
  [[nodiscard]] Discharge run(double row_s) const;
  [[nodiscard]] Discharge run(double row_s, const odds::Draw& draw, std::uint32_t day);

 private:
  [[nodiscard]] Discharge run_as_is(double row_s) const;

  forecast::Piece piece_;
  day::Scenario fresh_;
  int device_ = -1;
  std::vector<int> holders_;  // the pack's and its companions'
  double cutoff_v_ = 0.0;
};

}  // namespace tillwrap::meters
