// Questions about a journal and a pack's health: they need no day.
#pragma once

#include <string>

#include "app/report_json.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::door {

// journal, journal_line, health. Throws std::invalid_argument at any other.
app::Json journal_question(const std::string& asked, decode::TableReader& question);

}  // namespace tillwrap::door
