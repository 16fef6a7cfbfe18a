#include "choose/plans.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

#include "choose/joint_tables.hpp"
#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr std::size_t kMostAdditions = 3;
constexpr int kMostRounds = 400;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

Problem problem_of(const Setup& setup, const Options& options, Tables& tables, int days, int need,
                   const std::vector<int>& stock) {
  Problem problem{.days = days, .need = need, .end_s = setup.end_s, .one_loss = options.one_loss};
  problem.lost = lost_before(tables.untouched(), setup.end_s);
  for (std::size_t k = 0; k < setup.kinds.size(); ++k) {
    const PackCost& cost = setup.kinds[k].cost;
    problem.kinds.push_back({.stock = stock[k], .grams = cost.grams, .cents = cost.thrown_away ? cost.cents : 0});
  }
  return problem;
}

JointTables& joint_tables(const Setup& setup, const Options& options, Tables& tables, const std::vector<Task>& group,
                          int allowed) {
  std::shared_ptr<JointOracle>& made = tables.joint[{setup.seats[at(group.front().seat)].group, allowed}];
  if (!made) {
    std::vector<int> seats;
    for (const Task& task : group) seats.push_back(task.seat);
    made = std::make_shared<JointTables>(setup, options, tables, std::move(seats), allowed);
  }
  return static_cast<JointTables&>(*made);
}

// What an answer leans on: its turns, and the spares in their places.
std::vector<Use> uses_of(const Problem& problem, const Answer& answer) {
  std::vector<Use> uses;
  for (std::size_t h = 0; h < problem.holders.size(); ++h) {
    for (const Turn& turn : answer.turns[h]) {
      uses.push_back(turn.use);
      for (const int spare : answer.spares) {
        const std::vector<int>& kinds = problem.holders[at(turn.use.holder)].kinds;
        if (std::find(kinds.begin(), kinds.end(), spare) == kinds.end()) continue;
        uses.push_back(turn.use);
        uses.back().kind = spare;
      }
    }
  }
  return uses;
}

// The group's plan up to the turn that begins at `in_s` in seat `seat` of it. `first`: its first holder in the answer.
JointPlan plan_before(const Setup& setup, const Best& best, const std::vector<Task>& group, std::size_t first,
                      double in_s, std::size_t seat) {
  const auto moment_s = [&](const Use& use) { return setup.seats[at(group[at(use.holder)].seat)].moments[at(use.in)]; };
  JointPlan plan;
  for (std::size_t s = 0; s < group.size(); ++s) {
    for (const Turn& turn : best.answer.turns[first + s]) {
      const double at_s = moment_s(turn.use);
      const bool earlier = at_s < in_s || (at_s == in_s && s < seat);
      if (turn.use.in == 0 || earlier) plan.push_back(turn.use);
    }
  }
  sort_stably(plan, [&](const Use& a, const Use& b) {
    if (a.in == 0 || b.in == 0) return a.in == 0 && b.in != 0;
    return moment_s(a) < moment_s(b);
  });
  return plan;
}

}  // namespace

std::vector<int> stock_of(const Setup& setup) {
  std::vector<int> stock;
  for (const PackClass& kind : setup.kinds) stock.push_back(static_cast<int>(kind.members.size()));
  return stock;
}

Best best_plan(const Setup& setup, const Options& options, Tables& tables, int days, int need,
               const std::vector<int>& stock) {
  Best best;
  Problem problem = problem_of(setup, options, tables, days, need, stock);
  const auto holder_task = [&](const Task& task) {
    return HolderTask{.moments = setup.seats[at(task.seat)].moments, .kinds = setup.seats[at(task.seat)].kinds};
  };
  for (int group = 0; group < setup.groups; ++group) {
    std::vector<Task> seats;
    for (int s = 0; s < static_cast<int>(setup.seats.size()); ++s) {
      if (setup.seats[at(s)].group == group) seats.push_back({.seat = s});
    }
    if (seats.size() > 1) {
      best.groups.push_back(std::move(seats));
      continue;
    }
    best.tasks.push_back(seats.front());
    problem.holders.push_back(holder_task(seats.front()));
  }
  for (const std::vector<Task>& seats : best.groups) {
    JointGroup group{.oracle = &joint_tables(setup, options, tables, seats, days - need)};
    for (const Task& task : seats) group.seats.push_back(holder_task(task));
    problem.groups.push_back(std::move(group));
    best.tasks.insert(best.tasks.end(), seats.begin(), seats.end());
  }
  tables.pose(best.tasks, days - need);
  PlanMemory memory;
  best.answer = search(problem, tables, memory);
  // Rows that are only too good are simulated where the answer leans on them, until it leans on none.
  for (int rounds = 0; best.answer.feasible && tables.refine(uses_of(problem, best.answer), best.answer.returning);) {
    best.answer = search(problem, tables, memory);
    if (++rounds == kMostRounds) {
      best.answer.complete = false;
      break;
    }
  }
  return best;
}

NamedPlan name_packs(const day::Scenario& scenario, const Setup& setup, const Options& options, Tables& tables,
                     const Best& best, Choice& choice) {
  NamedPlan plan;
  std::vector<char> taken(scenario.packs.size(), 0);
  // One of the kind: rather a pack the file gives this holder, not one it gives another, the strongest of them.
  const auto take = [&](int kind, int holder) {
    int chosen = -1;
    int best = -1;
    for (const int pack : setup.kinds[at(kind)].members) {
      if (taken[at(pack)]) continue;
      int liking = 1;
      for (int h = 0; h < static_cast<int>(scenario.holders.size()); ++h) {
        if (scenario.holders[at(h)].charger_supply >= 0) continue;
        for (const day::Slot& slot : scenario.holders[at(h)].slots) {
          if (slot.pack == pack) liking = h == holder ? 2 : 0;
        }
      }
      const bool rotates = at(pack) < setup.worn.size();
      if (rotates && liking == 2) liking = 1;  // whose turn it is says the wear
      const bool fresher = rotates && liking == best && setup.worn[at(pack)] < setup.worn[at(chosen)];
      if (liking > best || fresher) {
        best = liking;
        chosen = pack;
      }
    }
    taken[at(chosen)] = 1;
    return chosen;
  };
  const auto window_of = [&](int holder, double at_s) {
    for (const day::Span& span : day::windows(scenario, scenario.holders[at(holder)].place, setup.end_s)) {
      if (at_s >= span.from_s - 1e-6 && at_s <= span.until_s) return span;
    }
    return day::Span{at_s, at_s};
  };
  choice.assignments.clear();
  choice.charging.clear();
  choice.spares.clear();
  choice.home.clear();
  choice.left_free.clear();
  tables.pose(best.tasks, choice.days - choice.need);
  // How long the pack ahead of a turn would serve, nothing else changed in its group: by day.
  const auto served_before = [&](std::size_t h, std::size_t t) -> const std::vector<double>& {
    const double in_s = setup.seats[at(best.tasks[h].seat)].moments[at(best.answer.turns[h][t].use.in)];
    std::size_t first = best.tasks.size();
    for (const std::vector<Task>& group : best.groups) first -= group.size();
    if (h < first) return tables.carry(best.answer.turns[h][t - 1].use, in_s).until_s;
    for (const std::vector<Task>& group : best.groups) {
      if (h >= first + group.size()) {
        first += group.size();
        continue;
      }
      return joint_tables(setup, options, tables, group, choice.days - choice.need)
          .until_s(plan_before(setup, best, group, first, in_s, h - first));
    }
    return tables.untouched().until_s;
  };
  for (std::size_t h = 0; h < best.tasks.size(); ++h) {
    const Task& task = best.tasks[h];
    const Seat& seat = setup.seats[at(task.seat)];
    Assignment assignment{.holder = seat.holder};
    std::vector<int> pack_of_turn;
    const std::vector<Turn>& turns = best.answer.turns[h];
    for (std::size_t t = 0; t < turns.size(); ++t) {
      const Turn& turn = turns[t];
      int pack = -1;
      for (std::size_t e = 0; e < t && turn.use.returns(); ++e) {
        if (turns[e].use.in == turn.use.before_in) pack = pack_of_turn[e];
      }
      if (pack < 0) pack = take(turn.use.kind, seat.holder);
      pack_of_turn.push_back(pack);
      const double in_s = seat.moments[at(turn.use.in)];
      const double out_s = at(turn.out) < seat.moments.size() ? seat.moments[at(turn.out)] : setup.end_s;
      const day::Span window = window_of(seat.holder, in_s);
      PackTurn one{.pack = pack,
                   .in_s = in_s,
                   .out_s = out_s,
                   .last_safe_s = in_s,
                   .window_from_s = window.from_s,
                   .window_until_s = window.until_s,
                   .charged = turn.use.charged};
      if (t > 0) {
        // The change may wait as long as the pack in the holder serves on enough of the days the plan covers.
        std::vector<double> until;
        const std::vector<double>& before = served_before(h, t);
        for (int d = 0; d < choice.days; ++d) {
          if (!best.answer.lost.has(at(d))) until.push_back(before[at(d)]);
        }
        std::sort(until.begin(), until.end());
        const double served_s = until[until.size() - at(choice.need)];
        const double gap_s = scenario.holders[at(seat.holder)].gap_s;
        one.last_safe_s = std::max(in_s, std::floor(std::min(served_s, window.until_s - gap_s) / 60.0) * 60.0);
      }
      assignment.turns.push_back(one);
      const int first = turn.use.returns() ? turn.use.before_in : turn.use.in;
      plan.puts.push_back({.holder = seat.holder,
                           .pack = pack,
                           .drawn = tables.drawn_pack(task.seat, first, turn.use.kind),
                           .in_s = in_s});
    }
    for (const Charging& charging : best.answer.charging) {
      if (charging.holder != static_cast<int>(h)) continue;
      const int pack = pack_of_turn[charging.turn];
      choice.charging.push_back(
          {.pack = pack, .bay = charging.bay, .from_s = charging.from_s, .until_s = charging.until_s});
      const int drawn =
          std::find_if(plan.puts.begin(), plan.puts.end(), [&](const auto& put) { return put.pack == pack; })->drawn;
      plan.puts.push_back(
          {.holder = charging.bay, .pack = pack, .drawn = drawn, .in_s = charging.from_s, .out_s = charging.until_s});
    }
    if (turns.empty())
      choice.left_free.push_back(seat.holder);
    else
      choice.assignments.push_back(std::move(assignment));
  }
  for (const int kind : best.answer.spares) choice.spares.push_back(take(kind, -1));
  // What need not run gets what is left: first its own packs, then any that fit.
  for (const int h : setup.free_holders) {
    const bool served =
        std::any_of(setup.seats.begin(), setup.seats.end(), [&](const Seat& seat) { return seat.holder == h; });
    if (served) continue;
    int pack = -1;
    for (const day::Slot& slot : scenario.holders[at(h)].slots) {
      if (pack < 0 && !taken[at(slot.pack)]) pack = slot.pack;
    }
    for (const PackClass& kind : setup.kinds) {
      for (const int member : kind.members) {
        if (pack < 0 && !taken[at(member)] && fits(scenario, h, scenario.packs[at(member)])) pack = member;
      }
    }
    if (pack < 0) continue;
    taken[at(pack)] = 1;
    const double in_s = first_moment(scenario, h);
    choice.assignments.push_back({.holder = h,
                                  .must_run = false,
                                  .turns = {{.pack = pack,
                                             .in_s = in_s,
                                             .out_s = setup.end_s,
                                             .last_safe_s = in_s,
                                             .window_from_s = in_s,
                                             .window_until_s = in_s}}});
    plan.puts.push_back({.holder = h, .pack = pack, .drawn = pack, .in_s = in_s});
  }
  for (const PackClass& kind : setup.kinds) {
    for (const int member : kind.members) {
      const bool spare = std::find(choice.spares.begin(), choice.spares.end(), member) != choice.spares.end();
      if (!taken[at(member)] && !spare) choice.home.push_back(member);
    }
  }
  sort_stably(choice.assignments, [](const Assignment& a, const Assignment& b) { return a.holder < b.holder; });
  std::sort(choice.home.begin(), choice.home.end());
  return plan;
}

void explain_shortage(const Setup& setup, const Options& options, Tables& tables, int days, int need, const Best& best,
                      Choice& choice) {
  // What no choice touches: a built-in cell, mains that go.
  const DayBits lost = lost_before(tables.untouched(), setup.end_s);
  if (lost.count() > days - need) {
    std::vector<double> until = tables.untouched().until_s;
    std::sort(until.begin(), until.end());
    choice.shortages.push_back({.holder = -1, .from_s = until[at(days - need)]});
    return;
  }
  std::size_t alone = best.tasks.size();
  for (const std::vector<Task>& group : best.groups) alone -= group.size();
  for (const int h : best.answer.short_holders) {
    // Of a group, the seat that the most packs fit.
    int which = at(h) < alone ? best.tasks[at(h)].seat : -1;
    if (which < 0) {
      for (const Task& task : best.groups[at(h) - alone]) {
        const auto packs = [&](int s) {
          std::size_t sum = 0;
          for (const int kind : setup.seats[at(s)].kinds) sum += setup.kinds[at(kind)].members.size();
          return sum;
        };
        if (which < 0 || packs(task.seat) > packs(which)) which = task.seat;
      }
    }
    const Seat& seat = setup.seats[at(which)];
    choice.shortages.push_back(
        {.holder = seat.holder,
         .from_s = std::max(best.answer.reach_s[at(h)], seat.moments.front()),
         .shared = best.answer.short_holders.size() < alone + best.groups.size() && best.answer.bound.has_value()});
  }
  if (!options.look_for_additions) return;
  std::vector<int> useful;
  for (int k = 0; k < static_cast<int>(setup.kinds.size()); ++k) {
    const bool fit = std::any_of(setup.seats.begin(), setup.seats.end(), [&](const Seat& seat) {
      const bool is_short =
          choice.shortages.empty() ||
          std::any_of(choice.shortages.begin(), choice.shortages.end(), [&](const Shortage& one) {
            return one.holder >= 0 && setup.seats[at(seat.group)].holder >= 0 && one.holder == seat.holder;
          });
      return is_short && std::find(seat.kinds.begin(), seat.kinds.end(), k) != seat.kinds.end();
    });
    if (fit) useful.push_back(k);
  }
  const auto name = [&](int k) {
    const PackClass& kind = setup.kinds[at(k)];
    return kind.candidate >= 0 ? options.candidates[at(kind.candidate)].name : kind.pack.mount;
  };
  const auto attempt = [&](const std::vector<int>& kinds) {
    std::vector<int> stock = stock_of(setup);
    Addition addition;
    for (const int k : kinds) {
      ++stock[at(k)];
      addition.names.push_back(name(k));
      addition.grams += setup.kinds[at(k)].cost.grams;
      addition.cents += setup.kinds[at(k)].cost.cents;
    }
    const Best with = best_plan(setup, options, tables, days, need, stock);
    if (!with.answer.feasible) return;
    addition.probability = 1.0 - static_cast<double>(with.answer.lost.count()) / days;
    choice.additions.push_back(std::move(addition));
  };
  for (const int k : useful) attempt({k});
  if (choice.additions.empty()) {
    for (std::size_t a = 0; a < useful.size(); ++a) {
      for (std::size_t b = a; b < useful.size(); ++b) attempt({useful[a], useful[b]});
    }
  }
  sort_stably(choice.additions, [](const Addition& a, const Addition& b) {
    return a.grams != b.grams ? a.grams < b.grams : a.cents < b.cents;
  });
  // Packs of one kind and several ages read alike.
  std::vector<Addition> told;
  for (Addition& one : choice.additions) {
    const bool known =
        std::any_of(told.begin(), told.end(), [&](const Addition& other) { return other.names == one.names; });
    if (!known && told.size() < kMostAdditions) told.push_back(std::move(one));
  }
  choice.additions = std::move(told);
}

}  // namespace tillwrap::choose
