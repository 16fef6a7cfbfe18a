#include "forecast/changes.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::forecast {

namespace {

constexpr double kWorthAnotherTurn = 0.15;  // charge left that makes a half-used pack worth putting in again
constexpr double kShortestStint_s = 60.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Last moment at which the change fits into a window, not before `from_s` and not after `latest_s`; otherwise the first
// moment after it.
double change_moment(const std::vector<day::Span>& open, double from_s, double latest_s, double gap_s) {
  double best_s = kNever;
  for (const day::Span& span : open) {
    const double last_s = std::min(latest_s, span.until_s - gap_s);
    if (last_s >= std::max(span.from_s, from_s)) best_s = last_s;
  }
  if (best_s < kNever) return best_s;
  for (const day::Span& span : open) {
    const double first_s = std::max({span.from_s, from_s, latest_s});
    if (first_s + gap_s <= span.until_s) return first_s;
  }
  return kNever;
}

void sort_by_time(ChangePlan& plan) {
  std::stable_sort(plan.begin(), plan.end(), [](const PlannedChange& a, const PlannedChange& b) { return a.at_s < b.at_s; });
}

}  // namespace

ChangePlan plan_changes(const Model& model, double search_until_s) {
  const day::Scenario& day = model.day;
  const double start_s = day.periods.front().from_s;
  ChangePlan plan;
  std::vector<std::size_t> next(day.holders.size(), 0);
  std::size_t open_slots = 0;
  const auto take_fixed = [&](int h) {
    const day::Holder& holder = day.holders[at(h)];
    std::size_t& k = next[at(h)];
    while (k < holder.slots.size() && (k == 0 || !std::isnan(holder.slots[k].at_s))) {
      const day::Slot& slot = holder.slots[k];
      plan.push_back({.holder = h,
                      .pack = slot.pack,
                      .at_s = std::isnan(slot.at_s) ? start_s : slot.at_s,
                      .out_s = std::isnan(slot.out_s) ? kNever : slot.out_s});
      ++k;
    }
  };
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    take_fixed(h);
    open_slots += day.holders[at(h)].slots.size() - next[at(h)];
  }
  sort_by_time(plan);
  const RunOptions options{.search_until_s = search_until_s};
  while (open_slots > 0) {
    const DayRun run = run_day(model, plan, options);
    int chosen = -1;
    double ended_s = kNever;
    double in_s = 0.0;
    for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
      if (next[at(h)] >= day.holders[at(h)].slots.size()) continue;
      const Stint* last = nullptr;
      for (const Stint& stint : run.stints) {
        if (stint.holder == h) last = &stint;
      }
      if (last == nullptr || last->ended_s >= ended_s) continue;
      ended_s = last->ended_s;
      in_s = last->in_s;
      chosen = h;
    }
    if (chosen < 0) break;
    const day::Holder& holder = day.holders[at(chosen)];
    const std::vector<day::Span> open = day::windows(day, holder.place, search_until_s);
    const double latest_s = std::max(ended_s - day.reserve_s, in_s + kShortestStint_s);
    const double moment_s = change_moment(open, in_s + kShortestStint_s, latest_s, holder.gap_s);
    --open_slots;
    const day::Slot& slot = holder.slots[next[at(chosen)]++];
    if (moment_s < kNever) plan.push_back({.holder = chosen, .pack = slot.pack, .at_s = moment_s});
    const std::size_t before = next[at(chosen)];
    take_fixed(chosen);
    open_slots -= next[at(chosen)] - before;
    sort_by_time(plan);
  }
  return plan;
}

day::Scenario without_pack(const day::Scenario& scenario, const ChangePlan& plan, const DayRun& base, int lost_pack) {
  day::Scenario variant = scenario;
  std::vector<char> assigned(scenario.packs.size(), 0);
  for (const day::Holder& holder : scenario.holders) {
    for (const day::Slot& slot : holder.slots) assigned[at(slot.pack)] = 1;
  }
  for (int h = 0; h < static_cast<int>(scenario.holders.size()); ++h) {
    day::Holder& holder = variant.holders[at(h)];
    std::vector<day::Slot> slots;
    bool lost_here = false;
    double turn_s = day::kAuto;
    std::vector<const PlannedChange*> mine;
    for (const PlannedChange& change : plan) {
      if (change.holder == h) mine.push_back(&change);
    }
    for (std::size_t k = 0; k < holder.slots.size(); ++k) {
      day::Slot slot = holder.slots[k];
      if (!lost_here && k < mine.size() && mine[k]->pack == slot.pack) slot.at_s = mine[k]->at_s;
      if (slot.pack == lost_pack) {
        if (!lost_here) turn_s = slot.at_s;
        lost_here = true;
        continue;
      }
      if (lost_here) {
        slot.at_s = turn_s;
        turn_s = day::kAuto;
      }
      slots.push_back(slot);
    }
    if (holder.charger_supply >= 0) {
      std::erase_if(holder.slots, [&](const day::Slot& s) { return s.pack == lost_pack; });
      continue;
    }
    if (!lost_here) continue;
    const auto fits = [&](int pack) {
      const std::string& mount = scenario.packs[at(pack)].mount;
      return std::find(holder.accepts.begin(), holder.accepts.end(), mount) != holder.accepts.end();
    };
    const auto add = [&](int pack) {
      slots.push_back({.pack = pack, .at_s = turn_s});
      turn_s = day::kAuto;
    };
    for (int p = 0; p < static_cast<int>(scenario.packs.size()); ++p) {
      if (assigned[at(p)] || p == lost_pack || !fits(p)) continue;
      add(p);
      assigned[at(p)] = 1;
    }
    std::vector<const Stint*> half_used;
    for (const Stint& stint : base.stints) {
      if (stint.holder == h && stint.pack != lost_pack && stint.out_s < kNever && stint.end_charge > kWorthAnotherTurn) {
        half_used.push_back(&stint);
      }
    }
    std::stable_sort(half_used.begin(), half_used.end(),
                     [](const Stint* a, const Stint* b) { return a->end_charge > b->end_charge; });
    for (const Stint* stint : half_used) add(stint->pack);
    holder.slots = slots;
  }
  return variant;
}

}  // namespace tillwrap::forecast
