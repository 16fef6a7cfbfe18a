// Questions beyond the forecast: what to bring, set, wire, carry, write on the sheet.
#pragma once

#include <optional>
#include <string>

#include "app/report_json.hpp"
#include "door/known_day.hpp"

namespace tillwrap::door {

// Nothing when `asked` is none of these: changes, meters, findings, travel, choose, remedies, sheet.
std::optional<app::Json> decide(const std::string& asked, KnownDay& day, decode::TableReader& question);

}  // namespace tillwrap::door
