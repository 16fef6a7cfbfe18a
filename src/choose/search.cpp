// The holders' plans put together: packs are shared, charger bays are shared, and so are the days that may be lost.
// Branch and bound; the bound lets every later holder take its cheapest plan whatever the others took.
#include "choose/search.hpp"

#include <algorithm>
#include <limits>

namespace tillwrap::choose {

namespace {

constexpr long kMostVisited = 4000000;
constexpr int kMostTurns = 8;
constexpr int kMostReachTurns = 3;      // where nothing reaches the end
constexpr int kMostMore = 4;            // changes above the fewest, a holder
constexpr std::size_t kMostNoted = 48;  // returning uses a holder
constexpr double kNever = std::numeric_limits<double>::infinity();

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// One choice for every holder, given each holder's plans.
class Master {
 public:
  Master(const Problem& problem, const std::vector<HolderPlans>& plans, const std::vector<int>& spares, Oracle& oracle)
      : problem_(problem), plans_(plans), spares_(spares), oracle_(oracle), allowed_(problem.days - problem.need) {
    for (int h = 0; h < static_cast<int>(plans.size()); ++h) order_.push_back(h);
    std::stable_sort(order_.begin(), order_.end(),
                     [&](int a, int b) { return plans_[at(a)].plans.size() < plans_[at(b)].plans.size(); });
    least_.resize(order_.size() + 1);
    for (std::size_t k = order_.size(); k-- > 0;) {
      const std::vector<HolderPlan>& own = plans_[at(order_[k])].plans;
      if (own.empty()) return;
      least_[k] = least_[k + 1] + own.front().cost;
    }
    can_ = true;
  }

  // Improves `best`, whose cost includes the spares' `extra`.
  void run(const Cost& extra, std::optional<Cost>& best, Answer& answer) {
    if (!can_) return;
    left_.clear();
    for (const Kind& kind : problem_.kinds) left_.push_back(kind.stock);
    for (const int spare : spares_) {
      if (--left_[at(spare)] < 0) return;
    }
    chosen_.assign(plans_.size(), 0);
    extra_ = extra;
    best_ = &best;
    answer_ = &answer;
    descend(0, extra, problem_.lost);
  }

 private:
  void descend(std::size_t depth, const Cost& cost, const DayBits& lost) {
    if (depth == order_.size()) {
      settle(cost, lost);
      return;
    }
    const int h = order_[depth];
    const std::vector<HolderPlan>& own = plans_[at(h)].plans;
    for (std::size_t k = 0; k < own.size(); ++k) {
      const HolderPlan& plan = own[k];
      if (*best_ && cost + plan.cost + least_[depth + 1] >= **best_) return;  // those that follow cost no less
      if (++answer_->visited > kMostVisited) {
        answer_->complete = false;
        return;
      }
      if (!enough(plan)) continue;
      DayBits both = lost;
      both.join(plan.lost);
      if (both.count() > allowed_) continue;
      chosen_[at(h)] = k;
      for (std::size_t c = 0; c < left_.size(); ++c) left_[c] -= plan.used[c];
      descend(depth + 1, cost + plan.cost, both);
      for (std::size_t c = 0; c < left_.size(); ++c) left_[c] += plan.used[c];
    }
  }

  [[nodiscard]] bool enough(const HolderPlan& plan) const {
    for (std::size_t c = 0; c < left_.size(); ++c) {
      if (plan.used[c] > left_[c]) return false;
    }
    return true;
  }

  void settle(const Cost& cost, const DayBits& lost) {
    if (problem_.one_loss && !any_may_die()) return;
    std::vector<Charging> charging;
    if (!find_bays(charging)) return;
    *best_ = cost;
    answer_->feasible = true;
    answer_->cost = cost;
    answer_->lost = lost;
    answer_->spares = spares_;
    answer_->charging = std::move(charging);
    answer_->turns.clear();
    for (std::size_t h = 0; h < plans_.size(); ++h) answer_->turns.push_back(plans_[h].plans[chosen_[h]].turns);
  }

  // Each pack dead in turn, something takes its place and enough days are still covered.
  [[nodiscard]] bool any_may_die() const {
    for (std::size_t h = 0; h < plans_.size(); ++h) {
      const HolderPlan& plan = plans_[h].plans[chosen_[h]];
      DayBits others = problem_.lost;
      for (std::size_t o = 0; o < plans_.size(); ++o) {
        if (o != h) others.join(plans_[o].plans[chosen_[o]].lost);
      }
      for (const auto& options : plan.without) {
        const bool saved = std::any_of(options.begin(), options.end(), [&](const auto& option) {
          if (!option) return false;
          DayBits all = others;
          all.join(*option);
          return all.count() <= allowed_;
        });
        if (!saved) return false;
      }
    }
    return true;
  }

  // Packs that charge take bays at times that do not overlap.
  bool find_bays(std::vector<Charging>& charging) {
    struct Wish {
      int holder;
      std::size_t turn;
      BayStay stay;
    };
    std::vector<Wish> wishes;
    for (std::size_t h = 0; h < plans_.size(); ++h) {
      const HolderPlan& plan = plans_[h].plans[chosen_[h]];
      for (std::size_t t = 0; t < plan.turns.size(); ++t) {
        if (plan.turns[t].use.charged) wishes.push_back({static_cast<int>(h), t, *oracle_.stay(plan.turns[t].use)});
      }
    }
    const auto place = [&](auto&& self, std::size_t k) -> bool {
      if (k == wishes.size()) return true;
      for (const int bay : wishes[k].stay.bays) {
        const BayStay& stay = wishes[k].stay;
        const bool taken = std::any_of(charging.begin(), charging.end(), [&](const Charging& other) {
          return other.bay == bay && other.from_s < stay.until_s && stay.from_s < other.until_s;
        });
        if (taken) continue;
        charging.push_back({wishes[k].holder, wishes[k].turn, bay, stay.from_s, stay.until_s});
        if (self(self, k + 1)) return true;
        charging.pop_back();
      }
      return false;
    };
    return place(place, 0);
  }

  const Problem& problem_;
  const std::vector<HolderPlans>& plans_;
  const std::vector<int>& spares_;
  Oracle& oracle_;
  int allowed_;
  bool can_ = false;
  std::vector<int> order_;
  std::vector<Cost> least_;
  std::vector<int> left_;
  std::vector<std::size_t> chosen_;
  Cost extra_;
  std::optional<Cost>* best_ = nullptr;
  Answer* answer_ = nullptr;
};

// Sets of spares, one of a kind at most (only one pack dies), fewest first.
std::vector<std::vector<int>> spare_sets(const Problem& problem) {
  std::vector<int> able;
  for (int k = 0; k < static_cast<int>(problem.kinds.size()); ++k) {
    const bool fits = std::any_of(problem.holders.begin(), problem.holders.end(), [&](const HolderTask& holder) {
      return std::find(holder.kinds.begin(), holder.kinds.end(), k) != holder.kinds.end();
    });
    if (fits && problem.kinds[at(k)].stock > 0) able.push_back(k);
  }
  std::vector<std::vector<int>> sets{{}};
  if (!problem.one_loss) return sets;
  for (std::size_t mask = 1; mask < (std::size_t{1} << std::min<std::size_t>(able.size(), 12)); ++mask) {
    std::vector<int> set;
    for (std::size_t k = 0; k < able.size(); ++k) {
      if ((mask >> k & 1U) != 0) set.push_back(able[k]);
    }
    sets.push_back(std::move(set));
  }
  std::stable_sort(sets.begin(), sets.end(), [](const auto& a, const auto& b) { return a.size() < b.size(); });
  return sets;
}

Cost cost_of(const Problem& problem, const std::vector<int>& spares) {
  Cost cost;
  for (const int spare : spares) {
    cost.part[1] += 1;
    cost.part[2] += problem.kinds[at(spare)].grams;
  }
  return cost;
}

int turns_possible(const Problem& problem, int holder) {
  const HolderTask& task = problem.holders[at(holder)];
  int stock = 0;
  for (const int kind : task.kinds) stock += problem.kinds[at(kind)].stock;
  if (problem.returns) stock *= 2;
  return std::min({kMostTurns, stock, static_cast<int>(task.moments.size())});
}

const HolderPlans& remembered(const Problem& problem, int holder, int most_turns, const std::vector<int>& spares,
                              const std::vector<int>& target, Oracle& oracle, PlanMemory& memory) {
  // Spares that do not fit here change nothing here.
  const std::vector<int>& kinds = problem.holders[at(holder)].kinds;
  std::vector<int> own;
  for (const int spare : spares) {
    if (std::find(kinds.begin(), kinds.end(), spare) != kinds.end()) own.push_back(spare);
  }
  const PlanMemory::Key key{holder, most_turns, problem.returns, problem.one_loss, own, oracle.version(holder)};
  const auto found = memory.known.find(key);
  if (found != memory.known.end()) return found->second;
  return memory.known.emplace(key, plans_of(problem, holder, most_turns, own, target, oracle)).first->second;
}

struct Alone {  // each holder with all packs to itself
  std::vector<std::vector<int>> target;
  std::vector<int> fewest_turns;
  std::vector<Cost> least;
  std::vector<double> reach_s;
  std::vector<int> failing;
  bool complete = true;
};

Alone alone(const Problem& problem, Oracle& oracle, PlanMemory& memory) {
  Alone answer;
  Problem plain = problem;
  plain.one_loss = false;
  for (int h = 0; h < static_cast<int>(problem.holders.size()); ++h) {
    const int most = turns_possible(problem, h);
    HolderPlans plans;
    answer.target.push_back(targets(plain, h, oracle));
    const std::vector<int>& target = answer.target.back();
    int turns = static_cast<int>(target.size()) - 2;
    while (target.back() == 0 && plans.plans.empty() && turns < most) {
      plans = remembered(plain, h, ++turns, {}, target, oracle, memory);
      answer.complete = answer.complete && plans.complete;
    }
    if (plans.plans.empty()) {
      answer.failing.push_back(h);
      plans = plans_of(plain, h, std::min(most, kMostReachTurns) + 1, {}, {}, oracle);  // how far at least
    }
    answer.reach_s.push_back(plans.plans.empty() ? plans.reach_s : kNever);
    answer.fewest_turns.push_back(turns);
    answer.least.push_back(plans.plans.empty() ? Cost{} : plans.plans.front().cost);
  }
  return answer;
}

void note_returning(const std::vector<HolderPlans>& plans, std::vector<Use>& returning) {
  for (const HolderPlans& own : plans) {
    std::size_t noted = 0;
    for (const HolderPlan& plan : own.plans) {
      for (const Turn& turn : plan.turns) {
        if (!turn.use.returns() || noted >= kMostNoted) continue;
        if (std::find(returning.begin(), returning.end(), turn.use) != returning.end()) continue;
        returning.push_back(turn.use);
        ++noted;
      }
    }
  }
}

Answer search_once(const Problem& problem, Oracle& oracle, PlanMemory& memory) {
  Answer answer;
  const int holders = static_cast<int>(problem.holders.size());
  const Alone each = alone(problem, oracle, memory);
  answer.complete = each.complete;
  answer.reach_s = each.reach_s;
  if (!each.failing.empty() || problem.lost.count() > problem.days - problem.need) {
    answer.short_holders = each.failing;
    return answer;
  }
  Cost bound;
  int widest = 0;
  for (int h = 0; h < holders; ++h) {
    bound = bound + each.least[at(h)];
    widest = std::max(widest, turns_possible(problem, h) - each.fewest_turns[at(h)]);
  }
  answer.bound = bound;
  const std::vector<std::vector<int>> sets = spare_sets(problem);
  std::optional<Cost> best;
  // A plan with so many changes in all gives no holder more than that many above its fewest.
  for (int more = 0; more <= widest; ++more) {
    if (more > kMostMore) {
      answer.complete = false;
      break;
    }
    if (best && best->changes() <= bound.changes() + more - 1) break;
    std::vector<HolderPlans> plans;
    for (const std::vector<int>& spares : sets) {
      const Cost extra = cost_of(problem, spares);
      if (best && bound + extra >= *best) continue;
      if (plans.empty() || problem.one_loss) {
        plans.clear();
        for (int h = 0; h < holders; ++h) {
          const int most = std::min(turns_possible(problem, h), each.fewest_turns[at(h)] + more);
          plans.push_back(remembered(problem, h, most, spares, each.target[at(h)], oracle, memory));
          answer.complete = answer.complete && plans.back().complete;
        }
      }
      Master(problem, plans, spares, oracle).run(extra, best, answer);
      if (problem.returns) note_returning(plans, answer.returning);
    }
  }
  return answer;
}

// Every holder can be served alone but not all together: which one is left over, and how far what remains takes it.
void find_left_over(const Problem& problem, Oracle& oracle, Answer& answer) {
  const int holders = static_cast<int>(problem.holders.size());
  std::vector<std::vector<int>> aims;
  for (int h = 0; h < holders; ++h) aims.push_back(targets(problem, h, oracle));
  for (int h = 0; h < holders; ++h) {
    Problem rest = problem;
    rest.holders[at(h)].kinds.clear();
    std::vector<HolderPlans> plans;
    for (int o = 0; o < holders; ++o) {
      if (o == h)
        plans.push_back(
            {.plans = {HolderPlan{.used = std::vector<int>(problem.kinds.size(), 0), .lost = problem.lost}}});
      else
        plans.push_back(plans_of(problem, o,
                                 std::min(turns_possible(problem, o), static_cast<int>(aims[at(o)].size()) + 1), {},
                                 aims[at(o)], oracle));
    }
    rest.one_loss = false;
    Answer without;
    std::optional<Cost> best;
    Master(rest, plans, {}, oracle).run({}, best, without);
    if (!without.feasible) continue;
    for (const auto& turns : without.turns) {
      for (const Turn& turn : turns) {
        if (!turn.use.returns()) --rest.kinds[at(turn.use.kind)].stock;
      }
    }
    rest.holders[at(h)].kinds = problem.holders[at(h)].kinds;
    answer.short_holders.push_back(h);
    answer.reach_s[at(h)] = plans_of(rest, h, kMostReachTurns + 1, {}, {}, oracle).reach_s;
  }
  if (answer.short_holders.empty()) {
    for (int h = 0; h < holders; ++h) answer.short_holders.push_back(h);
  }
}

Answer search_both(const Problem& problem, Oracle& oracle, PlanMemory& memory) {
  if (!memory.returns_matter) {
    Problem fresh = problem;
    fresh.returns = false;
    Answer answer = search_once(fresh, oracle, memory);
    if (!problem.returns) return answer;
    // A pack that comes back never carries further than a fresh one, so it saves no change where there are packs
    // enough: where every holder changes once at most, in the fewest changes possible, there is nothing to come back
    // for.
    const bool fewest = answer.feasible && answer.bound && answer.cost.changes() == answer.bound->changes();
    const bool short_plans =
        std::all_of(answer.turns.begin(), answer.turns.end(), [](const auto& turns) { return turns.size() <= 2; });
    if (fewest && short_plans) return answer;
    memory.returns_matter = true;
  }
  return search_once(problem, oracle, memory);
}

}  // namespace

Answer search(const Problem& problem, Oracle& oracle, PlanMemory& memory) {
  Answer answer = search_both(problem, oracle, memory);
  const bool day_lost = problem.lost.count() > problem.days - problem.need;
  if (!answer.feasible && answer.short_holders.empty() && !day_lost && !problem.holders.empty()) {
    find_left_over(problem, oracle, answer);
  }
  return answer;
}

Answer search(const Problem& problem, Oracle& oracle) {
  PlanMemory memory;
  return search(problem, oracle, memory);
}

}  // namespace tillwrap::choose
