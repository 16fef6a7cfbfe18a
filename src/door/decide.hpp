// Questions beyond the forecast: what to bring, set, wire, carry, write on the sheet.
#pragma once

#include <optional>
#include <string>

#include "app/report_json.hpp"
#include "door/known_day.hpp"

namespace tillwrap::door {

struct Further {
  // Nothing when `asked` is none of these: meters, findings, travel, choose, remedies, sheet.
  std::optional<app::Json> (*decide)(const std::string& asked, KnownDay& day, decode::TableReader& question);
};

// All of them: pulls in the decision folders.
const Further& decisions();

}  // namespace tillwrap::door
