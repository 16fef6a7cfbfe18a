// `tillwrap compare` in words and as JSON.
#pragma once

#include <string>

#include "app/compare.hpp"

namespace tillwrap::app {

std::string compare_text(const DayFile& file, const CompareAnswer& answer, const CompareOptions& options);
// schema/compare.schema.json
std::string compare_json(const DayFile& file, const CompareAnswer& answer, const CompareOptions& options);

}  // namespace tillwrap::app
