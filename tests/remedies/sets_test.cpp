// Pairs and larger sets of steps, against every pair tried.
#include "remedies/sets.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <fstream>
#include <map>
#include <numeric>
#include <sstream>

#include "app/assess.hpp"
#include "app/measured.hpp"
#include "app/remedies.hpp"

namespace tillwrap::remedies {
namespace {

Outcome lasting(double safe_min, double likely_min) {
  return {.margin_s = 60.0 * likely_min, .safe_margin_s = 60.0 * safe_min, .likely_margin_s = 60.0 * likely_min};
}

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Two parts that fail one after another: the day ends with the first, so the step for the second gains nothing alone.
TEST(SmallestSet, FindsTheStepThatGainsNothingAlone) {
  const auto outcome = [](bool bag, bool pack) {
    const double safe = std::min(bag ? 30.0 : -60.0, pack ? 20.0 : -40.0);
    return lasting(safe, safe);
  };
  Search search{.goal = Goal::reach_off,
                .base = outcome(false, false),
                .single = {{true, outcome(true, false)}, {true, outcome(false, true)}, {true, outcome(false, false)}},
                .order = {0, 1, 2}};
  search.compute = [&](const std::vector<std::vector<int>>& sets, bool) {
    std::vector<TriedSet> all;
    for (const std::vector<int>& steps : sets) {
      const auto has = [&](int k) { return std::find(steps.begin(), steps.end(), k) != steps.end(); };
      all.push_back({{true, outcome(has(0), has(1))}, {}});
    }
    return all;
  };
  const Pairs found = pairs(search, {});
  EXPECT_TRUE(found.complete);
  EXPECT_EQ(found.all, 3U);
  ASSERT_EQ(found.best.size(), 1U);  // the others give no more than the better of their two
  const StepSet set = smallest_set(search, found);
  EXPECT_TRUE(set.reaches);
  EXPECT_EQ(set.steps, (std::vector<int>{0, 1}));
}

// Best first of all pairs, worked out without any bound: what must come out where the bounds leave nothing out.
std::vector<StepSet> every_pair(const Search& search, std::size_t listed) {
  std::vector<std::vector<int>> sets;
  for (std::size_t i = 0; i < search.order.size(); ++i) {
    for (std::size_t j = i + 1; j < search.order.size(); ++j) sets.push_back({search.order[i], search.order[j]});
  }
  const std::vector<TriedSet> computed = search.compute(sets, false);
  std::vector<StepSet> all;
  for (std::size_t k = 0; k < sets.size(); ++k) {
    const auto& [tried, cost] = computed[k];
    if (!tried.possible) continue;
    const bool reaches = reached(search.goal, tried.outcome, search.overrun_s);
    double alone = score(search.goal, search.base);
    for (const int step : sets[k]) alone = std::max(alone, score(search.goal, search.single[at(step)].outcome));
    if (reaches || score(search.goal, tried.outcome) - alone >= 60.0)
      all.push_back({sets[k], tried.outcome, reaches, cost});
  }
  std::stable_sort(all.begin(), all.end(), [&](const StepSet& a, const StepSet& b) {
    if (a.reaches != b.reaches) return a.reaches;
    const double minutes_a = std::floor(score(search.goal, a.outcome) / 60.0 + 0.5);
    const double minutes_b = std::floor(score(search.goal, b.outcome) / 60.0 + 0.5);
    if (!a.reaches && minutes_a != minutes_b) return minutes_a > minutes_b;
    if (a.cost.money != b.cost.money) return a.cost.money < b.cost.money;
    return score(search.goal, a.outcome) > score(search.goal, b.outcome);
  });
  all.resize(std::min(all.size(), listed));
  return all;
}

// Made-up outcomes and costs in which nothing adds up; some pairs exclude one another. With odds a pair is never better
// than without.
RC_GTEST_PROP(Pairs, AreTheBestOfAll, ()) {
  const int n = *rc::gen::inRange(2, 14);
  const Goal goal = *rc::gen::element(Goal::reach_off, Goal::overrun);
  const double overrun_s = 7200.0;
  Search search{.goal = goal, .base = lasting(-100, -80), .overrun_s = overrun_s};
  for (int k = 0; k < n; ++k) {
    search.single.push_back({true, lasting(*rc::gen::inRange(-110, -20), 0.0)});
    search.order.push_back(k);
  }
  struct Known {
    Outcome quick, drawn;
    double money;
  };
  std::map<std::vector<int>, Known> known;
  for (int i = 0; i < n; ++i) {
    for (int j = i + 1; j < n; ++j) {
      if (*rc::gen::inRange(0, 8) == 0) continue;  // they exclude one another
      const double likely = *rc::gen::inRange(-120, 200);
      const double safe = likely - *rc::gen::inRange(0, 60);
      const double money = *rc::gen::inRange(0, 12);
      known[{i, j}] = {lasting(likely, likely), lasting(safe, likely), money};
    }
  }
  std::size_t drawn = 0;
  search.compute = [&](const std::vector<std::vector<int>>& sets, bool quick) {
    std::vector<TriedSet> all;
    for (std::vector<int> steps : sets) {
      std::sort(steps.begin(), steps.end());
      const auto found = known.find(steps);
      if (found == known.end()) {
        all.push_back({});
        continue;
      }
      all.push_back(
          {{true, quick ? found->second.quick : found->second.drawn}, {.money = found->second.money, .buy = true}});
      drawn += quick ? 0 : 1;
    }
    return all;
  };
  const Pairs found = pairs(search, {.listed = 5, .computed = 1000, .drawn = 1000});
  RC_ASSERT(found.complete);
  RC_ASSERT(found.drawn == drawn);
  RC_ASSERT(found.tried == static_cast<std::size_t>(n * (n - 1) / 2));
  RC_ASSERT(found.exclude == found.tried - known.size());
  const std::vector<StepSet> all = every_pair(search, 5);
  RC_ASSERT(found.best.size() == all.size());
  for (std::size_t k = 0; k < all.size(); ++k) {
    RC_ASSERT(found.best[k].reaches == all[k].reaches);
    RC_ASSERT(score(goal, found.best[k].outcome) == score(goal, all[k].outcome));
  }
  // Cut short it says so, unless the cut left nothing out.
  const Pairs cut = pairs(search, {.listed = 5, .computed = 4, .drawn = 2});
  RC_ASSERT(cut.tried <= 4U && cut.drawn <= 2U);
  RC_ASSERT(cut.complete == (cut.tried == cut.all && cut.not_drawn == 0U));
  if (cut.complete) {
    RC_ASSERT(cut.best.size() == all.size());
  }
  // All tried, few drawn: what was not drawn and may be better is counted, else these are the best there are.
  const Pairs few = pairs(search, {.listed = 5, .computed = 1000, .drawn = 2});
  if (few.not_drawn > 0) return;
  RC_ASSERT(few.best.size() == all.size());
  for (std::size_t k = 0; k < all.size(); ++k)
    RC_ASSERT(score(goal, few.best[k].outcome) == score(goal, all[k].outcome));
}

// A bag and a body-pack, each short by itself: every pair of the day's steps as a day of its own, its odds drawn, none
// left out.
void against_every_pair(const std::string& air) {
  std::ifstream in(TILLWRAP_SOURCE_DIR "/tests/remedies/two-short.toml");
  std::ostringstream read;
  read << in.rdbuf();
  std::string text = read.str();
  const std::string usual = "20 °C";
  text.replace(text.find(usual), usual.size(), air);
  const catalogue::Catalogue& known = catalogue::builtin();
  const decode::Document document = decode::read_toml(text, "day");
  app::DayFile file = app::read_day(document, known);
  app::apply_measured(file);
  const app::RemedyOptions options{.days = 32};
  const app::RemedyAnswer answer = app::find_remedies(document, file, known, options, odds::one_after_another);
  ASSERT_TRUE(answer.pairs);
  EXPECT_TRUE(answer.pairs->complete);
  const Depth depth{.days = options.days, .spread = app::odds_options(file, options.days, 1).spread};
  std::vector<StepSet> all;
  const int n = static_cast<int>(answer.steps.size());
  for (int i = 0; i < n; ++i) {
    for (int j = i + 1; j < n; ++j) {
      if (!answer.tried[at(i)].possible || !answer.tried[at(j)].possible) continue;
      try {
        const app::DayFile both =
            app::changed_day(document, file, {answer.steps[at(i)].change, answer.steps[at(j)].change}, known);
        const Outcome outcome = measure(both.scenario, depth);
        const app::Taken taken = app::taken_by({&answer.steps[at(i)], &answer.steps[at(j)]}, file, both, known);
        all.push_back({{i, j}, outcome, reached(answer.goal, outcome, 0.0), taken.cost});
      } catch (const std::runtime_error&) {
        continue;
      }
    }
  }
  std::printf("[ pairs    ] %s: %zu steps, %zu pairs, %zu possible; %zu drawn\n", air.c_str(), answer.steps.size(),
              answer.pairs->all, all.size(), answer.pairs->drawn);
  const auto reaching = std::count_if(all.begin(), all.end(), [](const StepSet& set) { return set.reaches; });
  const auto listed = std::count_if(answer.pairs->best.begin(), answer.pairs->best.end(),
                                    [](const StepSet& set) { return set.reaches; });
  EXPECT_EQ(listed, std::min<std::ptrdiff_t>(5, reaching));
  for (const StepSet& set : all) {
    if (answer.pairs->best.empty()) break;
    const StepSet& first = answer.pairs->best.front();
    if (set.reaches) {
      EXPECT_FALSE(cheaper(set.cost, first.cost))
          << answer.steps[at(set.steps[0])].words << " + " << answer.steps[at(set.steps[1])].words;
    } else if (!first.reaches) {
      EXPECT_LE(set.outcome.safe_margin_s, first.outcome.safe_margin_s + 60.0);
    }
  }
}
TEST(Pairs, OfADayAgainstEveryPair) { against_every_pair("20 °C"); }
TEST(Pairs, OfAColdDayAgainstEveryPair) { against_every_pair("-8 °C"); }

}  // namespace
}  // namespace tillwrap::remedies
