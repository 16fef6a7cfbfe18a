// Questions about a journal and a pack's health: they need no day, though readings of one may be asked about.
#pragma once

#include <optional>
#include <string>

#include "app/kit_now.hpp"
#include "app/report_json.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::door {

// The packs by a question's `lines` at its `now`; nothing where it brings no lines. Throws decode::InputError, at a
// line that cannot be read too.
std::optional<app::KitAnswer> asked_kit(decode::TableReader& question);

// journal, journal_line, health. Throws std::invalid_argument at any other.
app::Json journal_question(const std::string& asked, decode::TableReader& question);

}  // namespace tillwrap::door
