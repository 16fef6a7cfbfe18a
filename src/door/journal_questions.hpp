// Questions about a journal and a pack's health: they need no day.
#pragma once

#include <optional>
#include <string>

#include "app/report_json.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::door {

// Nothing when `asked` is none of these: journal, journal_line, health.
std::optional<app::Json> journal_question(const std::string& asked, decode::TableReader& question);

}  // namespace tillwrap::door
