#include "remedies/sets.hpp"

#include <algorithm>
#include <set>

#include "quantity/order.hpp"

namespace tillwrap::remedies {

namespace {

constexpr std::size_t kMostSteps = 4;   // of a set: nobody does five things at once
constexpr std::size_t kKept = 3;        // sets grown further
constexpr std::size_t kLookedInto = 8;  // sets whose odds are drawn at once

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool better(const Search& search, const StepSet& a, const StepSet& b) {
  if (a.reaches != b.reaches) return a.reaches;
  const double score_a = score(search.goal, a.outcome);
  const double score_b = score(search.goal, b.outcome);
  if (!a.reaches && whole_minutes(score_a) != whole_minutes(score_b)) return score_a > score_b;
  if (cheaper(a.cost, b.cost)) return true;
  if (cheaper(b.cost, a.cost)) return false;
  return score_a > score_b;
}

void sort_best_first(const Search& search, std::vector<StepSet>& sets) {
  sort_stably(sets, [&](const StepSet& a, const StepSet& b) { return better(search, a, b); });
}

// Those that can be computed, as `quick` or drawn.
std::vector<StepSet> computed(const Search& search, const std::vector<std::vector<int>>& sets, bool quick) {
  const std::vector<TriedSet> computed = search.compute(sets, quick);
  std::vector<StepSet> found;
  for (std::size_t i = 0; i < sets.size(); ++i) {
    const auto& [tried, cost] = computed[i];
    if (tried.possible)
      found.push_back({sets[i], tried.outcome, reached(search.goal, tried.outcome, search.overrun_s), cost});
  }
  return found;
}

// More than the better of its steps alone, or enough.
bool worth_it(const Search& search, const StepSet& set) {
  if (set.reaches) return true;
  double alone = score(search.goal, search.base);
  for (const int k : set.steps) alone = std::max(alone, score(search.goal, search.single[at(k)].outcome));
  return score(search.goal, set.outcome) - alone >= kWorthWhile_s;
}

// Pairs of the first of `order` first.
std::vector<std::vector<int>> pairs_in_order(const std::vector<int>& order, std::size_t most) {
  std::vector<std::vector<int>> sets;
  for (std::size_t sum = 1; sum + 2 <= 2 * order.size() && sets.size() < most; ++sum) {
    for (std::size_t first = sum < order.size() ? 0 : sum - order.size() + 1; 2 * first < sum; ++first) {
      if (sets.size() < most) sets.push_back({order[first], order[sum - first]});
    }
  }
  return sets;
}

}  // namespace

Pairs pairs(const Search& search, const PairBounds& bounds) {
  Pairs out;
  const std::size_t n = search.order.size();
  out.all = n < 2 ? 0 : n * (n - 1) / 2;
  const std::vector<std::vector<int>> sets = pairs_in_order(search.order, bounds.computed);
  std::vector<StepSet> open = computed(search, sets, true);
  out.tried = sets.size();
  out.exclude = sets.size() - open.size();
  // What is left of each is the best it can come to.
  std::erase_if(open, [&](const StepSet& set) { return !worth_it(search, set); });
  sort_best_first(search, open);
  const auto may_enter = [&](const StepSet& set) {
    return out.best.size() < bounds.listed || better(search, set, out.best.back());
  };
  while (!open.empty() && out.drawn < bounds.drawn) {
    std::vector<std::vector<int>> next;
    while (!open.empty() && next.size() < std::min(kLookedInto, bounds.drawn - out.drawn)) {
      if (may_enter(open.front())) next.push_back(open.front().steps);
      open.erase(open.begin());
    }
    out.drawn += next.size();
    for (StepSet& set : computed(search, next, false)) {
      if (worth_it(search, set)) out.best.push_back(std::move(set));
    }
    sort_best_first(search, out.best);
    if (out.best.size() > bounds.listed) out.best.resize(bounds.listed);
  }
  out.not_drawn = static_cast<std::size_t>(std::count_if(open.begin(), open.end(), may_enter));
  out.complete = out.tried == out.all && out.not_drawn == 0;
  out.bounds = bounds;
  return out;
}

StepSet smallest_set(const Search& search, const Pairs& pairs) {
  std::vector<StepSet> sets = pairs.best;
  StepSet best{.outcome = search.base};
  for (std::size_t size = 2; !sets.empty(); ++size) {
    sort_best_first(search, sets);
    const double gained_s = score(search.goal, sets.front().outcome) - score(search.goal, best.outcome);
    if (gained_s < kWorthWhile_s && !sets.front().reaches) break;
    best = sets.front();
    if (best.reaches || size == kMostSteps) break;
    sets.resize(std::min(sets.size(), kKept));
    std::vector<std::vector<int>> grown;
    std::set<std::vector<int>> seen;
    for (const StepSet& set : sets) {
      for (const int k : search.order) {
        if (std::find(set.steps.begin(), set.steps.end(), k) != set.steps.end()) continue;
        std::vector<int> more = set.steps;
        more.push_back(k);
        std::vector<int> sorted = more;
        std::sort(sorted.begin(), sorted.end());
        if (seen.insert(sorted).second) grown.push_back(more);
      }
    }
    std::vector<StepSet> promising = computed(search, grown, true);
    sort_best_first(search, promising);
    promising.resize(std::min(promising.size(), kLookedInto));
    std::vector<std::vector<int>> chosen;
    for (const StepSet& set : promising) chosen.push_back(set.steps);
    sets = computed(search, chosen, false);
  }
  return best;
}

}  // namespace tillwrap::remedies
