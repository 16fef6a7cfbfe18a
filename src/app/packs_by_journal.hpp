// Days begun with the packs as a journal has them, in place of what the day files say: charge and health as `tillwrap
// kit` tells them.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "app/kit_now.hpp"

namespace tillwrap::app {

// What was taken of one pack. Fractions; nothing: the day files' stands.
struct JournalPack {
  std::string label;
  std::optional<double> charge;
  std::optional<double> capacity;    // over new
  std::optional<double> resistance;  // over new
};

struct JournalPacks {
  std::vector<JournalPack> packs;  // in the order of the days; those that can be charged
  std::vector<std::string> notes;  // sentences: what was not taken and why
};

// Sets start charge, capacity and resistance of every pack of `files` that `kit` knows. A pack whose kind was never
// told is taken for the days' own; one of another kind, and the health of one with a parameter file, stay as the day
// file says.
JournalPacks take_from_journal(std::vector<DayFile>& files, const KitAnswer& kit,
                               const catalogue::Catalogue& catalogue);

// "C1 87 %, holds 91 % of new"
std::string journal_pack_words(const JournalPack& pack);

}  // namespace tillwrap::app
