#include "recharge/search.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "quantity/order.hpp"

namespace tillwrap::recharge {

namespace {

constexpr double kSame_s = 1e-6;
constexpr double kFull = 1.0 - 1e-9;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool inside(const std::vector<day::Span>& spans, double from_s, double until_s) {
  const double middle_s = 0.5 * (from_s + until_s);
  return std::any_of(spans.begin(), spans.end(),
                     [&](const day::Span& span) { return span.from_s <= middle_s && middle_s < span.until_s; });
}

// At every share the least time any of the task's curves needs for the next bit: no way through several chargers is
// quicker.
Curve envelope(const Task& task) {
  std::vector<const Curve*> curves;
  std::vector<double> shares;
  for (const Fit& fit : task.on) {
    for (const Curve& curve : fit.with) {
      curves.push_back(&curve);
      shares.insert(shares.end(), curve.share.begin(), curve.share.end());
    }
  }
  std::sort(shares.begin(), shares.end());
  shares.erase(std::unique(shares.begin(), shares.end()), shares.end());
  Curve best;
  for (const double share : shares) {
    double step_s = best.share.empty() ? 0.0 : kNoLimit;
    for (const Curve* curve : curves) {
      if (!best.share.empty())
        step_s = std::min(step_s, curve->seconds_at(share) - curve->seconds_at(best.share.back()));
    }
    best.at_s.push_back((best.at_s.empty() ? 0.0 : best.at_s.back()) + step_s);
    best.share.push_back(share);
  }
  return best;
}

}  // namespace

Timeline::Timeline(const Problem& problem, const std::vector<double>& get_up_s) {
  at_s = {problem.from_s, problem.until_s};
  const auto add = [&](const std::vector<day::Span>& spans) {
    for (const day::Span& span : spans) {
      at_s.push_back(span.from_s);
      at_s.push_back(span.until_s);
    }
  };
  add(problem.there);
  add(problem.asleep);
  for (const Station& station : problem.stations) add(station.live);
  at_s.insert(at_s.end(), get_up_s.begin(), get_up_s.end());
  std::erase_if(at_s, [&](double s) { return s < problem.from_s || s > problem.until_s; });
  std::sort(at_s.begin(), at_s.end());
  at_s.erase(std::unique(at_s.begin(), at_s.end(), [](double a, double b) { return b - a < kSame_s; }), at_s.end());
  const std::size_t n = at_s.size();
  hands_at.assign(n, 0);
  hands_after.assign(n, 0);
  on.assign(n, std::vector<char>(problem.stations.size(), 0));
  active_s.assign(n, std::vector<double>(problem.stations.size(), 0.0));
  for (std::size_t k = 0; k + 1 < n; ++k) {
    hands_after[k] = inside(problem.there, at_s[k], at_s[k + 1]) ? 1 : 0;
    const bool watched = hands_after[k] != 0 || inside(problem.asleep, at_s[k], at_s[k + 1]);
    for (std::size_t s = 0; s < problem.stations.size(); ++s)
      on[k][s] = watched && inside(problem.stations[s].live, at_s[k], at_s[k + 1]) ? 1 : 0;
  }
  for (std::size_t k = 0; k < n; ++k) {
    const bool up =
        std::any_of(get_up_s.begin(), get_up_s.end(), [&](double s) { return std::fabs(s - at_s[k]) < kSame_s; });
    hands_at[k] = up || hands_after[k] != 0 || (k > 0 && hands_after[k - 1] != 0) ? 1 : 0;
  }
  for (std::size_t k = n - 1; k-- > 0;) {
    for (std::size_t s = 0; s < problem.stations.size(); ++s)
      active_s[k][s] = active_s[k + 1][s] + (on[k][s] != 0 ? at_s[k + 1] - at_s[k] : 0.0);
  }
}

Search::Search(const Problem& problem, const std::vector<int>& tasks, const std::vector<int>& stations,
               const std::vector<double>& get_up_s, long most_nodes)
    : problem_(problem), tasks_(tasks), stations_(stations), line_(problem, get_up_s), most_nodes_(most_nodes) {
  const auto order = [&](int t) {
    const int rank = problem_.tasks[at(t)].rank;
    return rank < 0 ? static_cast<int>(problem_.tasks.size()) : rank;
  };
  fastest_.resize(problem_.tasks.size());
  for (const int t : tasks_) fastest_[at(t)] = envelope(problem_.tasks[at(t)]);
  sort_stably(tasks_, [&](int a, int b) { return order(a) < order(b); });
}

std::int64_t Search::weight(int task) const { return weight_of(problem_.tasks[at(task)].rank); }

std::int64_t Search::tenths(int task, double share) const {
  // Halves go up, however the share was added up.
  return std::llround(10.0 * problem_.tasks[at(task)].missing_wh * std::max(0.0, 1.0 - share) + 1e-6);
}

std::int64_t Search::minutes_full(const State& state, int task) const {
  if (!problem_.tasks[at(task)].ages_full || !(state.full_s[at(task)] < kNoLimit)) return 0;
  return std::llround((problem_.until_s - state.full_s[at(task)]) / 60.0);
}

bool Search::alike(int a, int b) const {
  const Task& one = problem_.tasks[at(a)];
  const Task& two = problem_.tasks[at(b)];
  if (one.rank >= 0 || two.rank >= 0) return false;
  if (one.ages_full != two.ages_full || one.missing_wh != two.missing_wh || one.ready_share != two.ready_share ||
      one.not_before_s != two.not_before_s)
    return false;
  for (const int s : stations_) {
    const Fit& p = one.on[at(s)];
    const Fit& q = two.on[at(s)];
    if (p.with.size() != q.with.size() || p.bays != q.bays) return false;
    for (std::size_t k = 0; k < p.with.size(); ++k) {
      if (p.with[k].at_s != q.with[k].at_s || p.with[k].share != q.with[k].share) return false;
    }
  }
  return true;
}

int Search::free_bays(const State& state, int station) const {
  int used = 0;
  for (const int t : state.in[at(station)]) used += problem_.tasks[at(t)].on[at(station)].bays;
  return problem_.stations[at(station)].bays - used;
}

Plan Search::run() {
  State state;
  state.t = problem_.from_s;
  state.share.assign(problem_.tasks.size(), 0.0);
  state.ready_s.assign(problem_.tasks.size(), kNoLimit);
  state.full_s.assign(problem_.tasks.size(), kNoLimit);
  state.where.assign(problem_.tasks.size(), -1);
  state.in.resize(problem_.stations.size());
  best_ = {};
  best_.bound = bound(state);
  const Cost root = best_.bound;
  if (line_.hands_at.front() != 0) {
    decide(state, true);
  } else {
    go_on(state);
  }
  best_.bound = best_.complete ? best_.cost : std::min(root, best_.cost);
  return best_;
}

Cost Search::root_bound() const {
  State state;
  state.t = problem_.from_s;
  state.share.assign(problem_.tasks.size(), 0.0);
  state.ready_s.assign(problem_.tasks.size(), kNoLimit);
  state.full_s.assign(problem_.tasks.size(), kNoLimit);
  state.where.assign(problem_.tasks.size(), -1);
  state.in.resize(problem_.stations.size());
  return bound(state);
}

// Time passes; chargers do what they do by themselves.
void Search::go_on(State state) {
  for (;;) {
    if (state.moment + 1 >= line_.at_s.size()) {
      leaf(state);
      return;
    }
    const double stretch_end_s = line_.at_s[state.moment + 1];
    double next_s = stretch_end_s;
    struct Running {
      int task;
      double from_s;  // charging begins
      const Curve* curve;
    };
    std::vector<Running> running;
    for (const int s : stations_) {
      if (line_.on[state.moment][at(s)] == 0) continue;
      std::vector<int> busy;
      for (const int t : state.in[at(s)]) {
        if (state.share[at(t)] < kFull) busy.push_back(t);
      }
      if (busy.empty()) continue;
      const bool in_turn = problem_.stations[at(s)].in_turn;
      if (in_turn) busy.erase(busy.begin() + 1, busy.end());
      for (const int t : busy) {
        const Task& task = problem_.tasks[at(t)];
        const Fit& fit = task.on[at(s)];
        const Curve& curve = fit.with[std::min(busy.size(), fit.with.size()) - 1];
        const double from_s = std::max(state.t, task.not_before_s);
        running.push_back({t, from_s, &curve});
        const double begun_s = curve.seconds_at(state.share[at(t)]);
        next_s = std::min(next_s, from_s + curve.length_s() - begun_s);
        if (state.share[at(t)] < task.ready_share && task.ready_share < 1.0)
          next_s = std::min(next_s, from_s + curve.seconds_at(task.ready_share) - begun_s);
      }
    }
    next_s = std::max(next_s, state.t);
    bool done = false;
    for (const Running& one : running) {
      double& share = state.share[at(one.task)];
      const double begun_s = one.curve->seconds_at(share);
      const double end_s = begun_s + std::max(0.0, next_s - one.from_s);
      const double before = share;
      if (line_.hands_after[state.moment] == 0) state.asleep_s += std::max(0.0, next_s - one.from_s);
      if (next_s >= one.from_s)
        share = end_s >= one.curve->length_s() - kSame_s ? 1.0 : std::max(share, one.curve->share_at(end_s));
      const double wanted = std::min(problem_.tasks[at(one.task)].ready_share, kFull);
      if (before < wanted && share >= wanted - 1e-12) {
        share = std::max(share, wanted);
        state.ready_s[at(one.task)] = next_s;
        done = true;
      }
      if (before < kFull && share >= kFull) {
        state.full_s[at(one.task)] = next_s;
        done = true;
      }
    }
    state.t = next_s;
    if (next_s >= stretch_end_s - kSame_s) {
      state.t = stretch_end_s;
      ++state.moment;
      if (line_.hands_at[state.moment] != 0 && state.moment + 1 < line_.at_s.size()) {
        decide(state, true);
        return;
      }
    } else if (done && line_.hands_after[state.moment] != 0) {
      decide(state, false);
      return;
    }
  }
}

// The same packs equally far at the same moment: what follows is the same, so only the cheapest way there goes on.
bool Search::known_better(const State& state) {
  std::vector<std::int64_t> key = {std::llround(100.0 * state.t), static_cast<std::int64_t>(state.moment)};
  std::int64_t full = 0;
  for (const int t : tasks_) {
    key.push_back(std::llround(1e9 * state.share[at(t)]));
    key.push_back(state.where[at(t)]);
    key.push_back(state.ready_s[at(t)] < kNoLimit ? 1 : 0);
    full += minutes_full(state, t);
  }
  for (const int s : stations_) {
    if (!problem_.stations[at(s)].in_turn) continue;
    for (const int t : state.in[at(s)]) key.push_back(t);
  }
  const std::array<std::int64_t, 3> mine = {std::llround(state.asleep_s), state.put_ins, full};
  const auto [found, fresh] = seen_.emplace(std::move(key), mine);
  if (fresh) return false;
  if (found->second <= mine) return true;
  found->second = mine;
  return false;
}

void Search::decide(const State& state, bool everything) {
  ++best_.nodes;
  if (best_.nodes > most_nodes_ && have_) {
    best_.complete = false;
    return;
  }
  if (have_ && !(bound(state) < best_.cost)) return;
  if (known_better(state)) return;
  State next = state;
  // What is full comes out.
  for (const int s : stations_) {
    std::erase_if(next.in[at(s)], [&](int t) {
      if (next.share[at(t)] < kFull) return false;
      next.where[at(t)] = -1;
      return true;
    });
  }
  const std::size_t moves = moves_.size();
  for (const int t : tasks_) {
    if (state.where[at(t)] >= 0 && next.where[at(t)] < 0) moves_.push_back({state.t, t, -1});
  }
  const std::vector<int> was = next.where;
  choose(next, 0, everything, was);
  moves_.resize(moves);
}

// First, task by task, who comes out of its bay, so that there is room; then who goes where or waits on.
void Search::choose(State& state, std::size_t k, bool everything, const std::vector<int>& was) {
  const std::size_t n = tasks_.size();
  if (k == 2 * n) {
    if (affordable(state)) go_on(state);
    return;
  }
  const int t = tasks_[k % n];
  const std::size_t moves = moves_.size();
  if (k < n) {
    choose(state, k + 1, everything, was);
    const int s = state.where[at(t)];
    if (s < 0 || !everything) return;
    const std::vector<int> in = state.in[at(s)];
    std::erase(state.in[at(s)], t);
    state.where[at(t)] = -1;
    moves_.push_back({state.t, t, -1});
    choose(state, k + 1, everything, was);
    moves_.resize(moves);
    state.where[at(t)] = s;
    state.in[at(s)] = in;
    return;
  }
  if (state.share[at(t)] >= kFull || state.where[at(t)] >= 0) {
    choose(state, k + 1, everything, was);
    return;
  }
  // Of tasks that are alike and wait, the first goes in first.
  const bool wait_for_other = k > n && was[at(t)] < 0 && was[at(tasks_[k - n - 1])] < 0 &&
                              state.where[at(tasks_[k - n - 1])] < 0 &&
                              state.share[at(tasks_[k - n - 1])] == state.share[at(t)] && alike(tasks_[k - n - 1], t);
  for (const int s : stations_) {
    if (s == was[at(t)] || wait_for_other) continue;
    const Fit& fit = problem_.tasks[at(t)].on[at(s)];
    if (fit.with.empty() || free_bays(state, s) < fit.bays) continue;
    const std::vector<int> before = state.in[at(s)];
    // A charger that goes from bay to bay by itself: any place in its order.
    const std::size_t places = problem_.stations[at(s)].in_turn ? before.size() + 1 : 1;
    for (std::size_t from_end = 0; from_end < places; ++from_end) {
      std::vector<int>& in = state.in[at(s)];
      in.insert(in.end() - static_cast<std::ptrdiff_t>(from_end), t);
      state.where[at(t)] = s;
      ++state.put_ins;
      moves_.push_back({state.t, t, s});
      choose(state, k + 1, everything, was);
      moves_.resize(moves);
      --state.put_ins;
      state.where[at(t)] = -1;
      in = before;
    }
  }
  choose(state, k + 1, everything, was);
}

bool Search::affordable(const State& state) const {
  for (std::size_t supply = 0; supply < problem_.supply_w.size(); ++supply) {
    if (!(problem_.supply_w[supply] < kNoLimit)) continue;
    double watts = 0.0;
    for (const int s : stations_) {
      if (problem_.stations[at(s)].supply != static_cast<int>(supply)) continue;
      const std::vector<int>& in = state.in[at(s)];
      double most = 0.0;
      for (const int t : in) {
        const std::vector<double>& of = problem_.tasks[at(t)].on[at(s)].watts;
        const double own = of.empty() ? 0.0 : of[std::min(in.size(), of.size()) - 1];
        if (problem_.stations[at(s)].in_turn) {
          most = std::max(most, of.empty() ? 0.0 : of.front());
        } else {
          watts += own;
        }
      }
      watts += most;
    }
    if (watts > problem_.supply_w[supply] * (1.0 + 1e-9)) return false;
  }
  return true;
}

void Search::leaf(const State& state) {
  Cost cost{};
  for (const int t : tasks_) {
    const Task& task = problem_.tasks[at(t)];
    const bool ready = state.ready_s[at(t)] < kNoLimit;
    const std::int64_t missing = ready ? 0 : tenths(t, state.share[at(t)]);
    if (task.rank >= 0) {
      cost[not_ready] += ready ? 0 : 1;
      cost[which] += ready ? 0 : weight(t);
      cost[short_needed] += missing;
    } else {
      cost[short_others] += missing;
    }
    cost[full_minutes] += minutes_full(state, t);
  }
  cost[asleep_s] = std::llround(state.asleep_s);
  cost[put_ins] = state.put_ins;
  if (have_ && !(cost < best_.cost)) return;
  have_ = true;
  best_.cost = cost;
  best_.moves = moves_;
  best_.share = state.share;
  best_.ready_s = state.ready_s;
}

// Every task alone on its best charger for all the time left; and no more bay time than there is.
Cost Search::bound(const State& state) const {
  Cost least{};
  least[asleep_s] = std::llround(state.asleep_s);
  least[put_ins] = state.put_ins;
  const std::size_t moment = state.moment;
  const auto left_s = [&](int s) {
    // Within a stretch: what is left of it counts if the station is on.
    const double next_s = moment + 1 < line_.at_s.size() ? line_.at_s[moment + 1] : state.t;
    const double rest_s = moment + 1 < line_.at_s.size() ? line_.active_s[moment + 1][at(s)] : 0.0;
    return rest_s + (line_.on[moment][at(s)] != 0 ? std::max(0.0, next_s - state.t) : 0.0);
  };
  double bay_s = 0.0;
  for (const int s : stations_) {
    const Station& station = problem_.stations[at(s)];
    bay_s += left_s(s) * (station.in_turn ? 1.0 : station.bays);
  }
  std::vector<double> wanted_s;  // of needed tasks that can still be ready
  std::vector<std::int64_t> weights;
  for (const int t : tasks_) {
    const Task& task = problem_.tasks[at(t)];
    least[full_minutes] += minutes_full(state, t);
    if (state.ready_s[at(t)] < kNoLimit) continue;
    double best_share = state.share[at(t)];
    double cheapest_s = kNoLimit;
    double most_s = 0.0;  // it can charge: here and there, but not at two places at once
    int fewest_bays = 0;
    for (const int s : stations_) {
      const Fit& fit = task.on[at(s)];
      if (fit.with.empty()) continue;
      most_s += left_s(s);
      const int bays = problem_.stations[at(s)].in_turn ? 1 : fit.bays;
      fewest_bays = fewest_bays == 0 ? bays : std::min(fewest_bays, bays);
    }
    const Curve& curve = fastest_[at(t)];
    if (fewest_bays > 0) {
      most_s = std::max(0.0, std::min(most_s, problem_.until_s - std::max(state.t, task.not_before_s)));
      const double begun_s = curve.seconds_at(best_share);
      const double end_s = begun_s + most_s;
      best_share = std::max(best_share, end_s >= curve.length_s() - kSame_s ? 1.0 : curve.share_at(end_s));
      if (best_share >= std::min(task.ready_share, kFull))
        cheapest_s = (curve.seconds_at(task.ready_share) - begun_s) * fewest_bays;
    }
    const bool possible = cheapest_s < kNoLimit;
    const std::int64_t missing = possible ? 0 : tenths(t, best_share);
    if (task.rank >= 0) {
      least[short_needed] += missing;
      if (possible) {
        wanted_s.push_back(cheapest_s);
        weights.push_back(weight(t));
      } else {
        least[not_ready] += 1;
        least[which] += weight(t);
      }
    } else {
      least[short_others] += missing;
    }
    // Left out it would end shorter than reckoned here.
    if (state.where[at(t)] < 0 && tenths(t, best_share) < tenths(t, state.share[at(t)])) least[put_ins] += 1;
  }
  // The quickest first into all the bay time there is.
  std::sort(wanted_s.begin(), wanted_s.end());
  double used_s = 0.0;
  std::size_t can = 0;
  while (can < wanted_s.size() && used_s + wanted_s[can] <= bay_s + 1.0) used_s += wanted_s[can++];
  const std::size_t cannot = wanted_s.size() - can;
  least[not_ready] += static_cast<std::int64_t>(cannot);
  std::sort(weights.begin(), weights.end());
  for (std::size_t k = 0; k < cannot; ++k) least[which] += weights[k];
  return least;
}

}  // namespace tillwrap::recharge
