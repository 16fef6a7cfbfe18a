// A run of days in words (80 columns) and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/run_days.hpp"

namespace tillwrap::app {

std::string run_text(const RunAnswer& answer);
std::string run_json(const RunAnswer& answer);  // schema/run.schema.json
nlohmann::ordered_json run_object(const RunAnswer& answer);
std::vector<std::string> run_reasons(const RunAnswer& answer);
std::vector<std::string> run_cautions(const RunAnswer& answer);

}  // namespace tillwrap::app
