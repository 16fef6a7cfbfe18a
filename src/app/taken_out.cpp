#include "app/taken_out.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/words.hpp"
#include "forecast/forecast.hpp"

namespace tillwrap::app {

namespace {

constexpr double kChange_s = 600.0;  // out and in within so long are one change; from memory

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// The last of its slots that is fixed for then or before.
std::size_t turn_at(const day::Holder& holder, double at_s) {
  std::size_t now = 0;
  for (std::size_t k = 1; k < holder.slots.size() && holder.slots[k].at_s <= at_s; ++k) now = k;
  return now;
}

bool is_out(const day::Slot& slot, double at_s) { return slot.out_s <= at_s || slot.at_s > at_s; }

// First slot from `from` on with that pack; the count of slots when there is none.
std::size_t turn_of(const day::Holder& holder, std::size_t from, int pack) {
  while (from < holder.slots.size() && holder.slots[from].pack != pack) ++from;
  return from;
}

// The day's plan put that pack in by then: its turn and those before it get their moments.
bool fix_by_plan(day::Scenario& day, int h, std::size_t turn, double at_s) {
  const forecast::WholeDay whole(day);
  std::vector<double> in_s;
  for (const forecast::PlannedChange& change : whole.whole(whole.plan(day.off_s))) {
    if (change.holder == h) in_s.push_back(change.at_s);
  }
  if (turn >= in_s.size() || in_s[turn] > at_s) return false;
  for (std::size_t k = 1; k <= turn; ++k) day.holders[at(h)].slots[k].at_s = in_s[k];
  return true;
}

}  // namespace

std::string take_out(day::Scenario& day, int pack, int holder, double at_s) {
  std::vector<int> where;
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    if ((holder < 0 || h == holder) && !day.holders[at(h)].slots.empty()) where.push_back(h);
  }
  for (const int h : where) {
    day::Slot& slot = day.holders[at(h)].slots[turn_at(day.holders[at(h)], at_s)];
    if (slot.pack != pack || is_out(slot, at_s)) continue;
    slot.out_s = at_s;
    return {};
  }
  bool was_in = false;
  for (const int h : where) {
    day::Holder& from = day.holders[at(h)];
    const std::size_t now = turn_at(from, at_s);
    was_in = was_in || turn_of(from, 0, pack) <= now;
    const std::size_t turn = turn_of(from, now + 1, pack);
    if (turn == from.slots.size() || is_out(from.slots[now], at_s) || !fix_by_plan(day, h, turn, at_s)) continue;
    from.slots[turn].out_s = at_s;
    return {};
  }
  if (was_in) return {};
  const std::string& label = day.packs[at(pack)].params.label;
  if (holder < 0) return fmt::format("{} was in no holder by then: left aside. Note when it went in", label);
  day::Holder& from = day.holders[at(holder)];
  std::string said =
      fmt::format("by then {} was not in {}: note when it went in. Nothing is taken to be in {} from then on", label,
                  from.name, from.name);
  if (!from.slots.empty()) from.slots[turn_at(from, at_s)].out_s = at_s;
  return said;
}

std::vector<LeftEmpty> settle_emptied(day::Scenario& day, double now_s) {
  std::vector<LeftEmpty> out;
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    day::Holder& holder = day.holders[at(h)];
    if (holder.charger_supply >= 0) continue;
    for (std::size_t k = 0; k < holder.slots.size(); ++k) {
      day::Slot& slot = holder.slots[k];
      if (std::isnan(slot.out_s)) continue;
      if (k + 1 < holder.slots.size() && std::isnan(holder.slots[k + 1].at_s))
        holder.slots.erase(holder.slots.begin() + static_cast<std::ptrdiff_t>(k) + 1, holder.slots.end());
      day::Slot* next = k + 1 < holder.slots.size() ? &holder.slots[k + 1] : nullptr;
      if (next != nullptr && next->at_s < slot.out_s + kChange_s) {
        slot.out_s = day::kAuto;
      } else if (next != nullptr && next->at_s <= now_s) {
        next->gap_s = next->at_s - slot.out_s;
        next->at_s = slot.out_s;
        slot.out_s = day::kAuto;
      } else {
        out.push_back({.holder = h, .pack = slot.pack, .since_s = slot.out_s});
        if (next != nullptr) {
          out.back().next_pack = next->pack;
          out.back().next_s = next->at_s;
        }
      }
    }
  }
  return out;
}

void look_at_emptied(const day::Scenario& day, double now_s, std::vector<LeftEmpty>& emptied) {
  if (emptied.empty() || now_s > day.off_s) return;
  const auto now_period = std::find_if(day.periods.begin(), day.periods.end(),
                                       [&](const day::Period& period) { return now_s < period.until_s; });
  const day::Period& period = now_period == day.periods.end() ? day.periods.back() : *now_period;
  const forecast::WholeDay whole(day);
  for (std::size_t p = 0; p < whole.pieces().size(); ++p) {
    const forecast::Piece& piece = whole.pieces()[p];
    const auto of_piece = [&](const LeftEmpty& one) {
      return std::find(piece.holders.begin(), piece.holders.end(), one.holder) != piece.holders.end();
    };
    if (std::none_of(emptied.begin(), emptied.end(), of_piece)) continue;
    forecast::RunOptions options{.search_until_s = day.off_s, .tolerance = 1.0, .stop_s = now_s, .probe_s = {now_s}};
    const forecast::DayRun run =
        forecast::run_day(whole.model(p), forecast::plan_changes(whole.model(p), day.off_s), options);
    if (run.probes.empty()) continue;
    for (LeftEmpty& one : emptied) {
      const auto local = std::find(piece.holders.begin(), piece.holders.end(), one.holder);
      if (local == piece.holders.end()) continue;
      const int h = static_cast<int>(local - piece.holders.begin());
      for (std::size_t d = 0; d < piece.devices.size(); ++d) {
        const int device = piece.devices[d];
        const std::vector<int>& holders = whole.model(p).feeding[d].holders;
        if (std::find(holders.begin(), holders.end(), h) == holders.end()) continue;
        if (day.devices[at(device)].modes[at(period.mode[at(device)])].off) continue;
        (run.probes.front().device_a[d] > 0.0 ? one.running : one.dark).push_back(device);
      }
    }
  }
}

}  // namespace tillwrap::app
