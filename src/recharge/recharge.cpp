#include "recharge/recharge.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "quantity/order.hpp"
#include "recharge/law.hpp"
#include "recharge/search.hpp"

namespace tillwrap::recharge {

namespace {

constexpr double kRow_s = 300.0;
constexpr double kAsGoodAsFull = 0.985;  // taken out a little before the taper ends: common practice, no source
constexpr double kShortOfWanted = 0.005;
constexpr double kSame_s = 1e-6;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// What goes in when hands leave, and would stand there dead until they are back, goes in when they are.
void put_in_when_it_charges(const Problem& problem, Plan& plan) {
  const Timeline line(problem, plan.get_up_s);
  for (Move& move : plan.moves) {
    if (move.station < 0) continue;
    std::size_t k = 0;
    while (k + 1 < line.at_s.size() && line.at_s[k + 1] <= move.at_s + kSame_s) ++k;
    std::size_t live = k;
    while (live + 1 < line.at_s.size() && line.on[live][at(move.station)] == 0) ++live;
    if (live > k && live + 1 < line.at_s.size() && line.hands_at[live] != 0) move.at_s = line.at_s[live];
  }
  sort_stably(plan.moves, [](const Move& a, const Move& b) { return a.at_s < b.at_s; });
}

// Every stay computed as it goes: currents shared by those at work, breaks, warming up.
class Replay {
 public:
  Replay(const Night& night, const Posed& posed, const Plan& plan)
      : night_(night), posed_(posed), plan_(plan), line_(posed.problem, plan.get_up_s) {
    for (const Posed::Of& of : posed.task_of) {
      const Battery& battery = night.batteries[at(of.battery)];
      Now now;
      now.pack = part_of(battery.pack, of.cells);
      now.state = cell::rested_after_use(now.pack.params, battery.charge, battery.temperature_k);
      now.begun_charge = battery.charge;
      now.beside_k = resting_k(night, battery);
      tasks_.push_back(std::move(now));
    }
    in_.resize(night.chargers.size());
    bay_.resize(night.chargers.size());
    for (std::size_t c = 0; c < night.chargers.size(); ++c) bay_[c].assign(at(night.chargers[c].bays), -1);
  }

  void run(Answer& answer) {
    std::vector<double> moments = line_.at_s;
    for (const Move& move : plan_.moves) moments.push_back(move.at_s);
    std::sort(moments.begin(), moments.end());
    std::size_t next = 0;
    std::size_t stretch = 0;
    for (std::size_t k = 0; k < moments.size(); ++k) {
      const double t = moments[k];
      if (k > 0 && t > moments[k - 1]) pass(moments[k - 1], t, stretch);
      while (stretch + 1 < line_.at_s.size() && line_.at_s[stretch + 1] <= t + kSame_s) ++stretch;
      while (next < plan_.moves.size() && plan_.moves[next].at_s <= t + kSame_s) act(plan_.moves[next++]);
    }
    for (std::size_t t = 0; t < tasks_.size(); ++t) {
      if (tasks_[t].stay >= 0) close(static_cast<int>(t), night_.until_s);
    }
    answer.stays = std::move(stays_);
    sort_stably(answer.stays, [](const Stay& a, const Stay& b) { return a.in_s < b.in_s; });
    answer.differ_s = differ_s_;
    for (std::size_t t = 0; t < tasks_.size(); ++t) {
      Outcome& outcome = answer.outcomes[at(posed_.task_of[t].battery)];
      const Battery& battery = night_.batteries[at(posed_.task_of[t].battery)];
      const double charge = tasks_[t].state.cell.charge;
      const bool ready = (battery.wanted == 1.0 && tasks_[t].full_s < kNoLimit) || charge >= enough(battery);
      const bool first = posed_.task_of[t].part == 0;
      outcome.charge = first ? charge : std::min(outcome.charge, charge);
      outcome.ready = ready && (first || outcome.ready);
      const double planned_s = std::min(plan_.ready_s[t], tasks_[t].full_s);
      const double ready_s = !ready ? kNoLimit : planned_s < kNoLimit ? planned_s : tasks_[t].enough_s;
      outcome.ready_s = first ? ready_s : std::max(outcome.ready_s, ready_s);
      if (outcome.ready) outcome.why = Why::ready;
    }
  }

 private:
  struct Now {
    day::Pack pack;
    cell::PackState state;
    double begun_charge = 0.0;
    double already_as = 0.0;
    double full_s = kNoLimit;
    double enough_s = kNoLimit;  // charge that counts as ready reached
    double beside_k = 293.15;
    int stay = -1;
  };

  static double enough(const Battery& battery) {
    return battery.wanted < 1.0 ? battery.wanted - kShortOfWanted : kAsGoodAsFull;
  }

  void act(const Move& move) {
    Now& now = tasks_[at(move.task)];
    if (now.stay >= 0) close(move.task, move.at_s);
    if (move.station < 0) return;
    const Posed::Of& of = posed_.task_of[at(move.task)];
    const int bays = posed_.problem.tasks[at(move.task)].on[at(move.station)].bays;
    std::vector<int>& bay = bay_[at(move.station)];
    int taken = 0;
    int first = -1;
    for (std::size_t b = 0; b < bay.size() && taken < bays; ++b) {
      if (bay[b] >= 0) continue;
      if (first < 0) first = static_cast<int>(b);
      bay[b] = move.task;
      ++taken;
    }
    now.stay = static_cast<int>(stays_.size());
    stays_.push_back({.battery = of.battery,
                      .part = of.part,
                      .parts = of.parts,
                      .cells = of.cells,
                      .charger = move.station,
                      .first_bay = std::max(first, 0),
                      .bays = bays,
                      .in_s = move.at_s,
                      .out_s = night_.until_s,
                      .start_charge = now.state.cell.charge,
                      .end_charge = now.state.cell.charge,
                      .rows = {{move.at_s, now.state.cell.charge}}});
    std::vector<int>& in = in_[at(move.station)];
    // The order of a charger that goes from bay to bay by itself is the plan's: by when they are done.
    in.push_back(move.task);
    if (posed_.problem.stations[at(move.station)].in_turn) {
      sort_stably(in, [&](int a, int b) { return order_of(a) < order_of(b); });
    }
  }

  [[nodiscard]] double order_of(int task) const {
    return tasks_[at(task)].full_s < kNoLimit ? -1.0 : plan_.ready_s[at(task)];
  }

  void close(int task, double at_s) {
    Now& now = tasks_[at(task)];
    Stay& stay = stays_[at(now.stay)];
    stay.out_s = at_s;
    stay.end_charge = now.state.cell.charge;
    stay.rows.push_back({at_s, stay.end_charge});
    const bool planned_full =
        plan_.ready_s[at(task)] <= at_s + kSame_s && posed_.problem.tasks[at(task)].ready_share >= 1.0;
    if (planned_full && !(now.full_s < kNoLimit)) {
      const cell::ChargeRun rest = cell::charge(now.pack.params, law_on(night_.chargers[at(stay.charger)], now.pack, 1),
                                                now.state, conditions(now, stay.charger, 86400.0));
      differ_s_ = std::max(differ_s_, rest.duration_s);
    } else if (planned_full) {
      differ_s_ = std::max(differ_s_, std::fabs(now.full_s - plan_.ready_s[at(task)]));
    }
    std::erase(in_[at(stay.charger)], task);
    std::replace(bay_[at(stay.charger)].begin(), bay_[at(stay.charger)].end(), task, -1);
    now.stay = -1;
  }

  [[nodiscard]] cell::ChargeWhile conditions(const Now& now, int charger, double longest_s) const {
    return {.surround_k = night_.chargers[at(charger)].surround_k,
            .longest_s = longest_s,
            .row_s = kRow_s,
            .begun_charge = now.begun_charge,
            .already_as = now.already_as};
  }

  void rest(Now& now, double for_s, double surround_k) {
    const double end_k = cell::warmed_k(now.pack.params, now.state.cell.temperature_k, for_s, 0.0, surround_k);
    const cell::CellRates rates = cell::rates_at(now.pack.params.cell, 0.5 * (end_k + now.state.cell.temperature_k));
    now.state = cell::advance(now.pack.params, rates, now.state, for_s, 0.0, 0.0);
    now.state.cell.temperature_k = end_k;
  }

  void take(int task, int charger, double from_s, const cell::ChargeRun& run) {
    Now& now = tasks_[at(task)];
    Stay& stay = stays_[at(now.stay)];
    now.state = run.end;
    now.already_as += run.put_in_as;
    stay.warming_s += run.waited_s;
    stay.put_in_j += run.put_in_j;
    stay.taken_j += run.put_in_j / night_.chargers[at(charger)].efficiency;
    stay.stored_j += run.stored_j;
    stay.put_in_as += run.put_in_as;
    stay.stored_as += run.stored_as;
    const double enough_charge = enough(night_.batteries[at(stay.battery)]);
    for (const cell::ChargeMoment& row : run.curve) {
      if (row.charge >= enough_charge) now.enough_s = std::min(now.enough_s, from_s + row.at_s);
      if (from_s + row.at_s > stay.rows.back().at_s + 1.0) stay.rows.push_back({from_s + row.at_s, row.charge});
    }
    if (run.full) {
      now.full_s = from_s + run.duration_s;
      stay.full_s = now.full_s;
    }
  }

  void pass(double from_s, double until_s, std::size_t stretch) {
    std::set<int> busy_any;
    for (int c = 0; c < static_cast<int>(night_.chargers.size()); ++c) {
      if (line_.on[stretch][at(c)] == 0) continue;
      double t = from_s;
      while (t < until_s - kSame_s) {
        std::vector<int> busy;
        for (const int task : in_[at(c)]) {
          if (!(tasks_[at(task)].full_s < kNoLimit)) busy.push_back(task);
        }
        if (busy.empty()) break;
        if (posed_.problem.stations[at(c)].in_turn) busy.erase(busy.begin() + 1, busy.end());
        double step_s = until_s - t;
        std::vector<cell::ChargeRun> runs;
        const auto compute = [&](double longest_s) {
          runs.clear();
          for (const int task : busy) {
            const Now& now = tasks_[at(task)];
            runs.push_back(cell::charge(now.pack.params, law_on(night_.chargers[at(c)], now.pack, busy.size()),
                                        now.state, conditions(now, c, longest_s)));
          }
        };
        compute(step_s);
        double shortest_s = step_s;
        for (const cell::ChargeRun& run : runs) {
          if (run.full) shortest_s = std::min(shortest_s, run.duration_s);
        }
        if (shortest_s < step_s && busy.size() > 1) {
          // The first that is done changes what the others get.
          std::vector<cell::ChargeRun> whole;
          whole.swap(runs);
          compute(shortest_s);
          for (std::size_t k = 0; k < busy.size(); ++k) {
            if (whole[k].full && whole[k].duration_s <= shortest_s + kSame_s) runs[k] = std::move(whole[k]);
          }
        }
        step_s = shortest_s;
        for (std::size_t k = 0; k < busy.size(); ++k) {
          take(busy[k], c, t, runs[k]);
          busy_any.insert(busy[k]);
        }
        t += std::max(step_s, kSame_s);
      }
    }
    for (std::size_t k = 0; k < tasks_.size(); ++k) {
      if (busy_any.count(static_cast<int>(k)) != 0) continue;
      Now& now = tasks_[k];
      rest(now, until_s - from_s,
           now.stay >= 0 ? night_.chargers[at(stays_[at(now.stay)].charger)].surround_k : now.beside_k);
    }
  }

  const Night& night_;
  const Posed& posed_;
  const Plan& plan_;
  Timeline line_;
  std::vector<Now> tasks_;
  std::vector<std::vector<int>> in_;   // by charger
  std::vector<std::vector<int>> bay_;  // by charger and bay: task or -1
  std::vector<Stay> stays_;
  double differ_s_ = 0.0;
};

}  // namespace

Answer recharge(const Night& night, long most_nodes) {
  const Posed posed = pose(night);
  Answer answer;
  answer.plan = best_plan(posed.problem, most_nodes);
  put_in_when_it_charges(posed.problem, answer.plan);
  answer.outcomes = posed.outcomes;
  Replay(night, posed, answer.plan).run(answer);
  for (std::size_t b = 0; b < night.batteries.size(); ++b) {
    if (night.batteries[b].rank < 0) continue;
    ++answer.needed;
    if (answer.outcomes[b].ready) ++answer.needed_ready;
  }
  return answer;
}

}  // namespace tillwrap::recharge
