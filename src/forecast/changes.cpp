#include "forecast/changes.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/order.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kWorthAnotherTurn = 0.15;  // charge left that makes a half-used pack worth putting in again
constexpr double kShortestStint_s = 60.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Latest good moment before a pack stops serving: the reserve ahead of it. A pack that sees the kit off is left alone
// until then.
double latest_moment(const day::Scenario& day, double ended_s, double in_s) {
  const double latest_s = std::max(ended_s - day.reserve_s, in_s + kShortestStint_s);
  return ended_s > day.off_s ? std::max(latest_s, day.off_s) : latest_s;
}

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

// When a pack put in at `in_s` is first drawn from: before that one is as good as the next, and to change it gains
// nothing.
double used_from(const Model& model, int holder, double in_s) {
  double first_s = kNever;
  for (std::size_t d = 0; d < model.day.devices.size(); ++d) {
    const std::vector<int>& holders = model.feeding[d].holders;
    if (std::find(holders.begin(), holders.end(), holder) == holders.end()) continue;
    for (const day::Period& period : model.day.periods) {
      if (period.until_s <= in_s || model.day.devices[d].modes[at(period.mode[d])].off) continue;
      first_s = std::min(first_s, std::max(period.from_s, in_s));
      break;
    }
  }
  return first_s < kNever ? first_s : in_s;
}

RunOptions planning(double search_until_s, double tolerance = 1.0) {
  return {.search_until_s = search_until_s, .longest_step_s = 7200.0, .tolerance = tolerance, .loss_only = true};
}

void sort_by_time(ChangePlan& plan) {
  sort_stably(plan, [](const PlannedChange& a, const PlannedChange& b) { return a.at_s < b.at_s; });
}

}  // namespace

ChangePlan plan_changes(const Model& model, double search_until_s, double tolerance) {
  Simulator simulator(model);
  Marks marks;
  return plan_changes(model, search_until_s, tolerance, simulator, marks);
}

ChangePlan plan_changes(const Model& model, double search_until_s, double tolerance, Simulator& simulator,
                        Marks& marks) {
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
                      .out_s = std::isnan(slot.out_s) ? kNever : slot.out_s,
                      .gap_s = slot.gap_s});
      ++k;
    }
  };
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    take_fixed(h);
    open_slots += day.holders[at(h)].slots.size() - next[at(h)];
  }
  sort_by_time(plan);
  RunOptions options = planning(search_until_s, tolerance);
  options.first_served = true;
  DayRun run;
  while (open_slots > 0) {
    options.stop_served.clear();
    for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
      if (next[at(h)] >= day.holders[at(h)].slots.size()) continue;
      const auto last =
          std::find_if(plan.rbegin(), plan.rend(), [h](const PlannedChange& change) { return change.holder == h; });
      if (last != plan.rend()) options.stop_served.push_back({.holder = h, .pack = last->pack, .in_s = last->at_s});
    }
    if (options.stop_served.empty()) break;
    simulator.run(plan, options, run, marks);
    int chosen = -1;
    double ended_s = kNever;
    double in_s = 0.0;
    for (const Served& last : options.stop_served) {
      const Stint* stint = stint_of(run, last);
      if (stint == nullptr || stint->ended_s >= ended_s) continue;
      ended_s = stint->ended_s;
      in_s = stint->in_s;
      chosen = last.holder;
    }
    if (chosen < 0) break;
    const day::Holder& holder = day.holders[at(chosen)];
    const std::vector<day::Span> open = day::windows(day, holder.place, search_until_s);
    const double latest_s = latest_moment(day, ended_s, in_s);
    const double moment_s =
        change_moment(open, used_from(model, chosen, in_s) + kShortestStint_s, latest_s, holder.gap_s);
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

ChangePlan plan_without(const Model& model, const ChangePlan& plan, int lost_pack, double search_until_s) {
  const day::Scenario& day = model.day;
  const double start_s = day.periods.front().from_s;
  Simulator simulator(model);
  Marks marks;
  DayRun run;
  ChangePlan kept;
  std::vector<double> turn_s(day.holders.size(), kNever);  // when the lost pack would have gone in
  std::vector<char> reserved(day.packs.size(), 0);         // has work in another holder
  for (const PlannedChange& change : plan) {
    const bool charging = day.holders[at(change.holder)].charger_supply >= 0;
    if (change.pack == lost_pack) {
      if (!charging) turn_s[at(change.holder)] = std::min(turn_s[at(change.holder)], change.at_s);
    } else if (!charging) {
      reserved[at(change.pack)] = 1;
    }
  }
  for (const PlannedChange& change : plan) {
    if (change.pack == lost_pack || change.at_s >= turn_s[at(change.holder)]) {
      if (change.pack != lost_pack && change.at_s >= turn_s[at(change.holder)]) reserved[at(change.pack)] = 0;
      continue;
    }
    kept.push_back(change);
  }
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    if (turn_s[at(h)] == kNever) continue;
    const day::Holder& holder = day.holders[at(h)];
    const std::vector<day::Span> open = day::windows(day, holder.place, search_until_s);
    double moment_s = turn_s[at(h)];
    int inside = -1;
    for (const PlannedChange& change : kept) {
      if (change.holder == h) {
        inside = change.pack;
        reserved[at(change.pack)] = 0;  // it may serve again here
      }
    }
    for (std::size_t round = 0; round < 2 * day.packs.size() && moment_s < kNever; ++round) {
      RunOptions until = planning(search_until_s);
      until.stop_s = std::max(moment_s, start_s);
      simulator.run(kept, until, run, marks);
      int best = -1;
      double best_j = 0.0;
      for (int p = 0; p < static_cast<int>(day.packs.size()); ++p) {
        const day::Pack& pack = day.packs[at(p)];
        if (p == lost_pack || p == inside || reserved[at(p)] || run.charge[at(p)] < kWorthAnotherTurn) continue;
        if (std::find(holder.accepts.begin(), holder.accepts.end(), pack.mount) == holder.accepts.end()) continue;
        const double left_j = cell::energy_left_j(pack.params, run.charge[at(p)]);
        if (left_j > best_j) {
          best_j = left_j;
          best = p;
        }
      }
      if (best < 0) break;
      kept.push_back({.holder = h, .pack = best, .at_s = moment_s});
      // A bay does not take back a pack that is at work.
      std::erase_if(kept, [&](const PlannedChange& change) {
        return change.pack == best && change.at_s >= moment_s && day.holders[at(change.holder)].charger_supply >= 0;
      });
      inside = best;
      sort_by_time(kept);
      simulator.run(kept, planning(search_until_s), run, marks);
      const Stint* last = nullptr;
      for (const Stint& stint : run.stints) {
        if (stint.holder == h) last = &stint;
      }
      moment_s = kNever;
      if (last != nullptr && last->ended_s < kNever) {
        const double latest_s = latest_moment(day, last->ended_s, last->in_s);
        moment_s = change_moment(open, used_from(model, h, last->in_s) + kShortestStint_s, latest_s, holder.gap_s);
      }
    }
  }
  return kept;
}

bool ended_early(const day::Scenario& day, const ChangePlan& plan, const DayRun& run) {
  for (const Stint& stint : run.stints) {
    if (stint.ended_s == kNever) continue;
    std::size_t planned = 0;
    for (const PlannedChange& change : plan) {
      if (change.holder != stint.holder) continue;
      if (change.at_s > stint.in_s && change.at_s > stint.ended_s) return true;
      ++planned;
    }
    if (planned < day.holders[at(stint.holder)].slots.size()) return true;
  }
  return false;
}

bool plans_anew(const day::Scenario& day) {
  for (const day::Holder& holder : day.holders) {
    for (std::size_t k = 1; k < holder.slots.size(); ++k) {
      if (std::isnan(holder.slots[k].at_s)) return true;
    }
  }
  return false;
}

}  // namespace tillwrap::forecast
