// The search against every plan there is, on hundreds of small nights. The brute force below shares nothing with the
// search but the problem: it steps minute by minute, tries every placing of every pack at every moment hands may act,
// and adds up the cost at the end.
#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <cmath>
#include <optional>

#include "recharge/plan.hpp"

namespace {

using namespace tillwrap;
using recharge::Cost;
using recharge::Problem;

constexpr double kMinute_s = 60.0;
constexpr long kMostMoments = 20000;  // a night with more ways than that takes minutes to try

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Durations in whole minutes; two sharing a charger take exactly twice as long.
recharge::Curve straight(int minutes) { return {.at_s = {0.0, minutes * kMinute_s}, .share = {0.0, 1.0}}; }

struct Brute {
  const Problem& problem;
  std::vector<int> up;  // minutes at which somebody gets up
  std::optional<Cost> best{};
  long moments = 0;  // decided so far; past kMostMoments the night is left out

  struct State {
    std::vector<double> share;
    std::vector<int> where, full;  // full: minute, -1
    int put_ins = 0;
    int asleep = 0;  // minutes of charging with nobody awake
  };

  [[nodiscard]] bool within(const std::vector<day::Span>& spans, int minute) const {
    for (const day::Span& span : spans) {
      if (minute * kMinute_s >= span.from_s && minute * kMinute_s < span.until_s) return true;
    }
    return false;
  }
  [[nodiscard]] bool hands(int minute) const {
    for (const day::Span& span : problem.there) {
      if (minute * kMinute_s >= span.from_s && minute * kMinute_s <= span.until_s) return true;
    }
    return std::find(up.begin(), up.end(), minute) != up.end();
  }
  // Somebody comes or goes, lies down or gets up, the power comes or goes: every pack may move.
  [[nodiscard]] bool turning(int minute) const {
    const double s = minute * kMinute_s;
    const auto edge = [&](const std::vector<day::Span>& spans) {
      for (const day::Span& span : spans) {
        if (span.from_s == s || span.until_s == s) return true;
      }
      return false;
    };
    bool live = false;
    for (const recharge::Station& station : problem.stations) live = live || edge(station.live);
    return s == problem.from_s || edge(problem.there) || edge(problem.asleep) || live ||
           std::find(up.begin(), up.end(), minute) != up.end();
  }

  void place(State& state, std::size_t task, int minute, bool all) {
    if (task == state.share.size()) {
      for (std::size_t s = 0; s < problem.stations.size(); ++s) {
        int used = 0;
        for (std::size_t t = 0; t < state.share.size(); ++t)
          used += state.where[t] == static_cast<int>(s) ? problem.tasks[t].on[s].bays : 0;
        if (used > problem.stations[s].bays) return;
      }
      for (std::size_t supply = 0; supply < problem.supply_w.size(); ++supply) {
        double watts = 0.0;
        for (std::size_t t = 0; t < state.share.size(); ++t) {
          const int s = state.where[t];
          if (s < 0 || problem.stations[at(s)].supply != static_cast<int>(supply)) continue;
          watts += problem.tasks[t].on[at(s)].watts.front();
        }
        if (watts > problem.supply_w[supply]) return;
      }
      pass(state, minute);
      return;
    }
    const int was = state.where[task];
    if (state.share[task] >= 1.0 || (was >= 0 && !all)) {
      place(state, task + 1, minute, all);
      return;
    }
    for (int s = -1; s < static_cast<int>(problem.stations.size()); ++s) {
      if (s >= 0 && problem.tasks[task].on[at(s)].with.empty()) continue;
      state.where[task] = s;
      state.put_ins += s >= 0 && s != was ? 1 : 0;
      place(state, task + 1, minute, all);
      state.put_ins -= s >= 0 && s != was ? 1 : 0;
    }
    state.where[task] = was;
  }

  void act(State state, int minute, bool all) {
    if (++moments > kMostMoments) return;
    for (std::size_t t = 0; t < state.share.size(); ++t) {
      if (state.share[t] >= 1.0) state.where[t] = -1;
    }
    place(state, 0, minute, all);
  }

  void pass(State state, int minute) {
    const int end = static_cast<int>(problem.until_s / kMinute_s);
    while (minute < end) {
      const bool watched = within(problem.there, minute) || within(problem.asleep, minute);
      std::vector<int> busy(problem.stations.size(), 0);
      for (std::size_t t = 0; t < state.share.size(); ++t) {
        if (state.where[t] >= 0 && state.share[t] < 1.0) ++busy[at(state.where[t])];
      }
      bool done = false;
      for (std::size_t t = 0; t < state.share.size(); ++t) {
        const int s = state.where[t];
        if (s < 0 || state.share[t] >= 1.0 || !watched || !within(problem.stations[at(s)].live, minute)) continue;
        const std::vector<recharge::Curve>& with = problem.tasks[t].on[at(s)].with;
        state.asleep += within(problem.there, minute) ? 0 : 1;
        state.share[t] += kMinute_s / with[std::min(at(busy[at(s)]), with.size()) - 1].length_s();
        if (state.share[t] < 1.0 - 1e-7) continue;
        state.share[t] = 1.0;
        state.full[t] = minute + 1;
        done = true;
      }
      ++minute;
      if (minute == end) break;
      if (turning(minute) && hands(minute)) return act(state, minute, true);
      if (done && hands(minute)) return act(state, minute, false);
    }
    Cost cost{};
    for (std::size_t t = 0; t < state.share.size(); ++t) {
      const recharge::Task& task = problem.tasks[t];
      const bool ready = state.share[t] >= 1.0;
      const auto missing =
          ready ? 0 : static_cast<std::int64_t>(std::llround(10.0 * task.missing_wh * (1.0 - state.share[t]) + 1e-6));
      if (task.rank >= 0) {
        cost[recharge::not_ready] += ready ? 0 : 1;
        cost[recharge::which] += ready ? 0 : std::int64_t{1} << (39 - task.rank);
        cost[recharge::short_needed] += missing;
      } else {
        cost[recharge::short_others] += missing;
      }
      if (state.full[t] >= 0 && task.ages_full) cost[recharge::full_minutes] += end - state.full[t];
    }
    cost[recharge::get_ups] = static_cast<std::int64_t>(up.size());
    cost[recharge::asleep_s] = 60 * state.asleep;
    cost[recharge::put_ins] = state.put_ins;
    if (!best || cost < *best) best = cost;
  }

  void run() {
    State state{.share = std::vector<double>(problem.tasks.size(), 0.0),
                .where = std::vector<int>(problem.tasks.size(), -1),
                .full = std::vector<int>(problem.tasks.size(), -1)};
    const int from = static_cast<int>(problem.from_s / kMinute_s);
    if (hands(from)) {
      act(state, from, true);
    } else {
      pass(state, from);
    }
  }
};

std::optional<Cost> brute(const Problem& problem) {
  Brute none{.problem = problem};
  none.run();
  if (none.moments > kMostMoments) return std::nullopt;
  Cost best = *none.best;
  if (problem.most_get_ups == 0 || (best[recharge::not_ready] == 0 && best[recharge::short_needed] == 0)) return best;
  for (double s = problem.from_s; s < problem.until_s; s += problem.get_up_grid_s) {
    for (const day::Span& span : problem.asleep) {
      if (!(s > span.from_s && s < span.until_s && s > problem.from_s)) continue;
      Brute one{.problem = problem, .up = {static_cast<int>(s / kMinute_s)}};
      one.run();
      if (one.moments > kMostMoments) return std::nullopt;
      best = std::min(best, *one.best);
    }
  }
  return best;
}

int any(int lowest, int above) { return *rc::gen::resize(100, rc::gen::inRange(lowest, above)); }

// A night of a few hours in coarse steps, so that everything can be tried.
Problem drawn() {
  Problem problem;
  const auto hour = [](int lowest, int highest) { return 1800.0 * any(lowest, highest + 1); };
  problem.from_s = 0.0;
  problem.until_s = hour(8, 12);
  const double lie_down_s = hour(1, 4);
  const double wake_s = lie_down_s + hour(2, 6);
  problem.there = {{0.0, lie_down_s}};
  if (wake_s < problem.until_s) problem.there.push_back({wake_s, problem.until_s});
  const double slept_s = std::min(wake_s, problem.until_s);
  if (any(0, 3) > 0) problem.asleep = {{lie_down_s, slept_s}};
  problem.most_get_ups = any(0, 4) > 0 ? 1 : 0;
  problem.get_up_grid_s = 3600.0;
  const int stations = any(1, 3);
  const bool tight = any(0, 4) == 0;
  problem.supply_w = {tight ? 70.0 : 1e6};  // one supply with a limit: planned as one
  for (int s = 0; s < stations; ++s) {
    recharge::Station station{.name = "", .bays = any(1, 3), .supply = 0, .live = {{0.0, problem.until_s}}};
    if (any(0, 5) == 0) station.live = {{0.0, hour(4, 8)}};
    problem.stations.push_back(station);
  }
  const int tasks = any(2, stations == 1 ? 5 : 4);
  int rank = 0;
  for (int t = 0; t < tasks; ++t) {
    recharge::Task task{.rank = any(0, 5) > 0 ? rank++ : -1, .missing_wh = static_cast<double>(any(20, 90))};
    task.ages_full = any(0, 2) > 0;
    const int minutes = 30 * any(1, 9);
    for (int s = 0; s < stations; ++s) {
      recharge::Fit fit{.watts = {40.0, 40.0}};
      if (any(0, 4) > 0 || stations == 1) {
        const bool shares = problem.stations[at(s)].bays == 2 && s == 0;
        fit.with = {straight(minutes * (s + 1)), straight(minutes * (s + 1) * (shares ? 2 : 1))};
      }
      task.on.push_back(fit);
    }
    problem.tasks.push_back(task);
  }
  return problem;
}

std::string words(const Problem& problem) {
  std::string out = "until " + std::to_string(problem.until_s / 60.0) + "\n";
  const auto spans = [&](const char* what, const std::vector<day::Span>& all) {
    for (const day::Span& span : all)
      out += std::string(what) + " " + std::to_string(span.from_s / 60.0) + " " + std::to_string(span.until_s / 60.0) +
             "\n";
  };
  spans("there", problem.there);
  spans("asleep", problem.asleep);
  for (const recharge::Station& station : problem.stations) {
    out += "station of " + std::to_string(station.bays) + "\n";
    spans("  live", station.live);
  }
  for (const recharge::Task& task : problem.tasks) {
    out += "task " + std::to_string(task.rank) + ", " + std::to_string(task.missing_wh) + " Wh:";
    for (const recharge::Fit& fit : task.on) {
      out += " /";
      for (const recharge::Curve& curve : fit.with) out += " " + std::to_string(curve.length_s() / 60.0);
    }
    out += "\n";
  }
  return out + "supply " + std::to_string(problem.supply_w.front()) + "\n";
}

TEST(Search, FindsWhatTryingEverythingFinds) {
  int nights = 0;
  int not_all = 0;
  int got_up = 0;
  int left_out = 0;
  rc::check([&] {
    for (int k = 0; k < 6; ++k) {
      const Problem problem = drawn();
      const recharge::Plan plan = recharge::best_plan(problem);
      RC_ASSERT(plan.complete);
      RC_ASSERT(plan.bound == plan.cost);
      const std::optional<Cost> tried = brute(problem);
      if (!tried) {
        ++left_out;
        continue;
      }
      const Cost best = *tried;
      if (plan.cost != best) RC_LOG() << words(problem);
      RC_ASSERT(plan.cost == best);
      ++nights;
      not_all += best[recharge::not_ready] > 0 ? 1 : 0;
      got_up += best[recharge::get_ups] > 0 ? 1 : 0;
    }
  });
  std::printf("[ nights   ] %d, of which %d leave a needed pack short, %d get up; %d too long to try\n", nights,
              not_all, got_up, left_out);
  EXPECT_GE(nights, 400);
  EXPECT_GT(not_all, 20);
  EXPECT_GT(got_up, 1);
}

// Cut short it says so, and what it calls a bound is one.
TEST(Search, TheBoundOfASearchCutShortIsABound) {
  rc::check([] {
    const Problem problem = drawn();
    const recharge::Plan whole = recharge::best_plan(problem);
    const recharge::Plan cut = recharge::best_plan(problem, 2);
    RC_ASSERT(cut.bound <= whole.cost);
    RC_ASSERT(whole.cost <= cut.cost);
    if (cut.complete) RC_ASSERT(cut.cost == whole.cost);
  });
}

}  // namespace
