// Steps in time: changes moved, hands asked for, packs topped up, mains asked for.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "app/prices.hpp"
#include "app/remedy_steps.hpp"
#include "app/words.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

constexpr double kWorthCharging_s = 20.0 * 60.0;
constexpr double kBeforeOff_s = 30.0 * 60.0;  // a pack back later than this serves no more
constexpr double kFetch_s = 60.0;             // pack to charger, charger to bag
constexpr std::size_t kStretches = 2;         // places in the day a pack is offered a charge
constexpr double kShifts_min[] = {-90, -60, -30, 30, 60, 90};

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool is_bay(const day::Holder& holder) { return holder.charger_supply >= 0; }

double up_to_minute(double at_s) { return 60.0 * std::ceil(at_s / 60.0 - 1e-9); }

// From slot k on, changes wait for the last safe moment.
DayChange untimed(const std::string& holder, std::size_t k) {
  return [holder, k](decode::Document& document) {
    decode::Node* packs = edit::child(edit::thing(document, "holder", "name", holder), "packs");
    if (packs == nullptr || packs->children.size() <= k) throw NotPossible("no such change");
    for (std::size_t i = k; i < packs->children.size(); ++i)
      packs->children[i] = edit::text("", edit::slot_label(packs->children[i]));
  };
}

DayChange timed(const std::string& holder, std::size_t k, double at_s) {
  return [holder, k, at_s](decode::Document& document) {
    decode::Node* packs = edit::child(edit::thing(document, "holder", "name", holder), "packs");
    if (packs == nullptr || packs->children.size() <= k) throw NotPossible("no such change");
    packs->children[k] =
        edit::table("", {edit::text("pack", edit::slot_label(packs->children[k])), edit::clock("at", at_s)});
  };
}

void moved_changes(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const Wording wording(base.file->inventory.settings);
  std::map<std::pair<int, int>, double> planned;  // (holder, pack) -> moment, for slots without a time
  for (const forecast::PlannedChange& change : base.forecast->plan) planned[{change.holder, change.pack}] = change.at_s;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    if (is_bay(holder) || !base.holder_matters[h]) continue;
    const std::vector<day::Span> open = day::windows(day, holder.place, day.off_s);
    for (std::size_t k = 1; k < holder.slots.size(); ++k) {
      const day::Slot& slot = holder.slots[k];
      const std::string label = day.packs[at(slot.pack)].params.label;
      const bool fixed = !std::isnan(slot.at_s);
      double now_s = slot.at_s;
      if (!fixed) {
        const auto found = planned.find({static_cast<int>(h), slot.pack});
        if (found == planned.end() || found->second >= day.off_s) continue;
        now_s = found->second;
      }
      if (fixed) {
        steps.push_back({.kind = "change",
                         .words = fmt::format("{} into {} at the last safe moment, not at {}", label, holder.name,
                                              wording.clock(now_s)),
                         .note = "and so the changes after it",
                         .change = untimed(holder.name, k),
                         .cost = {}});
      }
      // Only a slot all of whose forerunners have a time can get one.
      if (k > 1 && std::isnan(holder.slots[k - 1].at_s)) continue;
      for (const double shift_min : kShifts_min) {
        const double at_s = up_to_minute(now_s + 60.0 * shift_min);
        const bool reachable = std::any_of(open.begin(), open.end(), [&](const day::Span& span) {
          return at_s >= span.from_s && at_s + holder.gap_s <= span.until_s;
        });
        if (!reachable) continue;
        steps.push_back({.kind = "change",
                         .words = fmt::format("{} into {} at {}, not at {}", label, holder.name, wording.clock(at_s),
                                              wording.clock(now_s)),
                         .change = timed(holder.name, k, at_s),
                         .cost = {}});
      }
    }
  }
}

void asked_hands(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const decode::Node* periods = base.document->root.find("period");
  if (periods == nullptr) return;
  for (std::size_t k = 0; k < periods->children.size(); ++k) {
    const decode::Node* closed = periods->children[k].find("no_hands");
    const decode::Node* name = periods->children[k].find("name");
    if (closed == nullptr || name == nullptr) continue;
    for (const decode::Node& part : closed->children) {
      const std::string place = closed->kind == decode::Kind::table ? part.key : part.text;
      steps.push_back({.kind = "window",
                       .words = fmt::format("a window for {} during \"{}\"", place, name->text),
                       .note = "for the minute of a change, when it is due",
                       .change =
                           [k, place](decode::Document& document) {
                             decode::Node& period = edit::things(document, "period").children[k];
                             decode::Node* stretches = edit::child(period, "no_hands");
                             if (stretches == nullptr) throw NotPossible("hands reach it already");
                             std::erase_if(stretches->children, [&](const decode::Node& entry) {
                               return (stretches->kind == decode::Kind::table ? entry.key : entry.text) == place;
                             });
                           },
                       .cost = {.hands_s = kFetch_s, .ask = true}});
    }
  }
}

struct Charge {
  std::string charger;  // name; empty: one has to be found
  const catalogue::ChargerKind* kind = nullptr;
  std::string label, holder;
  double from_s = 0.0, until_s = 0.0;
  std::vector<std::size_t> ask_power;  // periods
};

DayChange charging(const Charge& charge) {
  return [charge](decode::Document& document) {
    std::string name = charge.charger;
    if (name.empty()) {
      name = edit::fresh_name(document, "another charger");
      edit::things(document, "charger")
          .children.push_back(
              edit::table("", {edit::text("name", name), edit::text("kind", charge.kind->id), edit::list("bays")}));
    }
    decode::Node& charger = edit::thing(document, "charger", "name", name);
    decode::Node& bays = edit::child_or_new(charger, edit::list("bays"));
    const decode::Node turn = edit::table("", {edit::text("pack", charge.label), edit::clock("from", charge.from_s),
                                               edit::clock("until", charge.until_s)});
    decode::Node* free = nullptr;
    for (decode::Node& bay : bays.children) {
      if (bay.children.empty()) free = free == nullptr ? &bay : free;
    }
    if (free == nullptr) {
      if (bays.children.size() >= at(charge.kind->bays)) throw NotPossible("every bay is taken");
      bays.children.push_back(edit::list(""));
      free = &bays.children.back();
    }
    free->children.push_back(turn);
    for (const std::size_t k : charge.ask_power) {
      decode::Node& live = edit::child_or_new(edit::things(document, "period").children[k], edit::list("live"));
      const decode::Node* source = charger.find("source");
      const std::string power = source == nullptr ? name : source->text;
      const bool there = std::any_of(live.children.begin(), live.children.end(),
                                     [&](const decode::Node& entry) { return entry.text == power; });
      if (!there) live.children.push_back(edit::text("", power));
    }
    decode::Node* packs = edit::child(edit::thing(document, "holder", "name", charge.holder), "packs");
    if (packs == nullptr) throw NotPossible("no packs in \"" + charge.holder + "\"");
    packs->children.push_back(edit::text("", charge.label));
  };
}

void top_ups(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const kit::Inventory& kit = base.file->inventory;
  std::set<int> charged;
  for (const day::Holder& holder : day.holders) {
    if (!is_bay(holder)) continue;
    for (const day::Slot& slot : holder.slots) charged.insert(slot.pack);
  }
  std::set<int> done;
  for (const forecast::Stint& stint : base.forecast->run.stints) {
    const day::Holder& holder = day.holders[at(stint.holder)];
    const day::Pack& pack = day.packs[at(stint.pack)];
    if (!base.holder_matters[at(stint.holder)] || is_bay(holder) || holder.built_in || !day::rechargeable(pack) ||
        charged.contains(stint.pack))
      continue;
    if (stint.out_s > day.off_s - kBeforeOff_s || !done.insert(stint.pack).second) continue;
    // Its turn comes later in the same holder again: leave the plan alone.
    const std::string& kind_id = pack.mount;
    const kit::ChargerItem* own = nullptr;
    for (const kit::ChargerItem& item : kit.chargers) {
      if (std::find(item.kind->fits.begin(), item.kind->fits.end(), kind_id) != item.kind->fits.end()) own = &item;
    }
    const catalogue::ChargerKind* bought = cheapest_charger(kit, *base.catalogue, kind_id);
    if (own == nullptr && bought == nullptr) continue;
    struct Stretch {
      double from_s, until_s;
      std::vector<std::size_t> ask;
      std::string during;
    };
    std::vector<Stretch> stretches;
    const double out_s = up_to_minute(stint.out_s + kFetch_s);
    for (std::size_t k = 0; k < day.periods.size(); ++k) {
      const day::Period& period = day.periods[k];
      Stretch stretch{std::max(period.from_s, out_s), std::min(period.until_s, day.off_s), {}, period.name};
      const bool live = own != nullptr && period.supply_live[at(own->supply)];
      if (!live) stretch.ask.push_back(k);
      if (live && !stretches.empty() && stretches.back().ask.empty() && stretches.back().until_s == period.from_s) {
        stretches.back().until_s = stretch.until_s;
        continue;
      }
      if (stretch.from_s >= stretch.until_s) continue;
      stretches.push_back(stretch);
    }
    std::erase_if(stretches, [&](const Stretch& s) {
      return s.until_s - s.from_s < kWorthCharging_s || s.until_s > day.off_s - kBeforeOff_s;
    });
    sort_stably(stretches, [](const Stretch& a, const Stretch& b) {
      if (a.ask.empty() != b.ask.empty()) return a.ask.empty();
      return a.until_s - a.from_s > b.until_s - b.from_s;
    });
    if (stretches.size() > kStretches) stretches.resize(kStretches);
    for (const Stretch& stretch : stretches) {
      const bool ask = !stretch.ask.empty();
      steps.push_back(
          {.kind = "top_up",
           .words = fmt::format("charge {} during \"{}\" and use it again{}{}", pack.params.label, stretch.during,
                                own == nullptr ? ", with " + bought->id : "", ask ? ", where power is" : ""),
           .note = "somebody stays with what charges",
           .change = charging({.charger = own == nullptr ? "" : own->name,
                               .kind = own == nullptr ? bought : own->kind,
                               .label = pack.params.label,
                               .holder = holder.name,
                               .from_s = stretch.from_s,
                               .until_s = stretch.until_s,
                               .ask_power = stretch.ask}),
           .cost = {.hands_s = 2.0 * kFetch_s + holder.gap_s, .ask = ask, .buy = own == nullptr}});
    }
  }
}

void mains(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  for (std::size_t s = 0; s < day.supplies.size(); ++s) {
    if (day.supplies[s].port < 0) continue;
    std::vector<int> places;  // where its lead ends
    for (const day::Lead& lead : day.leads) {
      if (lead.from == day.supplies[s].port) places.push_back(day.ports[at(lead.to)].place);
    }
    for (std::size_t k = 0; k < day.periods.size(); ++k) {
      const day::Period& period = day.periods[k];
      if (period.supply_live[s] || period.until_s - period.from_s < kWorthCharging_s) continue;
      // An adapter is not plugged into what nobody can reach all that time.
      const bool reachable = std::any_of(places.begin(), places.end(), [&](int place) {
        const std::vector<day::Span> open = day::windows(day, place, day.off_s);
        return std::any_of(open.begin(), open.end(), [&](const day::Span& span) {
          return span.from_s < period.until_s && span.until_s > period.from_s;
        });
      });
      if (!reachable && !day.supplies[s].vehicle) continue;
      steps.push_back({.kind = "mains",
                       .words = fmt::format("power for {} during \"{}\"", day.supplies[s].name, period.name),
                       .note = "mains, generator and vehicle power belong to licensed people",
                       .change =
                           [k, name = day.supplies[s].name](decode::Document& document) {
                             decode::Node& live =
                                 edit::child_or_new(edit::things(document, "period").children[k], edit::list("live"));
                             live.children.push_back(edit::text("", name));
                           },
                       .cost = {.hands_s = 2.0 * kFetch_s, .ask = true}});
    }
  }
}

}  // namespace

void time_steps(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  moved_changes(base, steps);
  asked_hands(base, steps);
  top_ups(base, steps);
  mains(base, steps);
}

}  // namespace tillwrap::app
