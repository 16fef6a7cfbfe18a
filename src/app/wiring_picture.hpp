// The wiring of a day as a drawing: packs in their holders on the left, boxes, devices on the right; each lead with its
// length, wire, fuse and plugs; findings marked by number. Reads in black and white.
#pragma once

#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "drawing/picture.hpp"
#include "findings/finding.hpp"

namespace tillwrap::app {

struct WiringLook {
  double width = 595.0;  // points; A5 landscape
  double height = 420.0;
  double margin = 18.0;
  bool title = true;
  bool list = true;  // the findings by number under the drawing
};

drawing::Picture wiring(const DayFile& file, const std::vector<findings::Finding>& found, const WiringLook& look = {});

// A5, landscape or upright, whichever leaves the larger letters; self-contained.
std::string wiring_svg(const DayFile& file, const std::vector<findings::Finding>& found);

}  // namespace tillwrap::app
