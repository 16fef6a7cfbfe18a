#include "app/choose_day.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "app/assess.hpp"
#include "app/prices.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Bays of a charger the file leaves empty can take packs all the same.
void add_bays(DayFile& file) {
  day::Scenario& day = file.scenario;
  for (kit::ChargerItem& charger : file.inventory.chargers) {
    for (int bay = static_cast<int>(charger.holders.size()); bay < charger.kind->bays; ++bay) {
      const std::string name = charger.name + " bay " + std::to_string(bay + 1);
      charger.holders.push_back(static_cast<int>(day.holders.size()));
      const int port = static_cast<int>(day.ports.size());
      day.ports.push_back({.name = name, .place = charger.where});
      day.holders.push_back({.name = name,
                             .accepts = charger.kind->fits,
                             .port = port,
                             .place = charger.where,
                             .gap_s = 0.0,
                             .charger_supply = charger.supply,
                             .charge_a = charger.amps_per_bay,
                             .charge_end = charger.kind->end_fraction,
                             .charge_put_in = charger.kind->put_in});
      file.inventory.holders.push_back({.place = charger.place});
    }
  }
}

// Where the lead is the pack's own, only packs with the same plug can take turns.
void keep_plugs(DayFile& file, const catalogue::Catalogue& catalogue) {
  for (std::size_t h = 0; h < file.scenario.holders.size(); ++h) {
    day::Holder& holder = file.scenario.holders[h];
    const catalogue::HolderKind* kind = file.inventory.holders[h].kind;
    if (kind == nullptr || !kind->plug.empty() || holder.slots.empty()) continue;
    const catalogue::PackKind* usual = catalogue.pack(file.scenario.packs[at(holder.slots.front().pack)].mount);
    if (usual == nullptr || usual->plug.empty()) continue;
    std::erase_if(holder.accepts, [&](const std::string& id) {
      const catalogue::PackKind* other = catalogue.pack(id);
      return other == nullptr || other->plug != usual->plug;
    });
  }
}

bool thrown_away(const catalogue::PackKind& kind) { return kind.charge_volts <= 0.0 && kind.charge_amps <= 0.0; }

choose::PackCost cost_of(const catalogue::PackKind& kind, double price) {
  return {.grams = std::lround(1000.0 * kind.mass_kg),
          .cents = std::lround(100.0 * price),
          .thrown_away = thrown_away(kind)};
}

day::Pack new_pack(const catalogue::PackKind& kind, const catalogue::CellKind& cell, int spare_place) {
  day::Pack pack;
  pack.params = catalogue::pack_params(kind, cell);
  pack.params.label = kind.title;
  pack.mount = kind.id;
  pack.charge_v = kind.charge_volts;
  pack.by_coulombs =
      kind.charge_amps > 0.0 && cell::charge_way(pack.params.cell.chemistry) == cell::ChargeWay::by_coulombs;
  pack.spare_place = spare_place;
  return pack;
}

// Kinds of the catalogue that fit a holder and of which the kit has none; banks are left out, since what hangs on them
// hangs on their volts.
void add_candidates(const DayFile& file, const catalogue::Catalogue& catalogue, choose::Options& options) {
  std::set<std::string> known;
  for (const day::Pack& pack : file.scenario.packs) known.insert(pack.mount);
  int spare_place = 0;
  for (std::size_t p = 0; p < file.scenario.places.size(); ++p) {
    if (file.scenario.places[p].name == "pocket") spare_place = static_cast<int>(p);
  }
  for (const catalogue::PackKind& kind : catalogue.packs) {
    const bool fits =
        std::any_of(file.scenario.holders.begin(), file.scenario.holders.end(), [&](const day::Holder& holder) {
          return !holder.built_in && holder.charger_supply < 0 &&
                 std::find(holder.accepts.begin(), holder.accepts.end(), kind.id) != holder.accepts.end();
        });
    if (!fits || known.count(kind.id) != 0 || kind.regulator) continue;
    const Money price = pack_price(file.inventory, kind);
    options.candidates.push_back({.name = kind.id,
                                  .pack = new_pack(kind, *catalogue.cell(kind.cell), spare_place),
                                  .cost = cost_of(kind, price.rough())});
  }
}

}  // namespace

ChooseAnswer choose_day(DayFile file, const catalogue::Catalogue& catalogue, const ChooseWords& words,
                        const odds::Each& each) {
  const day::Scenario& day = file.scenario;
  if (day.packs.empty()) {
    throw decode::InputError(file.source, {1, 1}, "the kit has no packs to choose from", "add [[pack]] entries");
  }
  if (std::all_of(day.devices.begin(), day.devices.end(),
                  [](const day::Device& device) { return device.need == day::Need::optional; })) {
    throw decode::InputError(file.source, {1, 1}, "no device has to run, so there is nothing to choose for",
                             "give a [[device]] need = \"rolling\" or \"unbroken\"");
  }
  ChooseAnswer answer;
  bool times = false;
  for (const day::Holder& holder : day.holders) {
    for (std::size_t k = 0; k < holder.slots.size(); ++k) times = times || (k > 0 && !std::isnan(holder.slots[k].at_s));
  }
  if (times)
    answer.notes.emplace_back("Times of changes in the day file are taken as free; times of first packs are kept.");
  add_bays(file);
  keep_plugs(file, catalogue);
  answer.options.sure = words.sure;
  answer.options.one_loss = words.one_loss;
  answer.options.plan_only = words.plan_only;
  answer.options.overrun_s = words.overrun_s;
  answer.options.fresh_days = words.fresh_days;
  answer.options.odds = odds_options(file, words.fresh_days, words.seed);
  answer.options.each = each;
  answer.options.tell = words.tell;
  answer.options.worn = words.worn;
  for (const kit::PackItem& item : file.inventory.packs)
    answer.options.costs.push_back(cost_of(*item.kind, item.price));
  add_candidates(file, catalogue, answer.options);
  answer.choice = choose::choose(file.scenario, answer.options);
  answer.file = std::move(file);
  return answer;
}

}  // namespace tillwrap::app
