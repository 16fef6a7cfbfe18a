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
  // Questions that need no day; nothing when it is none of them: journal_questions.hpp.
  std::optional<app::Json> (*without_day)(const std::string& asked, decode::TableReader& question);
};

// All of them: pulls in the decision folders.
const Further& decisions();

}  // namespace tillwrap::door
