// The day as a strip: hours run down the page, each pack is a wedge as wide as the energy left in it.
#pragma once

#include <string>
#include <vector>

#include "app/forecast_report.hpp"
#include "drawing/picture.hpp"

namespace tillwrap::app {

struct StripLook {
  bool head = true;  // verdict above the columns
  drawing::Colour paper{0xf7f3ea};
  double per_hour = 62.0;
  double height = 0.0;      // of the whole picture; 0: as the hours need
  bool names_below = true;  // names that had to be cut short, whole, below the hours
};

struct StripOfDay {
  drawing::Picture picture;
  std::vector<std::string> shortened;  // names of which the picture shows only the beginning, each once
};

// Ink on paper, readable in black and white: packs are labelled, closed stretches and the doubtful end are hatched.
// Needs a forecast with a trace.
StripOfDay strip(const ForecastReport& report, const StripLook& look);

// Whole names for a reader of a strip that cut them short.
std::string in_full(const std::vector<std::string>& shortened);

// The strip as a self-contained SVG.
std::string strip_svg(const ForecastReport& report);

}  // namespace tillwrap::app
