#include "app/packs_by_journal.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "app/words.hpp"
#include "cell/charging.hpp"

namespace tillwrap::app {

namespace {

// What a day can compute with.
constexpr double kLeastCapacity = 0.2, kMostCapacity = 1.2;
constexpr double kLeastResistance = 0.3, kMostResistance = 10.0;

// Without a result and without an age its health is the guess for any pack: the day file's word is better.
bool health_known(const PackHistory& history) {
  return history.age_known || !history.capacity_results.empty() || !history.resistance_results.empty();
}

JournalPack taken(const KitPack& one, const kit::PackItem& item, std::int64_t now_us,
                  const catalogue::Catalogue& catalogue, std::vector<std::string>& notes) {
  const journal::PackState& facts = *one.facts;
  JournalPack out{.label = facts.label};
  std::vector<std::string> own;
  PackHistory history = one.history;
  if (health_known(history) && !item.own_cells) {
    out.capacity = std::clamp(history.capacity.middle, kLeastCapacity, kMostCapacity);
    out.resistance = std::clamp(history.resistance.middle, kLeastResistance, kMostResistance);
  } else {
    // What was drawn is a share of the capacity the day is computed with.
    history.capacity.middle = item.health;
    history.resistance.middle = item.resistance_factor;
  }
  if (const auto charge = charge_now(facts, *item.kind, *catalogue.cell(item.kind->cell), history, now_us, own))
    out.charge = charge->middle;
  else
    own.emplace_back("the journal was never told its charge: it begins as the day file says");
  if (facts.retired) own.emplace_back("retired in the journal, and used on these days");
  for (const std::string& note : own) notes.push_back(fmt::format("{}: {}.", facts.label, note));
  return out;
}

void put(const JournalPack& from, day::Pack& pack, kit::PackItem& item) {
  if (from.charge) pack.start_charge = std::clamp(*from.charge, 0.0, 1.0);
  if (!from.capacity) return;
  // Over what the day file said, which is in the parameters already.
  const double resistance = *from.resistance / item.resistance_factor;
  pack.params.cell = cell::aged(pack.params.cell,
                                {.capacity_fraction = *from.capacity / item.health, .resistance_factor = resistance});
  pack.taper_v *= resistance;
  item.health = *from.capacity;
  item.resistance_factor = *from.resistance;
}

}  // namespace

JournalPacks take_from_journal(std::vector<DayFile>& files, const KitAnswer& kit,
                               const catalogue::Catalogue& catalogue) {
  JournalPacks out;
  std::vector<std::string> seen;
  for (DayFile& file : files) {
    for (std::size_t p = 0; p < file.scenario.packs.size(); ++p) {
      day::Pack& pack = file.scenario.packs[p];
      if (!day::rechargeable(pack)) continue;
      const std::string& label = pack.params.label;
      kit::PackItem& item = file.inventory.packs[p];
      const bool first = std::find(seen.begin(), seen.end(), label) == seen.end();
      if (first) {
        seen.push_back(label);
        const journal::PackState* facts = kit.state.pack(label);
        const auto one = std::find_if(kit.packs.begin(), kit.packs.end(),
                                      [&](const KitPack& known) { return known.facts == facts; });
        if (facts == nullptr || one == kit.packs.end()) continue;
        if (!facts->kind.empty() && facts->kind != pack.mount) {
          out.notes.push_back(fmt::format("{}: a {} in the journal and a {} in {}: it begins as the day file says.",
                                          label, facts->kind.substr(0, 60), pack.mount, file.source));
          continue;
        }
        out.packs.push_back(taken(*one, item, kit.now_us, catalogue, out.notes));
      }
      const auto known =
          std::find_if(out.packs.begin(), out.packs.end(), [&](const JournalPack& one) { return one.label == label; });
      if (known != out.packs.end()) put(*known, pack, item);
    }
  }
  if (out.packs.empty())
    out.notes.emplace_back("The journal knows no pack of these days: all begin as the day files say.");
  return out;
}

std::string journal_pack_words(const JournalPack& pack) {
  std::string words = pack.label;
  if (pack.charge) words += " " + percent_words(*pack.charge);
  if (pack.capacity) words += fmt::format("{} holds {} of new", pack.charge ? "," : "", percent_words(*pack.capacity));
  return words;
}

}  // namespace tillwrap::app
