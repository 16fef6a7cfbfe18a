// Plans of one holder: labels (the use in the holder now, packs used, days lost so far) grown turn by turn. A label is
// dropped when another in the same use has lost no other day, used no other pack and cost no more.
#include <algorithm>
#include <limits>
#include <map>

#include "choose/search.hpp"
#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr std::size_t kMostLabels = 60000;
constexpr double kNever = std::numeric_limits<double>::infinity();

std::size_t at(int i) { return static_cast<std::size_t>(i); }

using Risks = std::vector<std::vector<std::optional<DayBits>>>;

struct Label {
  std::vector<Turn> closed;
  std::vector<Turn> able;            // of them, those whose pack may usefully come back
  Use use;                           // in the holder now
  std::size_t pack = 0;              // which of the plan's packs that is
  std::vector<std::size_t> pack_of;  // of each closed turn
  std::vector<int> used;
  Cost cost;
  DayBits lost;          // before the present turn
  DayBits lost_earlier;  // before the turn ahead of it
  Risks without;         // by pack
};

class Grower {
 public:
  Grower(const Problem& problem, int holder, int most_turns, const std::vector<int>& spares,
         const std::vector<int>& target, Oracle& oracle)
      : problem_(problem),
        task_(problem.holders[at(holder)]),
        holder_(holder),
        most_turns_(most_turns),
        spares_(spares),
        target_(target),
        oracle_(oracle),
        allowed_(problem.days - problem.need) {}

  HolderPlans grow() {
    std::vector<Label> level;
    if (problem_.lost.count() > allowed_) return std::move(out_);
    for (const int kind : task_.kinds) {
      if (problem_.kinds[at(kind)].stock < 1) continue;
      Label label;
      label.use = {.holder = holder_, .kind = kind, .in = 0};
      label.used.assign(problem_.kinds.size(), 0);
      label.lost = label.lost_earlier = problem_.lost;
      take(label, kind);
      level.push_back(std::move(label));
    }
    for (int turn = 1; turn <= most_turns_ && !level.empty(); ++turn) {
      const bool last = turn == most_turns_;
      prepare(level, most_turns_ - turn);
      std::map<Use, std::vector<Label>> next;
      std::size_t kept = 0;
      for (const Label& label : level) {
        const Carry& carry = oracle_.carry(label.use, least_s(label.use, most_turns_ - turn));
        if (carry.hopeless) continue;
        note_reach(label, carry);
        finish(label, carry);
        if (last) continue;
        for (int j = first_moment(label.use, most_turns_ - turn); j < moments(); ++j) {
          Label grown = label;
          if (!close(grown, carry, j)) break;
          note_able(grown, j, most_turns_ - turn - 1);
          for (const int kind : task_.kinds) {
            if (grown.used[at(kind)] >= problem_.kinds[at(kind)].stock) continue;
            Label& fresh = grown;  // made into the new label, kept as a copy, and undone
            const Cost cost = grown.cost;
            const std::size_t packs = grown.without.size();
            fresh.use = {.holder = holder_, .kind = kind, .in = j};
            fresh.cost.part[0] += 1;
            take(fresh, kind);
            keep(next[fresh.use], fresh, kept, turn + 1 == most_turns_);
            grown.without.resize(packs);
            --grown.used[at(kind)];
            grown.cost = cost;
          }
          if (problem_.returns) bring_back(grown, j, next, kept, turn + 1 == most_turns_);
        }
      }
      level.clear();
      for (auto& [use, labels] : next) {
        for (Label& label : labels) level.push_back(std::move(label));
      }
    }
    sort_out();
    return std::move(out_);
  }

 private:
  [[nodiscard]] int moments() const { return static_cast<int>(task_.moments.size()); }
  [[nodiscard]] double moment_s(int j) const { return j < moments() ? task_.moments[at(j)] : problem_.end_s; }
  // What a use must reach on enough days to be of any good.
  // `left` turns may follow it.
  [[nodiscard]] double least_s(const Use& use, int left) const {
    return left == 0 ? problem_.end_s : moment_s(first_moment(use, left));
  }
  [[nodiscard]] int first_moment(const Use& use, int left) const {
    if (target_.empty()) return use.in + 1;
    return std::max(use.in + 1, target_[std::min(at(left), target_.size() - 1)]);
  }

  void take(Label& label, int kind) {
    const Kind& what = problem_.kinds[at(kind)];
    ++label.used[at(kind)];
    label.cost.part[1] += 1;
    label.cost.part[2] += what.grams;
    label.cost.part[3] += what.cents;
    label.pack = label.without.size();
    if (problem_.one_loss)
      label.without.emplace_back();
    else
      label.pack = at(static_cast<int>(label.closed.size()));
  }

  void prepare(const std::vector<Label>& level, int left) {
    std::vector<Use> uses;
    for (const Label& label : level) {
      uses.push_back(label.use);
      for (const int spare : problem_.one_loss ? spares_ : std::vector<int>{}) {
        Use use = label.use;
        use.kind = spare;
        if (fits(spare)) uses.push_back(use);
      }
    }
    std::sort(uses.begin(), uses.end());
    uses.erase(std::unique(uses.begin(), uses.end()), uses.end());
    std::vector<double> least;
    for (const Use& use : uses) least.push_back(least_s(use, left));
    oracle_.prepare(uses, least);
  }

  // Days on which a use is lost before moment j.
  const DayBits& lost_by(const Use& use, const Carry& carry, int j) {
    std::vector<DayBits>& all = lost_by_[use];
    if (all.empty()) {
      for (int m = use.in + 1; m <= moments(); ++m) all.push_back(lost_before(carry, moment_s(m)));
    }
    return all[at(j - use.in - 1)];
  }

  [[nodiscard]] bool fits(int kind) const {
    return std::find(task_.kinds.begin(), task_.kinds.end(), kind) != task_.kinds.end();
  }

  // The present use comes out at moment j (or the end): days it did not get there are lost. False when too many are.
  bool close(Label& label, const Carry& carry, int j) {
    const double out_s = moment_s(j);
    const DayBits& fails = lost_by(label.use, carry, j);
    DayBits lost = label.lost;
    lost.join(fails);
    if (lost.count() > allowed_) return false;
    const Use use = label.use;
    if (problem_.one_loss && !survive(label, use, fails, out_s)) return false;
    label.cost.part[4] += oracle_.wear(use, j);
    label.closed.push_back({use, j});
    label.pack_of.push_back(label.pack);
    label.lost_earlier = label.lost;
    label.lost = std::move(lost);
    return true;
  }

  // Each pack of the plan dead in turn, up to `out_s`.
  bool survive(Label& label, const Use& use, const DayBits& fails, double out_s) {
    for (std::size_t p = 0; p < label.without.size(); ++p) {
      if (p == label.pack) continue;
      for (auto& option : label.without[p]) {
        if (!option) continue;
        option->join(fails);
        if (option->count() > allowed_) option.reset();
      }
      if (none(label.without[p])) return false;
    }
    auto& own = label.without[label.pack];
    const bool first = own.empty();
    if (first) own.resize(1 + spares_.size());
    for (std::size_t s = 0; s < spares_.size(); ++s) {
      if (!fits(spares_[s]) || (!first && !own[1 + s])) continue;
      Use other = use;
      other.kind = spares_[s];
      const Carry& instead = oracle_.carry(other, out_s);
      DayBits lost = first ? label.lost : *own[1 + s];
      if (!instead.hopeless) lost.join(lost_before(instead, out_s));
      if (instead.hopeless || lost.count() > allowed_)
        own[1 + s].reset();
      else
        own[1 + s] = std::move(lost);
    }
    if (first && !label.closed.empty()) {
      const Carry& before = oracle_.carry(label.closed.back().use, out_s);
      DayBits lost = label.lost_earlier;
      if (!before.hopeless) lost.join(lost_before(before, out_s));
      if (!before.hopeless && lost.count() <= allowed_) own[0] = std::move(lost);
    }
    if (!first) {
      // A pack that is taken out to come back is not there to stay in for another.
      for (auto& options : label.without) {
        if (!options.empty()) options[0].reset();
      }
    }
    return std::none_of(label.without.begin(), label.without.end(), [&](const auto& options) { return none(options); });
  }

  static bool none(const std::vector<std::optional<DayBits>>& options) {
    return std::none_of(options.begin(), options.end(), [](const auto& option) { return option.has_value(); });
  }

  // Of the packs that have come out, those that could come back after moment j, in one of the `left` turns that then
  // remain, and carry far enough.
  void note_able(Label& label, int j, int left) {
    label.able.clear();
    if (!problem_.returns || left < 1) return;
    for (std::size_t t = 0; t < label.closed.size(); ++t) {
      const bool again = std::count(label.pack_of.begin(), label.pack_of.end(), label.pack_of[t]) > 1;
      if (!again && useful(label.closed[t], j, left)) label.able.push_back(label.closed[t]);
    }
  }

  bool useful(const Turn& turn, int j, int left) {
    const auto [found, is_new] = useful_.emplace(std::make_tuple(turn.use, turn.out, j, left), false);
    if (!is_new) return found->second;
    Use use{.holder = holder_, .kind = turn.use.kind, .before_in = turn.use.in, .before_out = turn.out};
    for (use.in = j + 1; use.in < moments(); ++use.in) {
      for (const bool charged : {true, false}) {
        use.charged = charged;
        if (charged && !oracle_.stay(use)) continue;
        for (int after = 0; after < left; ++after) {
          if (first_moment(use, after) > moments()) continue;
          if (!oracle_.carry(use, least_s(use, after)).hopeless) return found->second = true;
        }
      }
    }
    return false;
  }

  void bring_back(const Label& grown, int j, std::map<Use, std::vector<Label>>& next, std::size_t& kept, bool last) {
    for (std::size_t t = 0; t + 1 < grown.closed.size(); ++t) {
      const Turn& turn = grown.closed[t];
      const bool again = std::count(grown.pack_of.begin(), grown.pack_of.end(), grown.pack_of[t]) > 1;
      if (again) continue;
      Use use{.holder = holder_, .kind = turn.use.kind, .in = j, .before_in = turn.use.in, .before_out = turn.out};
      for (const bool charged : {true, false}) {
        use.charged = charged;
        if (charged && !oracle_.stay(use)) continue;
        Label back = grown;
        back.use = use;
        back.cost.part[0] += 1;
        back.pack = grown.pack_of[t];
        keep(next[use], back, kept, last);
      }
    }
  }

  // a makes b needless.
  [[nodiscard]] bool beats(const Label& a, const Label& b) const {
    if (a.cost > b.cost || !a.lost.within(b.lost)) return false;
    for (std::size_t k = 0; k < a.used.size(); ++k) {
      if (a.used[k] > b.used[k]) return false;
    }
    for (const Turn& turn : b.able) {
      if (std::find(a.able.begin(), a.able.end(), turn) == a.able.end()) return false;
    }
    if (problem_.returns && charged(a) && !(a.closed == b.closed)) return false;  // bays are shared
    if (!problem_.one_loss) return true;
    if (a.closed.empty() != b.closed.empty()) return false;
    if (!a.closed.empty() && (a.closed.back().use != b.closed.back().use || !a.lost_earlier.within(b.lost_earlier)))
      return false;
    return safer(a.without, b.without);
  }

  [[nodiscard]] static bool charged(const Label& label) {
    return std::any_of(label.closed.begin(), label.closed.end(), [](const Turn& turn) { return turn.use.charged; });
  }

  // Whenever some stand-in saves b, one saves a: each pack of a has one of b's whose every stand-in it matches.
  static bool safer(const Risks& a, const Risks& b) {
    for (const auto& mine : a) {
      const bool matched =
          mine.empty() || std::any_of(b.begin(), b.end(), [&](const auto& theirs) {
            return !theirs.empty() && std::all_of(theirs.begin(), theirs.end(), [&](const auto& their) {
              return !their ||
                     std::any_of(mine.begin(), mine.end(), [&](const auto& my) { return my && my->within(*their); });
            });
          });
      if (!matched) return false;
    }
    return true;
  }

  void keep(std::vector<Label>& labels, const Label& label, std::size_t& kept, bool last) {
    // With stand-ins and packs that come back, what each pack's loss costs later cannot be told from here.
    const bool comparable = !problem_.returns || last || !problem_.one_loss;
    for (const Label& other : labels) {
      if (comparable && beats(other, label)) return;
    }
    if (comparable) kept -= std::erase_if(labels, [&](const Label& other) { return beats(label, other); });
    if (kept >= kMostLabels) {
      out_.complete = false;
      return;
    }
    ++kept;
    labels.push_back(label);
  }

  void note_reach(const Label& label, const Carry& carry) {
    std::vector<double> until;
    for (std::size_t d = 0; d < carry.until_s.size(); ++d) {
      if (!label.lost.has(d)) until.push_back(carry.until_s[d]);
    }
    const int spare = allowed_ - label.lost.count();
    if (spare < 0) return;
    double reach_s = kNever;
    if (at(spare) < until.size()) {
      std::nth_element(until.begin(), until.begin() + spare, until.end());
      reach_s = until[at(spare)];
    }
    out_.reach_s = std::max(out_.reach_s, reach_s);
  }

  void finish(const Label& label, const Carry& carry) {
    Label done = label;
    if (!close(done, carry, moments())) return;
    HolderPlan plan{.turns = std::move(done.closed),
                    .used = std::move(done.used),
                    .cost = done.cost,
                    .lost = std::move(done.lost),
                    .without = std::move(done.without)};
    out_.plans.push_back(std::move(plan));
  }

  // Cheapest first; what another plan beats in everything goes.
  void sort_out() {
    sort_stably(out_.plans, [](const HolderPlan& a, const HolderPlan& b) {
      return a.cost != b.cost ? a.cost < b.cost : a.lost.count() < b.lost.count();
    });
    std::vector<HolderPlan> kept;
    for (HolderPlan& plan : out_.plans) {
      const bool beaten = std::any_of(kept.begin(), kept.end(), [&](const HolderPlan& other) {
        for (std::size_t k = 0; k < plan.used.size(); ++k) {
          if (other.used[k] > plan.used[k]) return false;
        }
        const bool charges =
            std::any_of(other.turns.begin(), other.turns.end(), [](const Turn& turn) { return turn.use.charged; });
        return !charges && other.lost.within(plan.lost) && (!problem_.one_loss || safer(other.without, plan.without));
      });
      if (!beaten) kept.push_back(std::move(plan));
    }
    out_.plans = std::move(kept);
  }

  const Problem& problem_;
  const HolderTask& task_;
  int holder_;
  int most_turns_;
  const std::vector<int>& spares_;
  const std::vector<int>& target_;
  Oracle& oracle_;
  int allowed_;
  std::map<Use, std::vector<DayBits>> lost_by_;
  std::map<std::tuple<Use, int, int, int>, bool> useful_;
  HolderPlans out_;
};

}  // namespace

DayBits lost_before(const Carry& carry, double moment_s) {
  DayBits lost(carry.until_s.size());
  for (std::size_t d = 0; d < carry.until_s.size(); ++d) {
    if (carry.until_s[d] < moment_s) lost.add(d);
  }
  return lost;
}

std::vector<int> targets(const Problem& problem, int holder, Oracle& oracle) {
  const HolderTask& task = problem.holders[at(holder)];
  const int moments = static_cast<int>(task.moments.size());
  std::vector<int> target{moments};
  while (target.back() > 0) {
    const double least_s = target.back() < moments ? task.moments[at(target.back())] : problem.end_s;
    std::vector<Use> uses;
    for (int j = 0; j < target.back(); ++j) {
      for (const int kind : task.kinds) {
        if (problem.kinds[at(kind)].stock > 0) uses.push_back({.holder = holder, .kind = kind, .in = j});
      }
    }
    oracle.prepare(uses, std::vector<double>(uses.size(), least_s));
    int earliest = target.back();
    for (const Use& use : uses) {
      if (!oracle.carry(use, least_s).hopeless) earliest = std::min(earliest, use.in);
    }
    if (earliest == target.back()) break;
    target.push_back(earliest);
  }
  return target;
}

HolderPlans plans_of(const Problem& problem, int holder, int most_turns, const std::vector<int>& spares,
                     const std::vector<int>& target, Oracle& oracle) {
  return Grower(problem, holder, most_turns, spares, target, oracle).grow();
}

}  // namespace tillwrap::choose
