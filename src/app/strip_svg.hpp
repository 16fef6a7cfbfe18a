// The day as a strip: hours run down the page, each pack is a wedge as wide as the energy left in it.
#pragma once

#include <string>

#include "app/forecast_report.hpp"

namespace tillwrap::app {

// Self-contained SVG, ink on paper, readable in black and white: packs are labelled, closed stretches and the doubtful
// end are hatched. Needs a forecast with a trace.
std::string strip_svg(const ForecastReport& report);

}  // namespace tillwrap::app
