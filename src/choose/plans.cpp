#include "choose/plans.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace tillwrap::choose {

namespace {

constexpr std::size_t kMostCompanies = 16;  // ways to fill the other holders of coupled groups that are tried
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

// Ways to serve a group whose holders feed something together: one holder is searched, the others hold one pack all day
// or none.
std::vector<Task> ways_of_group(const Setup& setup, int group, const std::vector<int>& stock) {
  std::vector<int> seats;
  for (int s = 0; s < static_cast<int>(setup.seats.size()); ++s) {
    if (setup.seats[at(s)].group == group) seats.push_back(s);
  }
  if (seats.size() == 1) return {Task{.seat = seats.front()}};
  const auto stored = [&](int kind) {
    const cell::PackParams& pack = setup.kinds[at(kind)].pack.params;
    return cell::energy_left_j(pack, setup.kinds[at(kind)].pack.start_charge);
  };
  // Holders in order of what the kit has for them: that is where the day is carried.
  std::map<int, double> energy;
  for (const int s : seats) {
    for (const int kind : setup.seats[at(s)].kinds) energy[s] += stock[at(kind)] * stored(kind);
  }
  std::stable_sort(seats.begin(), seats.end(), [&](int a, int b) { return energy[a] > energy[b]; });
  std::vector<Task> ways;
  for (const int lead : seats) {
    std::vector<Task> grown{Task{.seat = lead}};
    for (const int other : seats) {
      if (other == lead) continue;
      std::vector<int> kinds;
      for (const int kind : setup.seats[at(other)].kinds) {
        if (stock[at(kind)] > 0) kinds.push_back(kind);
      }
      std::stable_sort(kinds.begin(), kinds.end(), [&](int a, int b) { return stored(a) < stored(b); });
      std::vector<int> choices{-1};
      if (!kinds.empty()) choices.push_back(kinds.front());
      if (kinds.size() > 1) choices.push_back(kinds.back());
      std::vector<Task> next;
      for (const Task& task : grown) {
        for (const int kind : choices) {
          next.push_back(task);
          next.back().beside.emplace_back(other, kind);
        }
      }
      grown = std::move(next);
    }
    ways.insert(ways.end(), grown.begin(), grown.end());
  }
  if (ways.size() > kMostCompanies) ways.resize(kMostCompanies);
  return ways;
}

// What an answer leans on: its turns, and the spares in their places.
std::vector<Use> uses_of(const Problem& problem, const Answer& answer) {
  std::vector<Use> uses;
  for (const std::vector<Turn>& turns : answer.turns) {
    for (const Turn& turn : turns) {
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

}  // namespace

std::vector<int> stock_of(const Setup& setup) {
  std::vector<int> stock;
  for (const PackClass& kind : setup.kinds) stock.push_back(static_cast<int>(kind.members.size()));
  return stock;
}

Best best_plan(const Setup& setup, const Options& options, Tables& tables, int days, int need,
               const std::vector<int>& stock) {
  std::vector<std::vector<Task>> companies{{}};
  Best best;
  for (int group = 0; group < setup.groups; ++group) {
    const std::vector<Task> ways = ways_of_group(setup, group, stock);
    best.coupled = best.coupled || ways.size() > 1 || !ways.front().beside.empty();
    std::vector<std::vector<Task>> next;
    for (const std::vector<Task>& tasks : companies) {
      for (const Task& way : ways) {
        if (next.size() >= kMostCompanies) break;
        next.push_back(tasks);
        next.back().push_back(way);
      }
    }
    companies = std::move(next);
  }
  bool any = false;
  for (const std::vector<Task>& tasks : companies) {
    Problem problem = problem_of(setup, options, tables, days, need, stock);
    Cost extra;
    bool enough = true;
    for (const Task& task : tasks) {
      problem.holders.push_back(
          {.moments = setup.seats[at(task.seat)].moments, .kinds = setup.seats[at(task.seat)].kinds});
      for (const auto& [seat, kind] : task.beside) {
        if (kind < 0) continue;
        Kind& taken = problem.kinds[at(kind)];
        enough = enough && --taken.stock >= 0;
        extra = extra + Cost{{0, 1, taken.grams, taken.cents, 0}};
      }
    }
    if (!enough) continue;
    tables.pose(tasks, days - need);
    PlanMemory memory;
    Answer answer = search(problem, tables, memory);
    // Rows that are only too good are simulated where the answer leans on them, until it leans on none.
    int rounds = 0;
    while (answer.feasible && tables.refine(uses_of(problem, answer), answer.returning)) {
      answer = search(problem, tables, memory);
      if (++rounds == kMostRounds) {
        answer.complete = false;
        break;
      }
    }
    const bool complete = (!any || best.answer.complete) && answer.complete;
    const auto reach = [](const Answer& one) {
      double sum = 0.0;
      for (const double reach_s : one.reach_s) sum += std::min(reach_s, 1e7);
      return sum;
    };
    const bool better = !any || (answer.feasible && !best.answer.feasible) ||
                        (answer.feasible && answer.cost + extra < best.answer.cost + best.extra) ||
                        (!answer.feasible && !best.answer.feasible && reach(answer) > reach(best.answer));
    if (better) {
      best.answer = std::move(answer);
      best.extra = extra;
      best.tasks = tasks;
    }
    best.answer.complete = complete;
    any = true;
  }
  return best;
}

NamedPlan name_packs(const day::Scenario& scenario, const Setup& setup, Tables& tables, const Best& best,
                     Choice& choice) {
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
        const Carry& before = tables.carry(turns[t - 1].use, in_s);
        for (int d = 0; d < choice.days; ++d) {
          if (!best.answer.lost.has(at(d))) until.push_back(before.until_s[at(d)]);
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
    choice.assignments.push_back(std::move(assignment));
    for (const auto& [other, kind] : task.beside) {
      const Seat& beside = setup.seats[at(other)];
      if (kind < 0) {
        choice.left_free.push_back(beside.holder);
        continue;
      }
      const int pack = take(kind, beside.holder);
      const double in_s = beside.moments.front();
      choice.assignments.push_back({.holder = beside.holder,
                                    .turns = {{.pack = pack,
                                               .in_s = in_s,
                                               .out_s = setup.end_s,
                                               .last_safe_s = in_s,
                                               .window_from_s = in_s,
                                               .window_until_s = in_s}}});
      plan.puts.push_back(
          {.holder = beside.holder, .pack = pack, .drawn = tables.drawn_pack(other, 0, kind), .in_s = in_s});
    }
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
  std::stable_sort(choice.assignments.begin(), choice.assignments.end(),
                   [](const Assignment& a, const Assignment& b) { return a.holder < b.holder; });
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
  for (const int h : best.answer.short_holders) {
    const Seat& seat = setup.seats[at(best.tasks[at(h)].seat)];
    choice.shortages.push_back(
        {.holder = seat.holder,
         .from_s = std::max(best.answer.reach_s[at(h)], seat.moments.front()),
         .shared = best.answer.short_holders.size() < best.tasks.size() && best.answer.bound.has_value()});
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
  std::stable_sort(choice.additions.begin(), choice.additions.end(), [](const Addition& a, const Addition& b) {
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
