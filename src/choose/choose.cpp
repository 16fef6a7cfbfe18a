#include "choose/choose.hpp"

#include <algorithm>
#include <cmath>

#include "choose/plans.hpp"
#include "choose/setup.hpp"
#include "choose/sure.hpp"
#include "choose/tables.hpp"
#include "choose/whole_days.hpp"
#include "odds/replay.hpp"

namespace tillwrap::choose {

namespace {

constexpr int kFewestDays = 512;
constexpr int kMostDays = 4096;
constexpr int kMostRaises = 6;
constexpr std::uint32_t kFreshChunk = 1250;
// Past the end asked for, so that a usual day that lasts is told from one that ends there.
constexpr double kBeyond_s = 3600.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// The fresh days: other days by another seed, all changes at the plan's moments. A piece outside any bag is not
// followed where a worse day is known to last; in a bag, where warmth is shared, every day is.
void ask_fresh_days(const Options& options, Choice& choice) {
  const double until_s = choice.end_s;
  const odds::ReplayOptions replayed{.spread = options.odds.spread,
                                     .seed = options.odds.seed + 1,
                                     .search_beyond_s = options.overrun_s + kBeyond_s,
                                     .tolerance = options.odds.tolerance};
  const std::size_t chunks = (options.fresh_days + kFreshChunk - 1) / kFreshChunk;
  std::vector<std::uint32_t> fine(chunks, 0);
  const auto body = [&](std::size_t k) {
    odds::Replay replay(choice.scenario, replayed);
    const auto first = static_cast<std::uint32_t>(k) * kFreshChunk;
    std::vector<odds::Luck> days;
    for (std::uint32_t day = first; day < std::min(first + kFreshChunk, options.fresh_days); ++day)
      days.push_back(replay.draw().luck_of(day));
    for (odds::Part& part : replay.parts()) {
      std::vector<double> ends_s(days.size(), until_s);
      replay.first_losses_s(part, days, ends_s);
      std::size_t left = 0;
      for (std::size_t d = 0; d < days.size(); ++d) {
        if (ends_s[d] >= until_s) days[left++] = days[d];
      }
      days.resize(left);
    }
    fine[k] = static_cast<std::uint32_t>(days.size());
  };
  odds::work(options.each, options.tell, "batches of fresh days", chunks, body);
  std::uint32_t sum = 0;
  for (const std::uint32_t one : fine) sum += one;
  choice.fresh_days = options.fresh_days;
  choice.probability = static_cast<double>(sum) / options.fresh_days;
  choice.half_width = half_width(choice.probability, static_cast<int>(options.fresh_days));
  choice.fresh_holds = choice.probability >= options.sure;
}

// Each pack in use dead when its turn comes: on how many common days does the day last, with the best stand-in?
void ask_one_loss(const day::Scenario& scenario, const Options& options, const NamedPlan& plan, const Tables& tables,
                  const std::vector<PieceDays>& base, Choice& choice) {
  // A dead bridge costs a restart between takes, not the day.
  day::Scenario forgiving = scenario;
  for (day::Device& device : forgiving.devices) {
    if (device.need == day::Need::unbroken) device.need = day::Need::rolling;
  }
  choice.one_loss = true;
  for (const Assignment& assignment : choice.assignments) {
    if (!assignment.must_run || assignment.fixed) continue;
    std::vector<int> seen;
    for (std::size_t t = 0; t < assignment.turns.size(); ++t) {
      const int dead = assignment.turns[t].pack;
      if (std::find(seen.begin(), seen.end(), dead) != seen.end()) continue;
      seen.push_back(dead);
      StandIn best{.pack = dead, .holder = assignment.holder, .covered = -1};
      const auto consider = [&](int spare, bool stays) {
        NamedPlan other;
        for (NamedPlan::Put put : plan.puts) {
          if (put.pack == dead) {
            if (spare < 0) continue;
            put.pack = spare;
            put.drawn = spare;
          }
          other.puts.push_back(put);
        }
        const std::vector<PieceDays> now =
            whole_days(forgiving, other, tables, options, choice.end_s, assignment.holder);
        const int covered =
            now.empty() ? choice.covered : covered_with(base, now.front(), assignment.holder, choice.days);
        if (covered > best.covered) {
          best.covered = covered;
          best.spare = spare;
          best.stays = stays;
        }
      };
      for (const int spare : choice.spares) {
        if (best.covered < choice.need && fits(scenario, assignment.holder, scenario.packs[at(spare)]))
          consider(spare, false);
      }
      if (best.covered < choice.need) consider(-1, t > 0);
      best.holds = best.covered >= choice.need;
      choice.one_loss = choice.one_loss && best.holds;
      choice.stand_ins.push_back(best);
    }
  }
}

}  // namespace

Choice choose(const day::Scenario& scenario, const Options& options) {
  Choice choice;
  choice.days = kFewestDays;
  while (choice.days < kMostDays && days_needed(choice.days, options.sure) > choice.days) choice.days *= 2;
  choice.need = days_needed(choice.days, options.sure);
  const Setup setup = set_up(scenario, options);
  choice.end_s = setup.end_s;
  for (const PackClass& kind : setup.kinds) choice.kinds += kind.members.empty() ? 0 : 1;
  Tables tables(scenario, setup, options, choice.days);
  choice.need = std::min(choice.need, choice.days);
  for (;;) {
    Best best = best_plan(setup, options, tables, choice.days, choice.need, stock_of(setup));
    choice.complete = best.answer.complete;
    choice.together = static_cast<int>(best.groups.size());
    if (best.answer.bound) choice.bound = *best.answer.bound;
    if (!best.answer.feasible) {
      if (choice.raised > 0) return choice;  // the last plan stands, below what was asked for on the fresh days
      if (!options.plan_only) explain_shortage(setup, options, tables, choice.days, choice.need, best, choice);
      return choice;
    }
    Choice tried = choice;
    tried.cost = best.answer.cost;
    NamedPlan plan = name_packs(scenario, setup, options, tables, best, tried);
    tried.scenario = scenario_of(scenario, plan);
    const std::vector<PieceDays> whole = whole_days(scenario, plan, tables, options, setup.end_s, -1);
    tried.covered = covered_days(whole, tried.days);
    tried.differ = 0;
    for (int d = 0; d < tried.days; ++d) {
      const bool fine = std::all_of(whole.begin(), whole.end(),
                                    [&](const PieceDays& piece) { return piece.until_s[at(d)] == forecast::kNever; });
      tried.differ += fine == best.answer.lost.has(at(d)) ? 1 : 0;
    }
    tried.feasible = tried.covered >= days_needed(tried.days, options.sure);
    ask_fresh_days(options, tried);
    tried.proven_best = tried.complete && tried.differ == 0 && tried.raised == 0;
    int more = 0;
    if (!tried.feasible) more = std::max(more, days_needed(tried.days, options.sure) - tried.covered);
    if (!tried.fresh_holds)
      more = std::max(more, static_cast<int>(std::ceil((options.sure - tried.probability) * tried.days)));
    tried.feasible = tried.feasible && tried.fresh_holds;
    choice = std::move(tried);
    if (more == 0 || choice.raised == kMostRaises || choice.need + more > choice.days) {
      if (!options.plan_only || options.one_loss) ask_one_loss(scenario, options, plan, tables, whole, choice);
      if (options.one_loss && !choice.one_loss) choice.feasible = false;
      return choice;
    }
    choice.need += more;
    ++choice.raised;
  }
}

}  // namespace tillwrap::choose
