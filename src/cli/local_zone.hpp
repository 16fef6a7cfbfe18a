// The clock, zone, name and randomness of this machine, which the engine has none of.
#pragma once

#include <cstdint>
#include <string>

#include "app/journal_add.hpp"
#include "journal/uuid.hpp"

namespace tillwrap::cli {

std::int64_t now_us();   // after 1970-01-01T00:00:00Z
std::string now_utc();   // "20261125T140500Z", as iCalendar writes it (RFC 5545 section 3.3.5)
app::Zone local_zone();  // of TZ, or the system's
journal::RandomBytes random_bytes();
// TILLWRAP_DEVICE, or the machine's name.
std::string device_name();

}  // namespace tillwrap::cli
