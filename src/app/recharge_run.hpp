// What recharge says of a run: every night between its days.
#pragma once

#include <string>

#include "app/recharge_report.hpp"
#include "app/run_days.hpp"

namespace tillwrap::app {

// Every pack that the days use and that can be charged is ready for the next.
bool nights_ready(const RunAnswer& answer);
std::string nights_text(const RunAnswer& answer);
std::string nights_json(const RunAnswer& answer);  // schema/recharge-run.schema.json
// One calendar; needs the date of every day before a night. Throws decode::InputError.
sheet::Calendar nights_calendar(const RunAnswer& answer, const std::string& stamp_utc);

}  // namespace tillwrap::app
