#include "app/remedies.hpp"

#include <algorithm>
#include <cmath>

#include "app/assess.hpp"

namespace tillwrap::app {

namespace {

using remedies::Goal;
using remedies::Outcome;

constexpr std::uint32_t kScreenDays = 32;  // enough to see whether a step does anything
constexpr double kDoesSomething_s = 30.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

RemedyAnswer find_remedies(const decode::Document& document, const DayFile& file, const catalogue::Catalogue& catalogue,
                           const RemedyOptions& options, const odds::Each& each) {
  const odds::OddsOptions drawn = odds_options(file, options.days, options.seed);
  RemedyAnswer answer;
  const double overrun_s = file.scenario.overrun_s;
  const remedies::Depth full{.days = options.days, .seed = options.seed, .spread = drawn.spread, .one_loss = true};
  answer.base = remedies::measure(file.scenario, full);
  answer.goal = remedies::goal_of(answer.base, overrun_s);
  const bool one_loss = answer.goal == Goal::one_loss;

  const forecast::Forecast forecast = forecast::forecast(file.scenario, {.with_one_loss = false});
  answer.steps = remedy_steps(remedy_base(document, file, forecast, catalogue));

  // First a glance at every step, then a close look at those that do anything. Where the worst single loss is what
  // there is to win, a glance goes at the losses that hurt so far.
  const remedies::Depth screen{.days = one_loss ? 0 : std::min(kScreenDays, options.days),
                               .seed = options.seed,
                               .spread = drawn.spread,
                               .one_loss = one_loss,
                               .only_lost = answer.base.one_loss_fails};
  remedies::Depth close = screen;
  close.days = options.days;
  // All losses are tried where those that hurt so far are survived.
  const auto closely = [&](const day::Scenario& day) {
    Outcome outcome = remedies::measure(day, close);
    if (!one_loss || !outcome.one_loss_holds) return outcome;
    const Outcome all = remedies::measure(day, {.days = 0, .one_loss = true});
    outcome.one_loss_holds = all.one_loss_holds;
    outcome.one_loss_margin_s = all.one_loss_margin_s;
    outcome.one_loss_short_s = all.one_loss_short_s;
    outcome.one_loss_pack = all.one_loss_pack;
    outcome.one_loss_fails = all.one_loss_fails;
    return outcome;
  };
  const remedies::Glance before = remedies::glance(file.scenario, screen);
  const std::size_t count = answer.steps.size();
  answer.tried.resize(count);
  answer.taken.resize(count);
  answer.why_not.resize(count);
  const auto day_with = [&](const std::vector<int>& set) {
    std::vector<DayChange> changes;
    for (const int k : set) changes.push_back(answer.steps[at(k)].change);
    return changed_day(document, file, changes, catalogue);
  };
  const auto taken_of = [&](const std::vector<int>& set, const DayFile& with) {
    std::vector<const RemedyStep*> steps;
    for (const int k : set) steps.push_back(&answer.steps[at(k)]);
    return taken_by(steps, file, with, catalogue);
  };
  odds::work(each, options.tell, "steps", count, [&](std::size_t k) {
    try {
      const DayFile with = day_with({static_cast<int>(k)});
      const day::Scenario& day = with.scenario;
      answer.taken[k] = taken_of({static_cast<int>(k)}, with);
      const remedies::Glance seen = remedies::glance(day, screen);
      const bool does_something = seen.margin_s - before.margin_s >= kDoesSomething_s ||
                                  seen.safe_margin_s - before.safe_margin_s >= kDoesSomething_s ||
                                  before.one_loss_short_s - seen.one_loss_short_s >= kDoesSomething_s;
      if (does_something) {
        answer.tried[k] = {true, closely(day)};
        return;
      }
      // Told by what the glance saw change.
      Outcome outcome = answer.base;
      outcome.margin_s += std::min(0.0, seen.margin_s - before.margin_s);
      outcome.likely_margin_s += std::min(0.0, seen.margin_s - before.margin_s);
      outcome.safe_margin_s += std::min(0.0, seen.safe_margin_s - before.safe_margin_s);
      answer.tried[k] = {true, outcome};
    } catch (const NotPossible& error) {
      answer.why_not[k] = error.what();
    } catch (const decode::InputError& error) {
      answer.why_not[k] = error.message;
    } catch (const std::runtime_error& error) {
      answer.why_not[k] = std::string("the forecast of it failed: ") + error.what();
    }
  });
  std::vector<remedies::Cost> costs;
  for (const Taken& taken : answer.taken) costs.push_back(taken.cost);
  answer.ranked = remedies::ranked(answer.goal, answer.base, answer.tried, costs, overrun_s);

  answer.cheapest = remedies::cheapest_enough(answer.goal, answer.tried, costs, overrun_s);
  const bool sets = options.most_pairs > 0 && answer.cheapest < 0 && answer.goal != Goal::more;
  if (!sets || answer.ranked.empty()) return answer;
  remedies::Depth quick = close;
  quick.only_days = remedies::worst_days(file.scenario, quick);
  const remedies::Batch compute = [&](const std::vector<std::vector<int>>& sets, bool quickly) {
    std::vector<remedies::TriedSet> tried(sets.size());
    odds::work(each, options.tell, "steps together", sets.size(), [&](std::size_t k) {
      try {
        const DayFile with = day_with(sets[k]);
        tried[k] = {{true, quickly ? remedies::measure(with.scenario, quick) : closely(with.scenario)},
                    taken_of(sets[k], with).cost};
      } catch (const std::runtime_error&) {
        tried[k].tried.possible = false;  // the steps exclude one another
      }
    });
    return tried;
  };
  // A step that does nothing alone may do something with another: the one that fails next hides it.
  std::vector<int> order = answer.ranked;
  for (int k = 0; k < static_cast<int>(count); ++k) {
    if (answer.tried[at(k)].possible && std::find(order.begin(), order.end(), k) == order.end()) order.push_back(k);
  }
  const remedies::Search search{.goal = answer.goal,
                                .base = answer.base,
                                .single = answer.tried,
                                .order = order,
                                .overrun_s = overrun_s,
                                .compute = compute};
  answer.pairs = remedies::pairs(search, {.computed = options.most_pairs});
  answer.set = remedies::smallest_set(search, *answer.pairs);
  for (const remedies::StepSet& pair : answer.pairs->best)
    answer.pairs_taken.push_back(taken_of(pair.steps, day_with(pair.steps)));
  if (!answer.set.steps.empty()) answer.set_taken = taken_of(answer.set.steps, day_with(answer.set.steps));
  return answer;
}

}  // namespace tillwrap::app
