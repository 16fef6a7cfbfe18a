// Steps shared by the readers of the data files.
#pragma once

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::catalogue {

using decode::Allowed;
using decode::Dimension;
using decode::TableReader;

inline constexpr Allowed kPositive{.above = 0.0};
inline constexpr Allowed kNotNegative{.least = 0.0};
inline constexpr Allowed kShare{.least = 0.0, .most = 1.0};

// id, title, note, source, mark, checked, valid and the numbers' own sources. The catalogue's own entries must have all
// of it; a parameter file somebody brings along need not.
enum class Origin { catalogue, brought_along };
void read_entry(TableReader& reader, Entry& entry, Origin origin = Origin::catalogue);

Mark read_mark(TableReader& reader);
// "from memory", "common practice", ...
std::string_view mark_word(Mark mark);

// `key` with a unit suffix: one number, or [low, typical, high] ascending.
std::optional<Estimate> maybe_estimate(TableReader& reader, std::string_view key, Dimension dimension,
                                       const Allowed& allowed = kNotNegative);
Estimate estimate(TableReader& reader, std::string_view key, Dimension dimension,
                  const Allowed& allowed = kNotNegative);
// A plain factor in the same two forms, no unit.
std::optional<Estimate> maybe_plain_estimate(TableReader& reader, std::string_view key, const Allowed& allowed);

inline constexpr std::array<std::pair<std::string_view, TravelClass::Kind>, 5> kTravelKinds = {{
    {"lithium-ion", TravelClass::Kind::lithium_ion},
    {"lithium-metal", TravelClass::Kind::lithium_metal},
    {"nickel", TravelClass::Kind::nickel},
    {"alkaline", TravelClass::Kind::alkaline},
    {"lead-non-spillable", TravelClass::Kind::lead_non_spillable},
}};

// One word out of a list, as its value.
template <typename Value, std::size_t N>
Value word_of(TableReader& reader, std::string_view key,
              const std::array<std::pair<std::string_view, Value>, N>& words) {
  std::vector<std::string> known;
  for (const auto& row : words) known.emplace_back(row.first);
  const std::string word = reader.one_of(key, known);
  return std::find_if(words.begin(), words.end(), [&](const auto& row) { return row.first == word; })->second;
}

// A list of lists of `width` numbers; -1 stays as written.
std::vector<std::vector<double>> rows(TableReader& reader, std::string_view key, std::size_t width);

std::optional<Regulator> maybe_regulator(TableReader& reader);
std::vector<PowerProfile> profiles(TableReader& reader);

// Per file kind; each reads one [[table]].
CellKind read_cell_table(TableReader& reader, Origin origin = Origin::catalogue);
// A parameter set (read_cell of catalogue.hpp) written into another file.
CellKind read_cell(TableReader& set);
PackKind read_pack(TableReader& reader);
DeviceKind read_device(TableReader& reader);
MeterProfile read_meter(TableReader& reader);
ConnectorKind read_connector(TableReader& reader);
WireKind read_wire(TableReader& reader);
FuseKind read_fuse(TableReader& reader);
BoxKind read_box(TableReader& reader);
HolderKind read_holder(TableReader& reader);
SourceKind read_source(TableReader& reader);
ChargerKind read_charger(TableReader& reader);
TravelRule read_travel_rule(TableReader& reader);
MarkWording read_wording(TableReader& reader);

// Every id another entry names must exist; throws InputError at the entry.
void check_references(const Catalogue& catalogue);

}  // namespace tillwrap::catalogue
