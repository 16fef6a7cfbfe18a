#include "expendables/expendables.hpp"

#include <algorithm>
#include <cmath>

#include "forecast/forecast.hpp"
#include "quantity/order.hpp"

namespace tillwrap::expendables {

namespace {

using catalogue::PackKind;
using catalogue::TravelClass;

// Sets a holder may go through in a simulated day before it counts as not lasting.
constexpr int kMostSets = 6;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool primary(const PackKind& kind) {
  return kind.travel.kind == TravelClass::Kind::alkaline || kind.travel.kind == TravelClass::Kind::lithium_metal;
}

int cells_of(const PackKind& kind) { return kind.series * kind.parallel; }

bool is_meal(const std::string& period) {
  std::string name;
  for (const char c : period) name += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  for (const char* word : {"meal", "lunch", "dinner", "supper", "breakfast", "catering"}) {
    if (name.find(word) != std::string::npos) return true;
  }
  return false;
}

struct Work {
  const day::Scenario& day;
  const kit::Inventory& inventory;
  const catalogue::Catalogue& catalogue;
  std::vector<int> holders;             // that start with primary cells
  std::vector<int> device;              // of each of those, -1
  std::vector<std::vector<int>> feeds;  // devices with no other source
};

// Device of a holder: the only one it can feed.
void find_devices(Work& work) {
  const forecast::Model model(work.day);
  for (const int h : work.holders) {
    std::vector<int> fed;
    std::vector<int> alone;
    for (std::size_t d = 0; d < model.feeding.size(); ++d) {
      const forecast::Feeding& feeding = model.feeding[d];
      if (std::find(feeding.holders.begin(), feeding.holders.end(), h) == feeding.holders.end()) continue;
      fed.push_back(static_cast<int>(d));
      const bool only_these =
          feeding.supplies.empty() && std::all_of(feeding.holders.begin(), feeding.holders.end(), [&](int other) {
            return std::find(work.holders.begin(), work.holders.end(), other) != work.holders.end();
          });
      if (only_these) alone.push_back(static_cast<int>(d));
    }
    work.device.push_back(fed.size() == 1 ? fed.front() : -1);
    work.feeds.push_back(alone);
  }
}

// Stretches in which hands reach a holder while the day is shot: fresh cells in wrap-out help nobody.
std::vector<day::Span> stretches(const day::Scenario& day, int holder) {
  return day::windows(day, day.holders[at(holder)].place, day.wrap_s);
}

// What the holders of `work` go through in a computed day. `kinds` by pack of that day's scenario.
std::vector<Use> uses_of(const Work& work, const day::Scenario& day, const std::vector<const PackKind*>& kinds,
                         const forecast::Forecast& f) {
  std::vector<Use> uses;
  const double end_s = day.off_s + day.overrun_s;
  for (std::size_t i = 0; i < work.holders.size(); ++i) {
    const int h = work.holders[i];
    Use use{.holder = h, .device = work.device[i]};
    const std::vector<day::Span> reach = stretches(day, h);
    use.last_reach_s = reach.empty() ? 0.0 : std::min(reach.back().until_s, day.wrap_s);
    for (const forecast::Stint& stint : f.run.stints) {
      if (stint.holder != h || stint.in_s >= day.off_s || kinds[at(stint.pack)] == nullptr) continue;
      if (use.kind == nullptr) use.kind = kinds[at(stint.pack)];
      use.in_s.push_back(stint.in_s);
    }
    for (const forecast::PlannedChange& change : f.plan) {
      if (change.holder == h && change.at_s >= day.off_s && change.at_s < end_s)
        use.in_overrun_s.push_back(change.at_s);
    }
    for (const forecast::Event& e : f.run.events) {
      if (e.kind != forecast::EventKind::device_down || e.why.cause == forecast::Cause::change) continue;
      const std::vector<int>& fed = work.feeds[i];
      if (e.at_s < day.call_s || e.at_s >= day.off_s || std::find(fed.begin(), fed.end(), e.index) == fed.end())
        continue;
      use.fails_s = std::min(use.fails_s, e.at_s);
    }
    uses.push_back(std::move(use));
  }
  return uses;
}

forecast::Forecast run(const day::Scenario& day) {
  return forecast::forecast(day, {.with_one_loss = false, .search_beyond_s = day.overrun_s});
}

void count(Option& option) {
  for (const Use& use : option.uses) {
    if (use.kind == nullptr) continue;
    const int cells = cells_of(*use.kind);
    option.cells += cells * static_cast<int>(use.in_s.size());
    option.cells_overrun += cells * static_cast<int>(use.in_overrun_s.size());
    option.mass_kg += use.kind->mass_kg * static_cast<double>(use.in_s.size());
    if (use.fails_s < kNever) option.lasts = false;
  }
}

// Kind of that cell for a holder; null when it takes none. The shorter list of accepted mounts decides.
const PackKind* kind_in(const Work& work, const day::Holder& holder, const std::string& cell) {
  for (const std::string& mount : holder.accepts) {
    const PackKind* kind = work.catalogue.pack(mount);
    if (kind != nullptr && kind->cell == cell) return kind;
  }
  return nullptr;
}

// Fewest chargers that fill a day's cells in one rest. Time of one filling: rated Ah times what has to be put in, over
// the bay's amps.
void find_charger(Option& option, const catalogue::Catalogue& catalogue, double rest_s) {
  double cell_ah = 0.0;
  for (const Use& use : option.uses) cell_ah = std::max(cell_ah, use.kind->rated_ah / use.kind->parallel);
  for (const catalogue::ChargerKind& charger : catalogue.chargers) {
    const bool takes = std::all_of(option.uses.begin(), option.uses.end(), [&](const Use& use) {
      return std::find(charger.fits.begin(), charger.fits.end(), use.kind->id) != charger.fits.end();
    });
    if (!takes || charger.amps_per_bay <= 0.0) continue;
    const double amps = charger.amps_together > 0.0
                            ? std::min(charger.amps_per_bay, charger.amps_together / charger.bays)
                            : charger.amps_per_bay;
    const double filling_s = 3600.0 * cell_ah * charger.put_in / amps;
    const int rounds = static_cast<int>(std::floor(rest_s / filling_s));
    if (rounds == 0) continue;
    const int cells = option.cells + option.cells_overrun;
    const int needed = (cells + charger.bays * rounds - 1) / (charger.bays * rounds);
    if (option.charger != nullptr && needed >= option.chargers) continue;
    option.charger = &charger;
    option.chargers = needed;
    option.charge_s = filling_s;
  }
}

// The same day with fresh sets of one cell in those holders, changed only when one would not last.
Option with_cells(const Work& work, const std::string& cell, double rest_s) {
  Option option{.cell = cell};
  day::Scenario day = work.day;
  std::vector<const PackKind*> kinds(day.packs.size(), nullptr);
  for (const int h : work.holders) {
    day::Holder& holder = day.holders[at(h)];
    const PackKind* kind = kind_in(work, holder, cell);
    const day::Pack& first = work.day.packs[at(holder.slots.front().pack)];
    const double first_s = holder.slots.front().at_s;
    holder.slots.clear();
    for (int n = 0; n < kMostSets; ++n) {
      day::Pack pack;
      pack.params = catalogue::pack_params(*kind, *work.catalogue.cell(kind->cell));
      pack.params.label = holder.name + " set " + std::to_string(n + 1);
      pack.mount = kind->id;
      pack.spare_place = first.spare_place;
      pack.charge_v = kind->charge_volts;
      holder.slots.push_back({.pack = static_cast<int>(day.packs.size()), .at_s = n == 0 ? first_s : day::kAuto});
      day.packs.push_back(std::move(pack));
      kinds.push_back(kind);
    }
    option.rechargeable = !primary(*kind);
  }
  option.uses = uses_of(work, day, kinds, run(day));
  count(option);
  if (option.rechargeable) find_charger(option, work.catalogue, rest_s);
  return option;
}

}  // namespace

Answer answer(const day::Scenario& day, const kit::Inventory& inventory, const catalogue::Catalogue& catalogue,
              const Options& options) {
  Answer out;
  Work work{.day = day, .inventory = inventory, .catalogue = catalogue};
  std::vector<const PackKind*> kinds;
  for (const kit::PackItem& pack : inventory.packs)
    kinds.push_back(pack.kind != nullptr && primary(*pack.kind) ? pack.kind : nullptr);
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    const day::Holder& holder = day.holders[at(h)];
    if (holder.charger_supply < 0 && !holder.slots.empty() && kinds[at(holder.slots.front().pack)] != nullptr)
      work.holders.push_back(h);
  }
  if (work.holders.empty()) return out;
  find_devices(work);

  const forecast::Forecast written = run(day);
  out.as_written.uses = uses_of(work, day, kinds, written);
  count(out.as_written);
  for (const Use& use : out.as_written.uses) {
    const std::vector<day::Span> reach = stretches(day, use.holder);
    for (const double in_s : use.in_s) {
      Moment moment = Moment::between;
      const auto period = std::find_if(day.periods.rbegin(), day.periods.rend(),
                                       [&](const day::Period& p) { return p.from_s <= in_s; });
      if (in_s <= day.call_s) {
        moment = Moment::call;
      } else if (period != day.periods.rend() && is_meal(period->name)) {
        moment = Moment::meal;
      } else if (reach.size() > 1 && in_s >= reach.back().from_s && in_s <= reach.back().until_s) {
        moment = Moment::last_reach;
      }
      out.fresh.push_back({use.holder, use.device, use.kind, in_s, moment});
    }
    for (const double in_s : use.in_overrun_s)
      out.fresh.push_back({use.holder, use.device, use.kind, in_s, Moment::overrun});
  }
  sort_stably(out.fresh, [](const Fresh& a, const Fresh& b) { return a.in_s < b.in_s; });

  for (const catalogue::CellKind& cell : catalogue.cells) {
    const bool all = std::all_of(work.holders.begin(), work.holders.end(),
                                 [&](int h) { return kind_in(work, day.holders[at(h)], cell.id) != nullptr; });
    if (all) out.options.push_back(with_cells(work, cell.id, options.rest_s));
  }
  return out;
}

}  // namespace tillwrap::expendables
