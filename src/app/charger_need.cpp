#include "app/charger_need.hpp"

#include <algorithm>
#include <cmath>

#include "app/prices.hpp"
#include "app/recharge_day.hpp"
#include "quantity/order.hpp"
#include "recharge/recharge.hpp"

namespace tillwrap::app {

namespace {

constexpr double kDay_s = 86400.0;
// Awake at the chargers where nobody said when; common practice, no source (a turnaround of ten hours).
constexpr double kEvening_s = 4.0 * 3600.0;
constexpr double kMorning_s = 3600.0;
constexpr double kIndoors_k = 293.15;
constexpr long kNodes = 2000;  // alike packs plan themselves; past it the best plan found counts
constexpr int kMostChargers = 40;

bool takes(const std::vector<std::string>& fits, const std::string& mount) {
  return std::find(fits.begin(), fits.end(), mount) != fits.end();
}

// The rest with only what shares chargers with packs of that mount: those at hand, or of `shared` as well.
recharge::Night about(const recharge::Night& all, const std::string& mount, const std::vector<std::string>& shared) {
  recharge::Night night = all;
  std::erase_if(night.chargers, [&](const recharge::Charger& charger) { return !takes(charger.fits, mount); });
  std::erase_if(night.batteries, [&](const recharge::Battery& battery) {
    return battery.pack.mount != mount && !takes(shared, battery.pack.mount) &&
           std::none_of(night.chargers.begin(), night.chargers.end(),
                        [&](const recharge::Charger& charger) { return takes(charger.fits, battery.pack.mount); });
  });
  // What the day does not use need not be full.
  std::erase_if(night.batteries, [](const recharge::Battery& battery) { return battery.rank < 0; });
  return night;
}

// So many of them, as one of so many bays where their bays share nothing.
void add_chargers(recharge::Night& night, const catalogue::ChargerKind& kind, int count) {
  recharge::Charger one = charger_of(kind);
  one.surround_k = night.chargers.empty() ? kIndoors_k : night.chargers.front().surround_k;
  one.supply = night.supplies.size() == 1 ? 0 : -1;
  one.live =
      night.chargers.empty() ? std::vector<day::Span>{{night.from_s, night.until_s}} : night.chargers.front().live;
  if (one.together_a > 0.0) {
    for (int k = 0; k < count; ++k) night.chargers.push_back(one);
  } else if (count > 0) {
    one.bays *= count;
    night.chargers.push_back(std::move(one));
  }
}

bool all_ready(const recharge::Night& night) {
  if (night.batteries.empty()) return true;
  if (night.chargers.empty()) return false;
  const recharge::Answer answer = recharge::recharge(night, kNodes);
  return answer.needed_ready == answer.needed;
}

// Fewest of a kind that do it; -1: no number does.
int fewest(const recharge::Night& night, const catalogue::ChargerKind& kind) {
  const auto enough = [&](int count) {
    recharge::Night with = night;
    add_chargers(with, kind, count);
    return all_ready(with);
  };
  int cells = 0;
  for (const recharge::Battery& battery : night.batteries)
    cells += kind.volts_per_cell > 0.0 && kind.bays > 1 ? battery.pack.params.series * battery.pack.params.parallel : 1;
  const int most = std::clamp((cells + kind.bays - 1) / kind.bays, 1, kMostChargers);
  if (!enough(most)) return -1;
  int few = 0;
  int many = most;
  while (many - few > 1) {
    const int middle = (few + many) / 2;
    (enough(middle) ? many : few) = middle;
  }
  return many;
}

std::optional<ChargerNeed> need_of(const DayFile& day, const catalogue::Catalogue& catalogue,
                                   const catalogue::PackKind& kind, const std::vector<std::string>& shared) {
  if (!(kind.charge_volts > 0.0 || kind.charge_amps > 0.0)) return std::nullopt;
  const kit::Rest rest = day.inventory.rest.value_or(kit::Rest{});
  ChargerNeed need{.hours_assumed = rest.there.empty()};
  const double begin_s = rest.from_s.value_or(day.scenario.off_s);
  const double end_s = rest.until_s.value_or(day.scenario.call_s + kDay_s);
  RechargeWords words{.with_help = false};
  if (need.hours_assumed) words.there = {{begin_s, begin_s + kEvening_s}, {end_s - kMorning_s, end_s}};
  const auto look = [&](bool asleep) {
    words.asleep = asleep || rest.asleep;
    const recharge::Night all = night_after(day, words).night;
    need.from_s = all.from_s;
    need.until_s = all.until_s;
    const recharge::Night night = about(all, kind.id, shared);
    need.own_bays = 0;
    for (const recharge::Charger& charger : night.chargers) need.own_bays += charger.bays;
    need.packs = static_cast<int>(
        std::count_if(night.batteries.begin(), night.batteries.end(),
                      [&](const recharge::Battery& battery) { return battery.pack.mount == kind.id; }));
    need.enough = all_ready(night);
    if (need.enough) return;
    for (const catalogue::ChargerKind& charger : catalogue.chargers) {
      if (!takes(charger.fits, kind.id)) continue;
      const int add = fewest(night, charger);
      if (add < 0) continue;
      const Money money = static_cast<double>(add) * price_of(day.inventory, charger);
      if (need.enough && money.rough() >= need.money.rough()) continue;
      need.enough = true;
      need.kind = &charger;
      need.add = add;
      need.bays = add * charger.bays;
      need.money = money;
      need.mass_kg = add * charger.mass_kg;
    }
  };
  look(false);
  if (!need.enough && !rest.asleep) {
    look(true);
    need.overnight = need.enough;
  }
  return need;
}

}  // namespace

std::optional<ChargerNeed> chargers_needed(const DayFile& day, const catalogue::Catalogue& catalogue,
                                           const catalogue::PackKind& kind) {
  return need_of(day, catalogue, kind, {});
}

std::optional<ChargerNeed> chargers_needed_beyond(const DayFile& as_is, const DayFile& changed,
                                                  const catalogue::Catalogue& catalogue,
                                                  const catalogue::PackKind& kind) {
  std::vector<std::string> shared;
  for (const catalogue::ChargerKind& charger : catalogue.chargers) {
    if (takes(charger.fits, kind.id)) shared.insert(shared.end(), charger.fits.begin(), charger.fits.end());
  }
  std::optional<ChargerNeed> need = need_of(changed, catalogue, kind, shared);
  if (!need || need->kind == nullptr) return need;
  const std::optional<ChargerNeed> before = need_of(as_is, catalogue, kind, shared);
  if (before->kind != need->kind) return need;
  need->add = std::max(0, need->add - before->add);
  need->bays = need->add * need->kind->bays;
  need->money = static_cast<double>(need->add) * price_of(as_is.inventory, *need->kind);
  need->mass_kg = need->add * need->kind->mass_kg;
  if (need->add == 0) need->kind = nullptr;
  return need;
}

std::vector<ChargerNeed> chargers_needed_together(const DayFile& as_is, const DayFile& changed,
                                                  const catalogue::Catalogue& catalogue,
                                                  const std::vector<const catalogue::PackKind*>& kinds) {
  struct Need {
    const catalogue::PackKind* fills;
    ChargerNeed chargers;
  };
  std::vector<Need> needs;
  for (const catalogue::PackKind* kind : kinds) {
    const bool known = std::any_of(needs.begin(), needs.end(), [&](const Need& one) { return one.fills == kind; });
    if (known) continue;
    if (const std::optional<ChargerNeed> need = chargers_needed_beyond(as_is, changed, catalogue, *kind))
      needs.push_back({kind, *need});
  }
  sort_stably(needs, [](const Need& a, const Need& b) { return a.chargers.money.rough() < b.chargers.money.rough(); });
  // Chargers that take both kinds were counted with the packs of both.
  std::vector<ChargerNeed> all;
  for (const Need& need : needs) {
    const bool counted = std::any_of(all.begin(), all.end(), [&](const ChargerNeed& other) {
      return other.kind != nullptr && takes(other.kind->fits, need.fills->id);
    });
    if (need.chargers.kind == nullptr || !counted) all.push_back(need.chargers);
  }
  return all;
}

}  // namespace tillwrap::app
