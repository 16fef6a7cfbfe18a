// Questions beyond the forecast: what to bring, set, wire, carry, write on the sheet.
#pragma once

#include <optional>
#include <string>

#include "app/report_json.hpp"
#include "door/known_day.hpp"
#include "odds/work.hpp"

namespace tillwrap::door {

struct Further {
  // meters, findings, travel, choose, remedies, recharge, sheet. Throws std::invalid_argument at any other.
  app::Json (*decide)(const std::string& asked, KnownDay& day, decode::TableReader& question, const odds::Tell& tell);
  // Questions that need no day, or bring several: journal_questions.hpp, params_question.hpp, run_question.hpp. Throws
  // std::invalid_argument at any other.
  app::Json (*without_day)(const std::string& asked, decode::TableReader& question, const odds::Tell& tell);
};

// All of them: pulls in the decision folders.
const Further& decisions();

}  // namespace tillwrap::door
