// The catalogue in words, 80 columns, and as JSON. Pure: returns text.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>

#include "catalogue/catalogue.hpp"

namespace tillwrap::catalogue {

// What `tillwrap catalogue [WHAT]` prints: nothing given: the lists with their counts; a list name: its entries in a
// line each; an id: every number of that entry with its source. Nothing returned: no such list or entry.
std::optional<std::string> explain(const Catalogue& catalogue, std::string_view what);
std::optional<std::string> explain_json(const Catalogue& catalogue, std::string_view what);
std::optional<nlohmann::ordered_json> explain_object(const Catalogue& catalogue, std::string_view what);

// A cell brought along (read_cell) in the same words.
std::string explain_cell(const CellKind& cell);
std::string explain_cell_json(const CellKind& cell);

// The error line for a WHAT that explain() does not know.
std::string unknown_words(const Catalogue& catalogue, std::string_view what);

}  // namespace tillwrap::catalogue
