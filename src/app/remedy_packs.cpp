// Steps with packs: one more, a newer one, another kind, warmer ones.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "app/prices.hpp"
#include "app/remedy_steps.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr double kCold_k = 283.15;  // below 10 °C warmth is worth talking about
constexpr double kTired = 0.95;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool is_bay(const day::Holder& holder) { return holder.charger_supply >= 0; }

double coldest_air_k(const day::Scenario& day) {
  double coldest = std::numeric_limits<double>::infinity();
  for (const day::Period& period : day.periods) coldest = std::min(coldest, period.air_k);
  return coldest;
}

// Spares of this holder wait in a pocket where any of its packs does, else where its first spare does.
std::string spare_place(const day::Scenario& day, const day::Holder& holder) {
  std::string place = "bag";
  for (std::size_t k = 0; k < holder.slots.size(); ++k) {
    const std::string& here = day.places[at(day.packs[at(holder.slots[k].pack)].spare_place)].name;
    if (k == 0 || here == "pocket") place = here;
  }
  return place;
}

std::vector<const catalogue::PackKind*> fitting(const RemedyBase& base, std::size_t h) {
  std::vector<const catalogue::PackKind*> kinds;
  const catalogue::HolderKind* kind = base.file->inventory.holders[h].kind;
  if (kind == nullptr) return kinds;
  for (const std::string& id : kind->fits) {
    if (const catalogue::PackKind* pack = base.catalogue->pack(id)) kinds.push_back(pack);
  }
  return kinds;
}

void one_more(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    if (is_bay(holder) || holder.built_in || !base.holder_matters[h]) continue;
    for (const catalogue::PackKind* kind : fitting(base, h)) {
      const Money money = pack_price(base.file->inventory, *kind);
      const std::string label = edit::fresh_name(*base.document, holder.name + " spare");
      steps.push_back({.kind = "pack",
                       .words = fmt::format("one more pack for {}: {}", holder.name, kind->id),
                       .change =
                           [name = holder.name, id = kind->id, label,
                            place = spare_place(day, holder)](decode::Document& document) {
                             const std::string own = edit::fresh_name(document, label);
                             decode::Node pack = edit::table("");
                             edit::set(pack, edit::text("label", own));
                             edit::set(pack, edit::text("kind", id));
                             edit::set(pack, edit::text("spare", place));
                             edit::things(document, "pack").children.push_back(pack);
                             decode::Node& entry = edit::thing(document, "holder", "name", name);
                             decode::Node* packs = edit::child(entry, "packs");
                             if (packs == nullptr) throw NotPossible("no packs in \"" + name + "\"");
                             packs->children.push_back(edit::text("", own));
                           },
                       .cost = {.mass_kg = kind->mass_kg, .hands_s = holder.gap_s, .buy = true},
                       .money = money,
                       .fills = kind});
    }
  }
}

void newer_and_fuller(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const kit::Inventory& kit = base.file->inventory;
  std::set<int> used;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    if (is_bay(day.holders[h]) || !base.holder_matters[h]) continue;
    for (const day::Slot& slot : day.holders[h].slots) used.insert(slot.pack);
  }
  for (const int p : used) {
    const kit::PackItem& item = kit.packs[at(p)];
    const std::string label = day.packs[at(p)].params.label;
    if ((item.health < kTired || item.resistance_factor > 1.25) && item.kind->price_usd > 0.0) {
      const Money money = pack_price(kit, *item.kind);
      steps.push_back({.kind = "newer_pack",
                       .words = fmt::format("a new pack in place of {} ({})", label, percent_words(item.health)),
                       .change =
                           [label](decode::Document& document) {
                             decode::Node& pack = edit::pack(document, label);
                             for (const char* key : {"health", "resistance", "weakest_cell", "gauge_learned"})
                               edit::drop(pack, key);
                           },
                       .cost = {.buy = true},
                       .money = money});
    }
    if (day.packs[at(p)].start_charge < 0.995 && day::rechargeable(day.packs[at(p)])) {
      steps.push_back(
          {.kind = "charge",
           .words =
               fmt::format("start with {} full instead of {}", label, percent_words(day.packs[at(p)].start_charge)),
           .note = "charged before the day, never unattended",
           .change = [label](decode::Document& document) { edit::drop(edit::pack(document, label), "charge"); },
           .cost = {}});
    }
  }
}

// All packs of a holder of another kind.
void other_kind(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const kit::Inventory& kit = base.file->inventory;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    if (is_bay(holder) || holder.built_in || holder.slots.empty() || !base.holder_matters[h]) continue;
    std::set<std::string> labels;
    std::set<const catalogue::PackKind*> now;
    double mass_kg = 0.0;
    for (const day::Slot& slot : holder.slots) {
      if (!labels.insert(day.packs[at(slot.pack)].params.label).second) continue;
      now.insert(kit.packs[at(slot.pack)].kind);
      mass_kg -= kit.packs[at(slot.pack)].kind->mass_kg;
    }
    for (const catalogue::PackKind* kind : fitting(base, h)) {
      if (now.contains(kind)) continue;
      const double count = static_cast<double>(labels.size());
      const Money money = count * pack_price(kit, *kind);
      steps.push_back(
          {.kind = "other_kind",
           .words = fmt::format("{} in {} instead ({})", kind->id, holder.name, plural(std::ssize(labels), "pack")),
           .change =
               [labels, id = kind->id](decode::Document& document) {
                 for (const std::string& label : labels) {
                   decode::Node& pack = edit::pack(document, label);
                   edit::set(pack, edit::text("kind", id));
                   for (const char* key :
                        {"health", "resistance", "weakest_cell", "capacity", "charge", "price", "gauge_learned", "pd"})
                     edit::drop(pack, key);
                 }
               },
           .cost = {.mass_kg = mass_kg + count * kind->mass_kg, .buy = true},
           .money = money,
           .fills = kind});
    }
  }
}

void warmth(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  if (coldest_air_k(day) >= kCold_k) return;
  // Packs that wait for their turn, or as spares, where it is cold.
  std::set<int> first;
  for (const day::Holder& holder : day.holders) {
    if (!is_bay(holder) && !holder.slots.empty()) first.insert(holder.slots.front().pack);
  }
  for (std::size_t place = 0; place < day.places.size(); ++place) {
    const day::Place& where = day.places[place];
    if (where.name == "pocket" || where.kind == day::Place::Kind::fixed) continue;
    std::vector<std::string> waiting;
    for (std::size_t p = 0; p < day.packs.size(); ++p) {
      if (day.packs[p].spare_place == static_cast<int>(place) && !first.contains(static_cast<int>(p)))
        waiting.push_back(day.packs[p].params.label);
    }
    if (waiting.empty()) continue;
    steps.push_back({.kind = "warm_spares",
                     .words = fmt::format("carry the spares in a pocket, not in {} ({})", where.name,
                                          plural(std::ssize(waiting), "pack")),
                     .change =
                         [waiting](decode::Document& document) {
                           for (const std::string& label : waiting)
                             edit::set(edit::pack(document, label), edit::text("spare", "pocket"));
                         },
                     .cost = {}});
  }
  for (const day::Place& place : day.places) {
    if (place.kind != day::Place::Kind::bag) continue;
    steps.push_back({.kind = "warm_bag",
                     .words = fmt::format("{}: closed and covered", place.name),
                     .note = "taken to halve what it loses; watch the heat of what runs in it",
                     .change =
                         [name = place.name, loses = 0.5 * place.cooling_w_k](decode::Document& document) {
                           decode::Node& places = edit::things(document, "place");
                           decode::Node* found = nullptr;
                           for (decode::Node& entry : places.children) {
                             const decode::Node* own = entry.find("name");
                             if (own != nullptr && own->text == name) found = &entry;
                           }
                           if (found == nullptr) {
                             places.children.push_back(edit::table("", {edit::text("name", name)}));
                             found = &places.children.back();
                           }
                           edit::set(*found, edit::text("loses", fmt::format("{:.6g} W/K", loses)));
                         },
                     .cost = {.hands_s = 60.0}});
  }
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    const kit::HolderItem& item = base.file->inventory.holders[h];
    if (is_bay(holder) || item.kind == nullptr || !item.sits_in.empty() || !base.holder_matters[h]) continue;
    if (day.places[at(holder.place)].kind != day::Place::Kind::air) continue;
    steps.push_back({.kind = "warm_holder",
                     .words = fmt::format("{} inside the closed bag, not in the air", holder.name),
                     .change =
                         [name = holder.name](decode::Document& document) {
                           edit::set(edit::thing(document, "holder", "name", name), edit::text("place", "bag"));
                         },
                     .cost = {.hands_s = 60.0}});
  }
}

}  // namespace

void pack_steps(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  newer_and_fuller(base, steps);
  warmth(base, steps);
  one_more(base, steps);
  other_kind(base, steps);
}

}  // namespace tillwrap::app
