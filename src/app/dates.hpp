// Calendar dates as text.
#pragma once

#include <string>

namespace tillwrap::app {

// A calendar date as ISO 8601 writes it: 2026-11-25. Such dates compare as text.
bool is_iso_date(const std::string& text);

}  // namespace tillwrap::app
