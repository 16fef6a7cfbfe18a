// The numbers behind the strip, for a page that draws it: columns of wedges, closed stretches, volts, the doubtful end.
#pragma once

#include <vector>

#include "app/forecast_report.hpp"
#include "app/report_json.hpp"

namespace tillwrap::door {

// Needs a forecast with a trace. Curves are appended to `curves` as pairs (seconds after midnight, value) and named in
// the answer as {"from": first number, "pairs": how many}. Wedges: energy left over that of the largest pack of the
// day, 0 to 1; volts at a device.
app::Json strip_json(const app::ForecastReport& report, std::vector<double>& curves);

}  // namespace tillwrap::door
