#include "choose/joint.hpp"

#include <algorithm>
#include <limits>

#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr int kMostJointChanges = 6;
constexpr std::size_t kMostAtOnce = 2000;  // beginnings of one length followed further
// Drawn days run: for something better than what is found already, and for anything at all.
constexpr std::int64_t kMostDaysForBetter = 60000;
constexpr std::int64_t kMostDaysForAny = 400000;
constexpr double kNever = std::numeric_limits<double>::infinity();

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool within(double when_s, double reach_s) { return when_s < kNever && when_s <= reach_s; }

bool has(const std::vector<int>& all, int what) { return std::find(all.begin(), all.end(), what) != all.end(); }

}  // namespace

JointPlans::JointPlans(std::vector<HolderTask> seats, Frame frame, JointOracle& oracle)
    : seats_(std::move(seats)), frame_(std::move(frame)), oracle_(oracle), days_run_before_(oracle.days_run()) {
  int moments = 0;
  int stock = 0;
  for (const HolderTask& seat : seats_) moments += static_cast<int>(seat.moments.size()) - 1;
  for (std::size_t k = 0; k < frame_.kinds.size(); ++k) {
    const bool fits = std::any_of(seats_.begin(), seats_.end(),
                                  [&](const HolderTask& seat) { return has(seat.kinds, static_cast<int>(k)); });
    if (fits) stock += frame_.kinds[k].stock * (frame_.returns ? 2 : 1);
  }
  most_changes_ = std::max(0, std::min({kMostJointChanges, moments, stock - 1}));
}

double JointPlans::moment_s(const Use& use) const { return seats_[at(use.holder)].moments[at(use.in)]; }

std::vector<int> JointPlans::used_by(const JointPlan& plan) const {
  std::vector<int> used(frame_.kinds.size(), 0);
  for (const Use& use : plan) used[at(use.kind)] += use.returns() ? 0 : 1;
  return used;
}

Cost JointPlans::cost_of(const JointPlan& plan) const {
  Cost cost;
  for (const Use& use : plan) {
    const Kind& kind = frame_.kinds[at(use.kind)];
    if (use.in > 0) cost.part[0] += 1;
    if (!use.returns()) cost = cost + Cost{{0, 1, kind.grams, kind.cents, 0}};
  }
  return cost;
}

// Every way to fill the seats when they begin.
std::vector<JointPlan> JointPlans::starts() const {
  std::vector<JointPlan> all{{}};
  for (int s = 0; s < static_cast<int>(seats_.size()); ++s) {
    std::vector<JointPlan> next = all;  // stays empty
    for (const JointPlan& plan : all) {
      const std::vector<int> used = used_by(plan);
      for (const int kind : seats_[at(s)].kinds) {
        if (used[at(kind)] >= frame_.kinds[at(kind)].stock) continue;
        next.push_back(plan);
        next.back().push_back({.holder = s, .kind = kind, .in = 0});
      }
    }
    all = std::move(next);
  }
  std::erase_if(all, [](const JointPlan& plan) { return plan.empty(); });
  return all;
}

// Every next change later than the last, in whatever seat; whether what is in carries so far is not asked.
JointPlans::Growth JointPlans::grow(const JointPlan& plan, int more) {
  Growth growth{.next = {}, .left_out_from_s = kNever};
  const std::vector<int> used = used_by(plan);
  const auto try_it = [&](const Use& use, double when_s) {
    JointPlan grown = plan;
    grown.push_back(use);
    if (oracle_.may_last(grown, more))
      growth.next.emplace_back(when_s, std::move(grown));
    else
      growth.left_out_from_s = std::min(growth.left_out_from_s, when_s);
  };
  for (int s = 0; s < static_cast<int>(seats_.size()); ++s) {
    const HolderTask& seat = seats_[at(s)];
    std::vector<Use> own;
    for (const Use& use : plan) {
      if (use.holder == s) own.push_back(use);
    }
    if (own.empty()) continue;  // stays empty all day
    for (int m = own.back().in + 1; m < static_cast<int>(seat.moments.size()); ++m) {
      const double when_s = seat.moments[at(m)];
      const Use& last = plan.back();
      if (last.in > 0 && (when_s < moment_s(last) || (when_s == moment_s(last) && s <= last.holder))) continue;
      for (const int kind : seat.kinds) {
        if (used[at(kind)] < frame_.kinds[at(kind)].stock) try_it({.holder = s, .kind = kind, .in = m}, when_s);
      }
      if (!frame_.returns) continue;
      for (std::size_t k = 0; k + 1 < own.size(); ++k) {
        const bool again = own[k].returns() || std::any_of(own.begin(), own.end(), [&](const Use& other) {
                             return other.returns() && other.before_in == own[k].in;
                           });
        if (again) continue;
        Use back{.holder = s, .kind = own[k].kind, .in = m, .before_in = own[k].in, .before_out = own[k + 1].in};
        try_it(back, when_s);
        back.charged = true;
        if (oracle_.stay(back)) try_it(back, when_s);
      }
    }
  }
  return growth;
}

double JointPlans::look_at(const JointPlan& plan) {
  const double reach_s = oracle_.reach_s(plan);
  reach_s_ = std::max(reach_s_, std::min(reach_s, frame_.end_s));
  return reach_s;
}

double JointPlans::reach_s() {
  std::vector<JointPlan> plans;
  for (const auto& [plan, from_s] : unseen_) plans.push_back(plan);
  oracle_.prepare(plans, true);
  for (const JointPlan& plan : plans) look_at(plan);
  unseen_.clear();
  return reach_s_;
}

// Where there are too many to follow, those that get farthest.
std::vector<JointPlan> JointPlans::thinned(std::vector<JointPlan> plans) {
  if (plans.size() <= kMostAtOnce) return plans;
  complete_ = false;
  std::vector<std::pair<double, std::size_t>> order;
  for (std::size_t k = 0; k < plans.size(); ++k) {
    JointPlan before = plans[k];
    before.pop_back();
    order.emplace_back(before.empty() ? 0.0 : -oracle_.reach_s(before), k);
  }
  sort_stably(order);
  std::vector<JointPlan> kept;
  for (std::size_t k = 0; k < kMostAtOnce; ++k) kept.push_back(std::move(plans[order[k].second]));
  return kept;
}

void JointPlans::enumerate(int changes) {
  waiting_.clear();
  next_waiting_ = 0;
  std::vector<JointPlan> level = starts();
  left_out_ = std::erase_if(level, [&](const JointPlan& plan) { return !oracle_.may_last(plan, changes); }) > 0;
  std::size_t seen = unseen_.size();
  for (int done = 0; done < changes; ++done) {
    level = thinned(std::move(level));
    std::vector<Growth> growths;
    std::vector<JointPlan> open;
    for (const JointPlan& plan : level) {
      growths.push_back(grow(plan, changes - done - 1));
      if (!growths.back().next.empty()) open.push_back(plan);
    }
    oracle_.prepare(open, true);
    std::vector<JointPlan> next;
    for (std::size_t k = 0; k < level.size(); ++k) {
      if (growths[k].next.empty()) {
        unseen_.emplace_back(std::move(level[k]), growths[k].left_out_from_s);
        continue;
      }
      const double reach_s = look_at(level[k]);
      left_out_ = left_out_ || within(growths[k].left_out_from_s, reach_s);
      for (auto& [when_s, grown] : growths[k].next) {
        if (when_s <= reach_s) next.push_back(std::move(grown));
      }
    }
    for (; next.empty() && !left_out_ && seen < unseen_.size(); ++seen)
      left_out_ = within(unseen_[seen].second, look_at(unseen_[seen].first));
    if (next.empty() && !left_out_) most_changes_ = done;  // no change more can be made in time
    level = std::move(next);
  }
  for (JointPlan& plan : level) {
    const Cost cost = cost_of(plan);
    waiting_.push_back({std::move(plan), cost});
  }
  sort_stably(waiting_, [](const Candidate& a, const Candidate& b) { return a.cost < b.cost; });
}

// Looks at the cheapest of those waiting, all that cost the same but for wear.
void JointPlans::look_closer() {
  std::vector<JointPlan> same;
  const Cost cost = waiting_[next_waiting_].cost;
  while (next_waiting_ < waiting_.size() && waiting_[next_waiting_].cost == cost)
    same.push_back(std::move(waiting_[next_waiting_++].plan));
  oracle_.prepare(same, false);
  for (JointPlan& plan : same) {
    if (look_at(plan) < kNever) continue;
    Candidate one{std::move(plan), cost};
    one.cost.part[4] = oracle_.wear(one.plan);
    ready_.push_back(std::move(one));
  }
  sort_stably(ready_, [](const Candidate& a, const Candidate& b) { return a.cost < b.cost; });
}

std::vector<std::vector<Turn>> JointPlans::turns_of(const JointPlan& plan) const {
  std::vector<std::vector<Turn>> seats(seats_.size());
  for (const Use& use : plan) {
    std::vector<Turn>& turns = seats[at(use.holder)];
    if (!turns.empty()) turns.back().out = use.in;
    turns.push_back({use, static_cast<int>(seats_[at(use.holder)].moments.size())});
  }
  return seats;
}

void JointPlans::admit(const Candidate& candidate) {
  HolderPlan plan{.used = used_by(candidate.plan), .cost = candidate.cost};
  const auto matched = [&](const HolderPlan& other, bool days) {
    if (frame_.one_loss || (days && !other.lost.within(plan.lost))) return false;
    for (std::size_t k = 0; k < plan.used.size(); ++k) {
      if (other.used[k] > plan.used[k]) return false;
    }
    return other.stays.empty();
  };
  // One that loses no day beyond those lost whatever is chosen needs no look at this one's.
  for (const HolderPlan& other : plans_) {
    if (other.lost.within(frame_.lost) && matched(other, false)) return;
  }
  if (frame_.one_loss && !may_be_saved(candidate.plan)) return;
  plan.lost = oracle_.lost(candidate.plan);
  plan.lost.join(frame_.lost);
  if (plan.lost.count() > frame_.allowed) return;
  if (std::any_of(plans_.begin(), plans_.end(), [&](const HolderPlan& other) { return matched(other, true); })) return;
  plan.seats = turns_of(candidate.plan);
  for (std::size_t s = 0; s < plan.seats.size(); ++s) {
    for (std::size_t t = 0; t < plan.seats[s].size(); ++t) {
      const Use& use = plan.seats[s][t].use;
      if (use.charged) plan.stays.push_back({s, t, *oracle_.stay(use)});
    }
  }
  plan.number = plans_.size();
  plans_.push_back(std::move(plan));
  events_.push_back(candidate.plan);
}

// Then the search is no longer complete.
bool JointPlans::give_up() {
  if (oracle_.days_run() - days_run_before_ < (found_ ? kMostDaysForBetter : kMostDaysForAny)) return false;
  complete_ = false;
  return true;
}

const HolderPlan* JointPlans::get(std::size_t k, int most_changes, const Cost& beside,
                                  const std::optional<Cost>& below) {
  const auto too_dear = [&](const Cost& cost) {
    return cost.changes() > most_changes || (below && beside + cost >= *below);
  };
  while (plans_.size() <= k) {
    if (!ready_.empty()) {
      if (too_dear(ready_.front().cost) || give_up()) return nullptr;
      const Candidate next = std::move(ready_.front());
      ready_.pop_front();
      admit(next);
    } else if (next_waiting_ < waiting_.size()) {
      if (too_dear(waiting_[next_waiting_].cost) || give_up()) return nullptr;
      look_closer();
    } else {
      if (next_changes_ > std::min(most_changes, most_changes_)) {
        if (most_changes_ == kMostJointChanges && most_changes >= most_changes_) complete_ = false;
        return nullptr;
      }
      if ((below && beside.changes() + next_changes_ > below->changes()) || give_up()) return nullptr;
      enumerate(next_changes_++);
    }
  }
  return too_dear(plans_[k].cost) ? nullptr : &plans_[k];
}

// Whether, whichever pack is dead, one that may take its turns (`takes`) or what was in the seat (-1) keeps enough days
// beside those lost anyway; `lost` tells those lost with it.
template <typename Takes, typename Lost>
bool JointPlans::any_may_die(const JointPlan& plan, const DayBits& anyway, int allowed, Takes takes, Lost lost) const {
  const bool comes_back = std::any_of(plan.begin(), plan.end(), [](const Use& use) { return use.returns(); });
  for (std::size_t dead = 0; dead < plan.size(); ++dead) {
    if (plan[dead].returns()) continue;
    const auto lasts = [&](int spare) {
      DayBits all = anyway;
      all.join(lost(dead, spare));
      return all.count() <= allowed;
    };
    bool fine = !comes_back && lasts(-1);
    for (const int spare : seats_[at(plan[dead].holder)].kinds) fine = fine || (takes(spare) && lasts(spare));
    if (!fine) return false;
  }
  return true;
}

// With all kinds of pack there are for spares.
bool JointPlans::may_be_saved(const JointPlan& plan) {
  const std::vector<int> used = used_by(plan);
  return any_may_die(
      plan, frame_.lost, frame_.allowed, [&](int kind) { return used[at(kind)] < frame_.kinds[at(kind)].stock; },
      [&](std::size_t dead, int spare) { return oracle_.lost_without(plan, dead, spare); });
}

const DayBits& JointPlans::lost_without(std::size_t number, std::size_t dead, int spare) {
  const auto known = lost_without_.find({number, dead, spare});
  if (known != lost_without_.end()) return known->second;
  return lost_without_.emplace(std::tuple{number, dead, spare}, oracle_.lost_without(events_[number], dead, spare))
      .first->second;
}

bool JointPlans::saved(const HolderPlan& plan, const std::vector<int>& spares, const DayBits& others, int allowed) {
  return any_may_die(
      events_[plan.number], others, allowed, [&](int kind) { return has(spares, kind); },
      [&](std::size_t dead, int spare) -> const DayBits& { return lost_without(plan.number, dead, spare); });
}

}  // namespace tillwrap::choose
