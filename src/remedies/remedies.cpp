#include "remedies/remedies.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "quantity/order.hpp"

namespace tillwrap::remedies {

namespace {

constexpr double kCoarseStep_s = 7200.0;
constexpr double kCoarse = 8.0;  // as the odds step

std::size_t at(int i) { return static_cast<std::size_t>(i); }

odds::OddsOptions options_of(const Depth& depth) {
  return {.days = depth.days, .seed = depth.seed, .spread = depth.spread};
}

std::vector<double> margins_of(const day::Scenario& scenario, const Depth& depth,
                               const std::vector<std::uint32_t>& days) {
  odds::Worker worker(scenario, options_of(depth));
  std::vector<double> margins;
  std::vector<odds::DayOutcome> one(1);
  for (const std::uint32_t day : days) {
    worker.run(day, one);
    margins.push_back(one.front().margin_s);
  }
  return margins;
}

// Rank, from 0, of the first margin that p10 of so many days cannot lie above: it is taken between this one and the one
// before. No subset of the days can have a smaller one of that rank.
std::size_t tenth(std::uint32_t days) { return static_cast<std::size_t>(std::ceil(0.1 * (days - 1.0))); }

}  // namespace

bool cheaper(const Cost& a, const Cost& b) {
  if (a.buy != b.buy) return !a.buy;
  if (a.money != b.money) return a.money < b.money;
  if (a.ask != b.ask) return !a.ask;
  if (a.hands_s != b.hands_s) return a.hands_s < b.hands_s;
  return a.mass_kg < b.mass_kg;
}

Cost sum(const std::vector<Cost>& costs) {
  Cost all;
  for (const Cost& cost : costs) {
    all.money += cost.money;
    all.mass_kg += cost.mass_kg;
    all.hands_s += cost.hands_s;
    all.ask = all.ask || cost.ask;
    all.buy = all.buy || cost.buy;
  }
  return all;
}

double whole_minutes(double seconds) { return std::floor(seconds / kWorthWhile_s + 0.5); }

Outcome measure(const day::Scenario& scenario, const Depth& depth) {
  forecast::ForecastOptions options{.with_one_loss = depth.one_loss};
  for (const std::string& label : depth.only_lost) {
    for (std::size_t p = 0; p < scenario.packs.size(); ++p) {
      if (scenario.packs[p].params.label == label) options.one_loss_packs.push_back(static_cast<int>(p));
    }
  }
  const forecast::Forecast forecast = forecast::forecast(scenario, options);
  Outcome outcome{.margin_s = forecast.margin_s,
                  .margin_is_least = forecast.margin_is_least,
                  .safe_margin_s = forecast.margin_s,
                  .likely_margin_s = forecast.margin_s,
                  .probability = forecast.reaches_wrap ? 1.0 : 0.0};
  const forecast::Loss& loss = forecast.run.first_loss;
  if (loss.device >= 0) {
    outcome.lost_device = scenario.devices[at(loss.device)].name;
    outcome.lost_at_s = loss.at_s;
    outcome.cause = loss.why.cause;
    if (loss.why.pack >= 0) outcome.lost_pack = scenario.packs[at(loss.why.pack)].params.label;
  }
  if (!depth.only_days.empty()) {
    std::vector<double> margins = margins_of(scenario, depth, depth.only_days);
    std::sort(margins.begin(), margins.end());
    if (tenth(depth.days) < margins.size())
      outcome.safe_margin_s = std::min(margins[tenth(depth.days)], outcome.margin_s);
  } else if (depth.days > 0) {
    const odds::OddsAnswer odds = odds::odds(scenario, options_of(depth));
    outcome.safe_margin_s = std::min(odds.p10_s, outcome.margin_s);
    outcome.likely_margin_s = odds.p50_s;
    outcome.probability = odds.probability;
  }
  if (depth.one_loss) {
    outcome.with_one_loss = true;
    outcome.one_loss_holds = forecast.one_loss.holds;
    outcome.one_loss_margin_s = outcome.margin_s;
    for (const forecast::OneLossCase& one : forecast.one_loss.cases) {
      const std::string& label = scenario.packs[at(one.pack)].params.label;
      if (outcome.one_loss_pack.empty()) {
        outcome.one_loss_pack = label;
        outcome.one_loss_margin_s = one.margin_s;
      }
      if (!one.survives) {
        outcome.one_loss_fails.push_back(label);
        outcome.one_loss_short_s -= one.margin_s;
      }
    }
  }
  return outcome;
}

std::vector<std::uint32_t> worst_days(const day::Scenario& scenario, const Depth& depth) {
  if (depth.days == 0) return {};
  std::vector<std::uint32_t> days(depth.days);
  std::iota(days.begin(), days.end(), 0U);
  const std::vector<double> margins = margins_of(scenario, depth, days);
  sort_stably(days, [&](std::uint32_t a, std::uint32_t b) { return margins[a] < margins[b]; });
  days.resize(std::min(days.size(), 2 * (tenth(depth.days) + 1)));
  std::sort(days.begin(), days.end());
  return days;
}

Glance glance(const day::Scenario& scenario, const Depth& depth) {
  const forecast::ForecastOptions usual;
  const double until_s = scenario.off_s + usual.search_beyond_s;
  const forecast::RunOptions coarse{
      .search_until_s = until_s, .longest_step_s = kCoarseStep_s, .tolerance = kCoarse, .loss_only = true};
  const auto margins = [&](const std::vector<forecast::DayRun>& runs) {
    double least_s = usual.search_beyond_s;
    for (const forecast::DayRun& run : runs) {
      if (run.first_loss.device >= 0) least_s = std::min(least_s, run.first_loss.at_s - scenario.off_s);
    }
    return least_s;
  };
  const forecast::WholeDay day(scenario);
  const std::vector<forecast::ChangePlan> plans = day.plan(until_s);
  Glance seen;
  seen.margin_s = margins(day.run(plans, coarse));
  seen.safe_margin_s = seen.margin_s;
  if (depth.days > 0) {
    const odds::OddsAnswer odds = odds::odds(scenario, options_of(depth));
    seen.safe_margin_s = std::min(odds.p10_s, seen.margin_s);
  }
  if (!depth.one_loss || depth.only_lost.empty()) return seen;
  // As a forecast does it: a dead bridge costs a restart between takes, not the day.
  day::Scenario forgiving = scenario;
  for (day::Device& device : forgiving.devices) {
    if (device.need == day::Need::unbroken) device.need = day::Need::rolling;
  }
  const forecast::WholeDay without(forgiving);
  const std::vector<forecast::DayRun> runs = without.run(plans, coarse);
  for (std::size_t p = 0; p < without.pieces().size(); ++p) {
    const forecast::Piece& piece = without.pieces()[p];
    if (!piece.must_run) continue;
    for (std::size_t k = 0; k < piece.packs.size(); ++k) {
      const std::string& label = scenario.packs[at(piece.packs[k])].params.label;
      if (std::find(depth.only_lost.begin(), depth.only_lost.end(), label) == depth.only_lost.end()) continue;
      std::vector<forecast::DayRun> changed = runs;
      const forecast::Model& model = without.model(p);
      changed[p] =
          forecast::run_day(model, forecast::plan_without(model, plans[p], static_cast<int>(k), until_s), coarse);
      seen.one_loss_short_s += std::max(0.0, -margins(changed));
    }
  }
  return seen;
}

int cheapest_enough(Goal goal, const std::vector<Tried>& tried, const std::vector<Cost>& costs, double overrun_s) {
  int best = -1;
  for (int k = 0; k < static_cast<int>(tried.size()); ++k) {
    if (!tried[at(k)].possible || !reached(goal, tried[at(k)].outcome, overrun_s)) continue;
    if (best < 0 || cheaper(costs[at(k)], costs[at(best)])) best = k;
  }
  return best;
}

Goal goal_of(const Outcome& base, double overrun_s) {
  if (!reached(Goal::reach_off, base, overrun_s)) return Goal::reach_off;
  if (!reached(Goal::one_loss, base, overrun_s)) return Goal::one_loss;
  return reached(Goal::overrun, base, overrun_s) ? Goal::more : Goal::overrun;
}

bool reached(Goal goal, const Outcome& outcome, double overrun_s) {
  switch (goal) {
    case Goal::reach_off:
      return outcome.safe_margin_s >= 0.0;
    case Goal::one_loss:
      return outcome.safe_margin_s >= 0.0 && outcome.with_one_loss && outcome.one_loss_holds;
    case Goal::overrun:
      return outcome.safe_margin_s >= overrun_s;
    case Goal::more:
      return false;
  }
  return false;
}

double score(Goal goal, const Outcome& outcome) {
  // Every loss that is not survived counts, or a step against one of two would seem to gain nothing.
  if (goal == Goal::one_loss && outcome.one_loss_short_s > 0.0) return -outcome.one_loss_short_s;
  if (goal == Goal::one_loss) return std::min(outcome.one_loss_margin_s, outcome.safe_margin_s);
  return outcome.safe_margin_s;
}

std::vector<int> ranked(Goal goal, const Outcome& base, const std::vector<Tried>& tried, const std::vector<Cost>& costs,
                        double overrun_s) {
  std::vector<int> order;
  const auto gain = [&](int k) { return score(goal, tried[at(k)].outcome) - score(goal, base); };
  const auto likely = [&](int k) { return tried[at(k)].outcome.likely_margin_s - base.likely_margin_s; };
  for (int k = 0; k < static_cast<int>(tried.size()); ++k) {
    if (!tried[at(k)].possible) continue;
    if (gain(k) >= kWorthWhile_s || (gain(k) > -kWorthWhile_s && likely(k) >= kWorthWhile_s)) order.push_back(k);
  }
  sort_stably(order, [&](int a, int b) {
    const bool reaches_a = reached(goal, tried[at(a)].outcome, overrun_s);
    const bool reaches_b = reached(goal, tried[at(b)].outcome, overrun_s);
    if (reaches_a != reaches_b) return reaches_a;
    const bool by_cost = reaches_a && (goal == Goal::one_loss || goal == Goal::overrun);
    if (!by_cost) {
      if (whole_minutes(gain(a)) != whole_minutes(gain(b))) return gain(a) > gain(b);
      if (whole_minutes(likely(a)) != whole_minutes(likely(b))) return likely(a) > likely(b);
    }
    if (cheaper(costs[at(a)], costs[at(b)])) return true;
    if (cheaper(costs[at(b)], costs[at(a)])) return false;
    return gain(a) > gain(b);
  });
  return order;
}

}  // namespace tillwrap::remedies
