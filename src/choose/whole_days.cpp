#include "choose/whole_days.hpp"

#include <algorithm>

#include "forecast/changes.hpp"
#include "forecast/model.hpp"
#include "forecast/simulator.hpp"
#include "forecast/split.hpp"
#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr double kLongestStep_s = 7200.0;
constexpr std::size_t kChunk = 64;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool holds(const std::vector<int>& all, int what) { return std::find(all.begin(), all.end(), what) != all.end(); }

}  // namespace

day::Scenario scenario_of(const day::Scenario& scenario, const NamedPlan& plan) {
  day::Scenario day = scenario;
  for (day::Holder& holder : day.holders) {
    if (!holder.built_in || holder.charger_supply >= 0) holder.slots.clear();
  }
  for (const NamedPlan::Put& put : plan.puts) {
    day::Slot slot{.pack = put.pack, .at_s = put.in_s};
    if (day.holders[at(put.holder)].charger_supply >= 0) slot.out_s = put.out_s;
    day.holders[at(put.holder)].slots.push_back(slot);
  }
  for (day::Holder& holder : day.holders) {
    if (holder.built_in && holder.charger_supply < 0) continue;
    sort_stably(holder.slots, [](const day::Slot& a, const day::Slot& b) { return a.at_s < b.at_s; });
  }
  return day;
}

std::vector<PieceDays> whole_days(const day::Scenario& scenario, const NamedPlan& plan, const Tables& tables,
                                  const Options& options, double end_s, int only_holder) {
  const day::Scenario day = scenario_of(scenario, plan);
  std::vector<forecast::Piece> pieces = forecast::split(day);
  std::erase_if(pieces, [&](const forecast::Piece& piece) {
    return !piece.must_run || (only_holder >= 0 && !holds(piece.holders, only_holder));
  });
  for (forecast::Piece& piece : pieces) {
    for (int& pack : piece.packs) {
      const auto put =
          std::find_if(plan.puts.begin(), plan.puts.end(), [&](const NamedPlan::Put& one) { return one.pack == pack; });
      if (put != plan.puts.end()) pack = put->drawn;
    }
  }
  const std::size_t days = tables.luck().size();
  std::vector<PieceDays> out;
  for (const forecast::Piece& piece : pieces)
    out.push_back({piece.holders, std::vector<double>(days, forecast::kNever)});
  const std::size_t chunks = (days + kChunk - 1) / kChunk;
  const auto body = [&](std::size_t job) {
    const std::size_t p = job / chunks;
    forecast::Piece piece = pieces[p];
    const day::Scenario fresh = piece.day;
    const forecast::Model model(piece.day);
    forecast::Simulator simulator(model);
    const forecast::ChangePlan changes = forecast::plan_changes(model, end_s);
    const std::size_t first = (job % chunks) * kChunk;
    for (std::size_t d = first; d < std::min(days, first + kChunk); ++d) {
      tables.draw().apply(piece, fresh, tables.luck()[d], piece.day);
      const forecast::DayRun run = simulator.run(changes, {.search_until_s = end_s,
                                                           .longest_step_s = kLongestStep_s,
                                                           .tolerance = options.odds.tolerance,
                                                           .loss_only = true,
                                                           .stop_at_loss = true,
                                                           .stop_s = end_s});
      if (run.first_loss.device >= 0 && run.first_loss.at_s < end_s) out[p].until_s[d] = run.first_loss.at_s;
    }
  };
  odds::work(options.each, options.tell, only_holder < 0 ? "batches of whole days" : "batches of days with a dead pack",
             pieces.size() * chunks, body);
  return out;
}

int covered_days(const std::vector<PieceDays>& pieces, int days) {
  int covered = 0;
  for (int d = 0; d < days; ++d) {
    covered += std::all_of(pieces.begin(), pieces.end(),
                           [&](const PieceDays& piece) { return piece.until_s[at(d)] == forecast::kNever; })
                   ? 1
                   : 0;
  }
  return covered;
}

int covered_with(const std::vector<PieceDays>& pieces, const PieceDays& changed, int holder, int days) {
  std::vector<PieceDays> all{changed};
  for (const PieceDays& piece : pieces) {
    if (!holds(piece.holders, holder)) all.push_back(piece);
  }
  return covered_days(all, days);
}

}  // namespace tillwrap::choose
