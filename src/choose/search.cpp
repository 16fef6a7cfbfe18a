// The holders' plans put together: packs are shared, charger bays are shared, and so are the days that may be lost.
// Branch and bound; the bound lets every later holder take its cheapest plan whatever the others took.
#include "choose/search.hpp"

#include <algorithm>
#include <limits>

#include "choose/joint.hpp"
#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr long kMostVisited = 4000000;
constexpr int kMostTurns = 8;
constexpr int kMostReachTurns = 3;      // where nothing reaches the end
constexpr int kMostMore = 4;            // changes above the fewest, a holder
constexpr std::size_t kMostNoted = 48;  // returning uses a holder
constexpr double kNever = std::numeric_limits<double>::infinity();

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// What one holder, or one group of holders, can be given: a list by cost, or one that is found as it is asked for.
struct Column {
  const HolderPlans* listed = nullptr;
  JointPlans* joint = nullptr;
  int most_changes = 0;  // joint
  // The k-th; may be none when with `beside` it would not cost less than `below`.
  [[nodiscard]] const HolderPlan* plan(std::size_t k, const Cost& beside, const std::optional<Cost>& below) const {
    if (joint != nullptr) return joint->get(k, most_changes, beside, below);
    return k < listed->plans.size() ? &listed->plans[k] : nullptr;
  }
  [[nodiscard]] std::size_t size() const { return joint != nullptr ? kMany : listed->plans.size(); }
  static constexpr std::size_t kMany = std::numeric_limits<std::size_t>::max();
};

// One choice for every holder, given each holder's plans.
class Master {
 public:
  Master(const Problem& problem, const std::vector<Column>& columns, const std::vector<int>& spares, Oracle& oracle)
      : problem_(problem), columns_(columns), spares_(spares), oracle_(oracle), allowed_(problem.days - problem.need) {
    for (int h = 0; h < static_cast<int>(columns.size()); ++h) order_.push_back(h);
    sort_stably(order_, [&](int a, int b) { return columns_[at(a)].size() < columns_[at(b)].size(); });
    least_.resize(order_.size() + 1);
    for (std::size_t k = order_.size(); k-- > 0;) {
      const HolderPlan* first = columns_[at(order_[k])].plan(0, {}, std::nullopt);
      if (first == nullptr) return;
      least_[k] = least_[k + 1] + first->cost;
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
    chosen_.assign(columns_.size(), nullptr);
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
    for (std::size_t k = 0;; ++k) {
      const HolderPlan* plan = columns_[at(h)].plan(k, cost + least_[depth + 1], *best_);
      if (plan == nullptr) return;
      if (*best_ && cost + plan->cost + least_[depth + 1] >= **best_) return;  // those that follow cost no less
      if (++answer_->visited > kMostVisited) {
        answer_->complete = false;
        return;
      }
      if (!enough(*plan)) continue;
      // Whatever is chosen beside it, it loses no fewer days.
      JointPlans* joint = problem_.one_loss ? columns_[at(h)].joint : nullptr;
      if (joint != nullptr && !joint->saved(*plan, spares_, problem_.lost, allowed_)) continue;
      DayBits both = lost;
      both.join(plan->lost);
      if (both.count() > allowed_) continue;
      chosen_[at(h)] = plan;
      for (std::size_t c = 0; c < left_.size(); ++c) left_[c] -= plan->used[c];
      descend(depth + 1, cost + plan->cost, both);
      for (std::size_t c = 0; c < left_.size(); ++c) left_[c] += plan->used[c];
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
    for (const Column& column : columns_) {
      if (column.joint != nullptr) column.joint->found(true);
    }
    *best_ = cost;
    answer_->feasible = true;
    answer_->cost = cost;
    answer_->lost = lost;
    answer_->spares = spares_;
    answer_->charging = std::move(charging);
    answer_->turns.clear();
    for (std::size_t h = 0; h < columns_.size(); ++h) {
      if (columns_[h].joint == nullptr)
        answer_->turns.push_back(chosen_[h]->turns);
      else
        answer_->turns.insert(answer_->turns.end(), chosen_[h]->seats.begin(), chosen_[h]->seats.end());
    }
  }

  // Each pack dead in turn, something takes its place and enough days are still covered.
  [[nodiscard]] bool any_may_die() const {
    for (std::size_t h = 0; h < columns_.size(); ++h) {
      const HolderPlan& plan = *chosen_[h];
      DayBits others = problem_.lost;
      for (std::size_t o = 0; o < columns_.size(); ++o) {
        if (o != h) others.join(chosen_[o]->lost);
      }
      if (columns_[h].joint != nullptr) {
        if (!columns_[h].joint->saved(plan, spares_, others, allowed_)) return false;
        continue;
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
    int first = 0;  // of the answer's turns
    for (std::size_t h = 0; h < columns_.size(); ++h) {
      const HolderPlan& plan = *chosen_[h];
      for (std::size_t t = 0; t < plan.turns.size(); ++t) {
        if (plan.turns[t].use.charged) wishes.push_back({first, t, *oracle_.stay(plan.turns[t].use)});
      }
      for (const HolderPlan::SeatStay& one : plan.stays)
        wishes.push_back({first + static_cast<int>(one.seat), one.turn, one.stay});
      first += columns_[h].joint != nullptr ? static_cast<int>(plan.seats.size()) : 1;
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
  const std::vector<Column>& columns_;
  const std::vector<int>& spares_;
  Oracle& oracle_;
  int allowed_;
  bool can_ = false;
  std::vector<int> order_;
  std::vector<Cost> least_;
  std::vector<int> left_;
  std::vector<const HolderPlan*> chosen_;
  std::optional<Cost>* best_ = nullptr;
  Answer* answer_ = nullptr;
};

std::vector<Column> listed(const std::vector<HolderPlans>& plans) {
  std::vector<Column> columns;
  for (const HolderPlans& own : plans) columns.push_back({.listed = &own});
  return columns;
}

JointPlans& joint_plans(const Problem& problem, std::size_t group, PlanMemory& memory) {
  std::shared_ptr<JointPlans>& made = memory.joint[{group, problem.returns}];
  if (!made) {
    made = std::make_shared<JointPlans>(problem.groups[group].seats,
                                        JointPlans::Frame{.days = problem.days,
                                                          .allowed = problem.days - problem.need,
                                                          .end_s = problem.end_s,
                                                          .kinds = problem.kinds,
                                                          .lost = problem.lost,
                                                          .one_loss = problem.one_loss,
                                                          .returns = problem.returns},
                                        *problem.groups[group].oracle);
  }
  return *made;
}

// Sets of spares, one of a kind at most (only one pack dies), fewest first.
std::vector<std::vector<int>> spare_sets(const Problem& problem) {
  std::vector<int> able;
  for (int k = 0; k < static_cast<int>(problem.kinds.size()); ++k) {
    const auto takes = [&](const HolderTask& holder) {
      return std::find(holder.kinds.begin(), holder.kinds.end(), k) != holder.kinds.end();
    };
    const bool fits = std::any_of(problem.holders.begin(), problem.holders.end(), takes) ||
                      std::any_of(problem.groups.begin(), problem.groups.end(), [&](const JointGroup& group) {
                        return std::any_of(group.seats.begin(), group.seats.end(), takes);
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
  sort_stably(sets, [](const auto& a, const auto& b) { return a.size() < b.size(); });
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
  for (std::size_t g = 0; g < problem.groups.size(); ++g) {
    JointPlans& joint = joint_plans(problem, g, memory);
    const HolderPlan* first = joint.get(0, joint.most_changes(), {}, std::nullopt);
    if (first == nullptr) answer.failing.push_back(static_cast<int>(problem.holders.size() + g));
    answer.complete = answer.complete && joint.complete();
    answer.reach_s.push_back(first != nullptr ? kNever : joint.reach_s());
    answer.fewest_turns.push_back(first != nullptr ? static_cast<int>(first->cost.changes()) : 0);
    answer.least.push_back(first != nullptr ? first->cost : Cost{});
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
  for (std::size_t g = 0; g < problem.groups.size(); ++g) {
    const std::size_t k = problem.holders.size() + g;
    bound = bound + each.least[k];
    widest = std::max(widest, joint_plans(problem, g, memory).most_changes() - each.fewest_turns[k]);
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
      std::vector<Column> columns = listed(plans);
      for (std::size_t g = 0; g < problem.groups.size(); ++g) {
        columns.push_back({.joint = &joint_plans(problem, g, memory),
                           .most_changes = each.fewest_turns[problem.holders.size() + g] + more});
      }
      Master(problem, columns, spares, oracle).run(extra, best, answer);
      for (std::size_t g = 0; g < problem.groups.size(); ++g)
        answer.complete = answer.complete && joint_plans(problem, g, memory).complete();
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
    Master(rest, listed(plans), {}, oracle).run({}, best, without);
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
    // Of a group, that is one change in all of it.
    bool short_plans = true;
    std::size_t k = 0;
    for (; answer.feasible && k < problem.holders.size(); ++k) short_plans = short_plans && answer.turns[k].size() <= 2;
    for (const JointGroup& group : problem.groups) {
      int changes = 0;
      for (std::size_t s = 0; answer.feasible && s < group.seats.size(); ++s, ++k)
        changes += std::max(static_cast<int>(answer.turns[k].size()) - 1, 0);
      short_plans = short_plans && changes <= 1;
    }
    if (fewest && short_plans) return answer;
    memory.returns_matter = true;
  }
  return search_once(problem, oracle, memory);
}

}  // namespace

Answer search(const Problem& problem, Oracle& oracle, PlanMemory& memory) {
  Answer answer = search_both(problem, oracle, memory);
  if (!answer.feasible && !answer.complete) {  // what was found before serves no longer: searched as long as for any
    bool again = false;
    for (auto& [group, plans] : memory.joint) {
      again = again || plans->found();
      plans->found(false);
    }
    if (again) answer = search_both(problem, oracle, memory);
  }
  const bool day_lost = problem.lost.count() > problem.days - problem.need;
  if (!answer.feasible && answer.short_holders.empty() && !day_lost) {
    if (problem.groups.empty() && !problem.holders.empty()) {
      find_left_over(problem, oracle, answer);
    } else {
      const auto all = static_cast<int>(problem.holders.size() + problem.groups.size());
      for (int h = 0; h < all; ++h) answer.short_holders.push_back(h);
    }
  }
  return answer;
}

Answer search(const Problem& problem, Oracle& oracle) {
  PlanMemory memory;
  return search(problem, oracle, memory);
}

}  // namespace tillwrap::choose
