// `tillwrap remedies` in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "app/remedies.hpp"

namespace tillwrap::app {

std::string remedies_text(const DayFile& file, const RemedyAnswer& answer, const RemedyOptions& options);
std::string remedies_json(const DayFile& file, const RemedyAnswer& answer,
                          const RemedyOptions& options);  // schema/remedies.schema.json
nlohmann::ordered_json remedies_object(const DayFile& file, const RemedyAnswer& answer, const RemedyOptions& options);

}  // namespace tillwrap::app
