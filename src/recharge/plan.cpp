#include "recharge/plan.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/order.hpp"
#include "recharge/search.hpp"

namespace tillwrap::recharge {

namespace {

constexpr int kMostWeights = 40;  // ranks beyond weigh nothing

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Straight line through (x, y), both rising, at `value` of x.
double between(const std::vector<double>& x, const std::vector<double>& y, double value) {
  if (value <= x.front()) return y.front();
  if (value >= x.back()) return y.back();
  const auto above = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), value) - x.begin());
  const double span = x[above] - x[above - 1];
  return span > 0.0 ? y[above - 1] + (y[above] - y[above - 1]) * (value - x[above - 1]) / span : y[above];
}

// Tasks and stations that have nothing to do with each other are planned apart.
struct Part {
  std::vector<int> tasks, stations;
};

std::vector<Part> parts_of(const Problem& problem) {
  const int n = static_cast<int>(problem.stations.size());
  std::vector<int> root(at(n));
  for (int s = 0; s < n; ++s) root[at(s)] = s;
  const auto find = [&](int s) {
    while (root[at(s)] != s) s = root[at(s)];
    return s;
  };
  const auto join = [&](int a, int b) { root[at(find(a))] = find(b); };
  for (int a = 0; a < n; ++a) {
    for (int b = a + 1; b < n; ++b) {
      const int supply = problem.stations[at(a)].supply;
      if (supply >= 0 && supply == problem.stations[at(b)].supply && problem.supply_w[at(supply)] < kNoLimit)
        join(a, b);
    }
  }
  for (const Task& task : problem.tasks) {
    int first = -1;
    for (int s = 0; s < n; ++s) {
      if (task.on[at(s)].with.empty()) continue;
      if (first >= 0) join(first, s);
      first = s;
    }
  }
  std::vector<Part> parts(at(n));
  for (int s = 0; s < n; ++s) parts[at(find(s))].stations.push_back(s);
  for (int t = 0; t < static_cast<int>(problem.tasks.size()); ++t) {
    for (int s = 0; s < n; ++s) {
      if (problem.tasks[at(t)].on[at(s)].with.empty()) continue;
      parts[at(find(s))].tasks.push_back(t);
      break;
    }
  }
  std::erase_if(parts, [](const Part& part) { return part.tasks.empty(); });
  return parts;
}

// All parts under the same times to get up, added up: lexicographic order does not change when vectors are added.
Plan together(const Problem& problem, const std::vector<Part>& parts, const std::vector<double>& get_up_s,
              long most_nodes) {
  Plan all;
  all.get_up_s = get_up_s;
  all.share.assign(problem.tasks.size(), 0.0);
  all.ready_s.assign(problem.tasks.size(), kNoLimit);
  all.cost[get_ups] = all.bound[get_ups] = static_cast<std::int64_t>(get_up_s.size());
  for (const Part& part : parts) {
    Search search(problem, part.tasks, part.stations, get_up_s, most_nodes);
    const Plan one = search.run();
    for (std::size_t level = 0; level < kLevels; ++level) {
      all.cost[level] += one.cost[level];
      all.bound[level] += one.bound[level];
    }
    all.complete = all.complete && one.complete;
    all.nodes += one.nodes;
    all.moves.insert(all.moves.end(), one.moves.begin(), one.moves.end());
    for (const int t : part.tasks) {
      all.share[at(t)] = one.share[at(t)];
      all.ready_s[at(t)] = one.ready_s[at(t)];
    }
  }
  // What fits no charger stays as it is.
  for (std::size_t t = 0; t < problem.tasks.size(); ++t) {
    const Task& task = problem.tasks[t];
    const bool fits = std::any_of(task.on.begin(), task.on.end(), [](const Fit& fit) { return !fit.with.empty(); });
    if (fits) continue;
    const std::int64_t missing = std::llround(10.0 * task.missing_wh);
    for (Cost* cost : {&all.cost, &all.bound}) {
      if (task.rank >= 0) {
        (*cost)[not_ready] += 1;
        (*cost)[which] += weight_of(task.rank);
        (*cost)[short_needed] += missing;
      } else {
        (*cost)[short_others] += missing;
      }
    }
  }
  sort_stably(all.moves, [](const Move& a, const Move& b) { return a.at_s < b.at_s; });
  return all;
}

bool needs_more(const Cost& cost) { return cost[not_ready] > 0 || cost[short_needed] > 0; }

// Quarter hours at which a sleeper could get up.
std::vector<double> grid_of(const Problem& problem) {
  std::vector<double> grid;
  for (const day::Span& span : problem.asleep) {
    const double first = std::ceil(span.from_s / problem.get_up_grid_s) * problem.get_up_grid_s;
    for (double s = first; s < span.until_s; s += problem.get_up_grid_s) {
      if (s > span.from_s && s > problem.from_s && s < problem.until_s) grid.push_back(s);
    }
  }
  return grid;
}

}  // namespace

double Curve::seconds_at(double share_in) const { return between(share, at_s, share_in); }
double Curve::share_at(double seconds) const { return between(at_s, share, seconds); }

std::int64_t weight_of(int rank) {
  return rank < 0 || rank >= kMostWeights ? 0 : std::int64_t{1} << (kMostWeights - 1 - rank);
}

Plan best_plan(const Problem& problem, long most_nodes) {
  const std::vector<Part> parts = parts_of(problem);
  Plan best = together(problem, parts, {}, most_nodes);
  const std::vector<double> grid = grid_of(problem);
  long nodes = best.nodes;
  bool complete = best.complete;
  std::vector<std::size_t> pick;
  // One more time to get up only while packs that are needed are short.
  for (int k = 1; k <= problem.most_get_ups && needs_more(best.cost); ++k) {
    if (static_cast<std::size_t>(k) > grid.size()) break;
    pick.resize(static_cast<std::size_t>(k));
    for (std::size_t i = 0; i < pick.size(); ++i) pick[i] = i;
    for (;;) {
      std::vector<double> moments;
      for (const std::size_t i : pick) moments.push_back(grid[i]);
      if (nodes > most_nodes) {
        complete = false;
      } else {
        const Plan other = together(problem, parts, moments, most_nodes);
        nodes += other.nodes;
        complete = complete && other.complete;
        if (other.cost < best.cost) best = other;
      }
      std::size_t i = pick.size();
      while (i > 0 && pick[i - 1] == grid.size() - pick.size() + i - 1) --i;
      if (i == 0) break;
      ++pick[i - 1];
      for (; i < pick.size(); ++i) pick[i] = pick[i - 1] + 1;
    }
  }
  best.nodes = nodes;
  best.complete = complete;
  if (complete) {
    best.bound = best.cost;
  } else {
    // Hands in every quarter hour of the sleep at no cost: no plan does better.
    Cost relaxed{};
    for (const Part& part : parts) {
      const Search search(problem, part.tasks, part.stations, problem.most_get_ups > 0 ? grid : std::vector<double>{},
                          0);
      const Cost one = search.root_bound();
      for (std::size_t level = 0; level < kLevels; ++level) relaxed[level] += one[level];
    }
    best.bound = std::min(relaxed, best.cost);
  }
  return best;
}

}  // namespace tillwrap::recharge
