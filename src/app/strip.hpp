// The day as a strip: hours run down the page, each pack is a wedge as wide as the energy left in it.
#pragma once

#include <string>

#include "app/forecast_report.hpp"
#include "drawing/picture.hpp"

namespace tillwrap::app {

struct StripLook {
  bool head = true;  // verdict above the columns
  drawing::Colour paper{0xf7f3ea};
  double per_hour = 62.0;
  double height = 0.0;  // of the whole picture; 0: as the hours need
};

// Ink on paper, readable in black and white: packs are labelled, closed stretches and the doubtful end are hatched.
// Needs a forecast with a trace.
drawing::Picture strip(const ForecastReport& report, const StripLook& look);

// The same as a self-contained SVG.
std::string strip_svg(const ForecastReport& report);

}  // namespace tillwrap::app
