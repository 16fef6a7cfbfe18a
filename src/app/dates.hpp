// Calendar dates as text.
#pragma once

#include <string>

namespace tillwrap::app {

// A calendar date as ISO 8601 writes it: 2026-11-25. Such dates compare as text.
bool is_iso_date(const std::string& text);

// Days since 1970-01-01 of such a date.
long days_of(const std::string& iso_date);

}  // namespace tillwrap::app
