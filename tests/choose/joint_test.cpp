// Holders that share a load: the joint search against brute force over every named pack, order and moment, on drawn
// kits whose law is a few lines (packs in use share the load evenly; one seat may have a load of its own).
#include "choose/joint.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <limits>
#include <map>
#include <random>

namespace tillwrap::choose {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr int kDays = 12;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

class DrawnGroup : public JointOracle {
 public:
  explicit DrawnGroup(unsigned seed) : bounded_(seed % 2 == 0) {
    std::mt19937 rng(seed);
    const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(rng); };
    const auto draw = [&](double low, double high) { return std::uniform_real_distribution<double>(low, high)(rng); };
    problem.days = kDays;
    problem.need = pick(9, 12);
    problem.end_s = 10.0;
    problem.lost = DayBits(kDays);
    problem.returns = pick(0, 2) == 0;
    const int kinds = pick(1, 2);
    int packs = 0;
    for (int k = 0; k < kinds; ++k) {
      const int stock = std::min(pick(1, 3), 4 - packs);
      packs += stock;
      problem.kinds.push_back({.stock = stock, .grams = pick(1, 3) * 100, .cents = pick(0, 2) * 50});
      hours_.push_back(draw(2.0, 8.0));
    }
    JointGroup group{.oracle = this};
    for (int s = 0; s < 2; ++s) {
      HolderTask seat;
      double moment_s = 0.0;
      for (int m = 0; m < pick(2, 3) && moment_s < 9.5; ++m) {
        seat.moments.push_back(moment_s);
        moment_s += draw(1.5, 4.0);
      }
      for (int k = 0; k < kinds; ++k) {
        if (k == s % kinds || pick(0, 3) > 0) seat.kinds.push_back(k);
      }
      group.seats.push_back(seat);
    }
    problem.groups.push_back(group);
    own_load_ = pick(0, 2) == 0 ? draw(0.1, 0.5) : 0.0;
    for (int d = 0; d < kDays; ++d) luck_.push_back(draw(0.7, 1.15));
  }

  Problem problem;

  [[nodiscard]] const std::vector<HolderTask>& seats() const { return problem.groups.front().seats; }
  [[nodiscard]] double moment_s(const Use& use) const { return seats()[at(use.holder)].moments[at(use.in)]; }

  [[nodiscard]] double holds(const Use& use, int day) const {
    std::mt19937 own(static_cast<unsigned>(use.holder * 7919 + use.kind * 104729 + use.in * 1299709 + day * 15485863));
    return hours_[at(use.kind)] * luck_[at(day)] * std::uniform_real_distribution<double>(0.9, 1.1)(own);
  }

  // Marches from change to change and from one flat pack to the next.
  [[nodiscard]] double until_s(const JointPlan& plan, int day) const {
    std::vector<double> left(plan.size(), 0.0);
    std::vector<std::size_t> pack(plan.size());
    for (std::size_t k = 0; k < plan.size(); ++k) {
      pack[k] = k;
      for (std::size_t e = 0; e < k && plan[k].returns(); ++e) {
        if (plan[e].holder == plan[k].holder && plan[e].in == plan[k].before_in && !plan[e].returns()) pack[k] = e;
      }
      left[k] = holds(plan[k], day);
    }
    std::vector<int> in(seats().size(), -1);
    std::size_t next = 0;
    for (double t = 0.0;;) {
      while (next < plan.size() && moment_s(plan[next]) <= t)
        in[at(plan[next].holder)] = static_cast<int>(next), ++next;
      const double until = next < plan.size() ? moment_s(plan[next]) : problem.end_s;
      const auto live = [&](std::size_t s) { return in[s] >= 0 && left[pack[at(in[s])]] > 0.0; };
      int living = 0;
      for (std::size_t s = 0; s < in.size(); ++s) living += live(s) ? 1 : 0;
      if (living == 0 || (own_load_ > 0.0 && !live(0))) return t;
      double step = until - t;
      for (std::size_t s = 0; s < in.size(); ++s) {
        if (live(s)) step = std::min(step, left[pack[at(in[s])]] / (1.0 / living + (s == 0 ? own_load_ : 0.0)));
      }
      for (std::size_t s = 0; s < in.size(); ++s) {
        if (!live(s)) continue;
        double& own = left[pack[at(in[s])]];
        own -= step * (1.0 / living + (s == 0 ? own_load_ : 0.0));
        if (own < 1e-9) own = 0.0;
      }
      t = step < until - t ? t + step : until;
      if (t >= problem.end_s) return kNever;
    }
  }

  void prepare(const std::vector<JointPlan>&, bool) override {}
  double reach_s(const JointPlan& plan) override {
    days_run_ += work;
    std::vector<double> until;
    for (int d = 0; d < kDays; ++d) until.push_back(until_s(plan, d));
    std::sort(until.begin(), until.end());
    return until[at(kDays - problem.need)];
  }
  bool may_last(const JointPlan& plan, int more) override {
    ++asked;
    if (!bounded_) return true;
    int lost = 0;
    for (int d = 0; d < kDays; ++d) {
      double sum = more * 8.0 * luck_[at(d)] * 1.1;
      for (const Use& use : plan) sum += use.returns() ? 0.0 : holds(use, d);
      lost += sum < problem.end_s * (1.0 + own_load_) - 1e-6 ? 1 : 0;
    }
    return lost <= kDays - problem.need;
  }
  DayBits lost(const JointPlan& plan) override {
    days_run_ += work;
    DayBits bits(kDays);
    for (int d = 0; d < kDays; ++d) {
      if (until_s(plan, d) < problem.end_s) bits.add(at(d));
    }
    return bits;
  }
  DayBits lost_without(const JointPlan& plan, std::size_t dead, int spare) override {
    JointPlan other;
    for (std::size_t k = 0; k < plan.size(); ++k) {
      Use use = plan[k];
      const bool its =
          k == dead || (use.returns() && use.holder == plan[dead].holder && use.before_in == plan[dead].in);
      if (its && spare < 0) continue;
      if (its) use.kind = spare;
      other.push_back(use);
    }
    return lost(other);
  }
  [[nodiscard]] std::int64_t days_run() const override { return days_run_; }
  std::int64_t wear(const JointPlan& plan) override {
    double sum = 0.0;
    for (const Use& use : plan) sum += 10.0 * moment_s(use) * (1 + use.kind);
    return static_cast<std::int64_t>(sum);
  }
  std::optional<BayStay> stay(const Use&) override { return std::nullopt; }

  int asked = 0;
  std::int64_t work = 0;  // drawn days each look is said to take

 private:
  std::int64_t days_run_ = 0;
  bool bounded_;
  std::vector<double> hours_, luck_;
  double own_load_ = 0.0;
};

class NoHolders : public Oracle {
 public:
  void prepare(const std::vector<Use>&, const std::vector<double>&) override {}
  const Carry& carry(const Use&, double) override { return carry_; }
  std::optional<BayStay> stay(const Use&) override { return std::nullopt; }
  long version(int) override { return 0; }
  std::int64_t wear(const Use&, int) override { return 0; }

 private:
  Carry carry_;
};

// Every sequence of (named pack, moment) in each seat, judged whole.
class Brute {
 public:
  explicit Brute(DrawnGroup& drawn) : drawn_(drawn) {
    for (int k = 0; k < static_cast<int>(drawn.problem.kinds.size()); ++k) {
      for (int n = 0; n < drawn.problem.kinds[at(k)].stock; ++n) kind_of_.push_back(k);
    }
    taken_.assign(kind_of_.size(), -1);
    rows_.resize(2);
    fill(0);
  }
  std::optional<Cost> best;

 private:
  void fill(int seat) {
    if (seat == 2) {
      judge();
      return;
    }
    fill(seat + 1);  // stays empty
    turn(seat, 0);
  }

  void turn(int seat, int m) {
    const HolderTask& task = drawn_.seats()[at(seat)];
    auto& rows = rows_[at(seat)];
    for (int pack = 0; pack < static_cast<int>(kind_of_.size()); ++pack) {
      const int kind = kind_of_[at(pack)];
      if (std::find(task.kinds.begin(), task.kinds.end(), kind) == task.kinds.end()) continue;
      if (taken_[at(pack)] >= 0 && taken_[at(pack)] != seat) continue;
      Use use{.holder = seat, .kind = kind, .in = m};
      int earlier = 0;
      for (std::size_t r = 0; r < rows.size(); ++r) {
        if (rows[r].first != pack) continue;
        ++earlier;
        use.before_in = rows[r].second.in;
        use.before_out = r + 1 < rows.size() ? rows[r + 1].second.in : m;
      }
      if (earlier > 1 || (earlier == 1 && (!drawn_.problem.returns || rows.back().first == pack))) continue;
      if (earlier == 0) taken_[at(pack)] = seat;
      rows.emplace_back(pack, use);
      fill(seat + 1);
      for (int next = m + 1; next < static_cast<int>(task.moments.size()); ++next) turn(seat, next);
      rows.pop_back();
      if (earlier == 0) taken_[at(pack)] = -1;
    }
  }

  void judge() {
    JointPlan plan;
    Cost cost;
    for (const auto& rows : rows_) {
      for (const auto& [pack, use] : rows) plan.push_back(use);
    }
    if (plan.empty()) return;
    std::stable_sort(plan.begin(), plan.end(), [&](const Use& a, const Use& b) {
      return drawn_.moment_s(a) != drawn_.moment_s(b) ? drawn_.moment_s(a) < drawn_.moment_s(b) : a.holder < b.holder;
    });
    for (const Use& use : plan) {
      const Kind& kind = drawn_.problem.kinds[at(use.kind)];
      cost.part[0] += use.in > 0 ? 1 : 0;
      if (!use.returns()) cost = cost + Cost{{0, 1, kind.grams, kind.cents, 0}};
    }
    cost.part[4] = drawn_.wear(plan);
    const int allowed = kDays - drawn_.problem.need;
    const auto fine = [&](const JointPlan& one) { return drawn_.lost(one).count() <= allowed; };
    if (!fine(plan)) return;
    if (!drawn_.problem.one_loss) {
      if (!best || cost < *best) best = cost;
      return;
    }
    std::vector<int> home;
    for (std::size_t p = 0; p < kind_of_.size(); ++p) {
      if (taken_[p] < 0) home.push_back(kind_of_[p]);
    }
    const bool returns = std::any_of(plan.begin(), plan.end(), [](const Use& use) { return use.returns(); });
    for (unsigned mask = 0; mask < (1U << home.size()); ++mask) {
      Cost with = cost;
      bool all = true;
      std::vector<int> spares;
      for (std::size_t k = 0; k < home.size(); ++k) {
        if ((mask >> k & 1U) == 0) continue;
        spares.push_back(home[k]);
        with = with + Cost{{0, 1, drawn_.problem.kinds[at(home[k])].grams, 0, 0}};
      }
      for (std::size_t dead = 0; dead < plan.size() && all; ++dead) {
        if (plan[dead].returns()) continue;
        const std::vector<int>& fit = drawn_.seats()[at(plan[dead].holder)].kinds;
        bool saved = !returns && drawn_.lost_without(plan, dead, -1).count() <= allowed;
        for (const int spare : spares) {
          if (std::find(fit.begin(), fit.end(), spare) == fit.end()) continue;
          saved = saved || drawn_.lost_without(plan, dead, spare).count() <= allowed;
        }
        all = saved;
      }
      if (all && (!best || with < *best)) best = with;
    }
  }

  DrawnGroup& drawn_;
  std::vector<int> kind_of_, taken_;
  std::vector<std::vector<std::pair<int, Use>>> rows_;
};

void compare(unsigned first, unsigned last, bool one_loss, int least_feasible, int least_changing) {
  int feasible = 0;
  int changing = 0;
  int both = 0;
  int infeasible = 0;
  for (unsigned seed = first; seed < last; ++seed) {
    DrawnGroup drawn(seed);
    drawn.problem.one_loss = one_loss;
    NoHolders none;
    const Answer answer = search(drawn.problem, none);
    const Brute brute(drawn);
    EXPECT_TRUE(answer.complete) << seed;
    ASSERT_EQ(answer.feasible, brute.best.has_value()) << seed;
    if (!answer.feasible) {
      ++infeasible;
      continue;
    }
    EXPECT_EQ(answer.cost.part, brute.best->part) << seed;
    EXPECT_LE(*answer.bound, answer.cost) << seed;
    ++feasible;
    changing += answer.cost.changes() > 0 ? 1 : 0;
    both += !answer.turns[0].empty() && !answer.turns[1].empty() ? 1 : 0;
  }
  EXPECT_GE(feasible, least_feasible);
  EXPECT_GE(changing, least_changing);
  EXPECT_GE(both, least_changing);
  EXPECT_GE(infeasible, 20);
}

// Where every look takes so much work that only a dozen may be taken: what is found is a plan, and it is not said to be
// the best, nor that there is none, unless nothing was left out.
TEST(Joint, CutShortItStillFindsAPlanAndSaysSo) {
  int cut = 0;
  int dearer = 0;
  for (unsigned seed = 0; seed < 500; ++seed) {
    DrawnGroup drawn(seed);
    drawn.work = 30000;
    drawn.problem.one_loss = seed % 2 == 1;
    const Brute all(drawn);
    NoHolders none;
    const Answer answer = search(drawn.problem, none);
    if (!all.best) {
      EXPECT_FALSE(answer.feasible);
      continue;
    }
    cut += answer.complete ? 0 : 1;
    if (!answer.feasible) {
      EXPECT_FALSE(answer.complete) << "seed " << seed;
      continue;
    }
    EXPECT_FALSE(answer.cost < *all.best) << "seed " << seed;
    if (answer.complete) {
      EXPECT_EQ(answer.cost.part, all.best->part) << "seed " << seed;
    }
    dearer += *all.best < answer.cost ? 1 : 0;
  }
  std::printf("[ joint    ] cut short %d, then dearer than the best %d\n", cut, dearer);
  EXPECT_GE(cut, 20);
}

TEST(Joint, AgreesWithBruteForce) { compare(0, 500, false, 100, 40); }
TEST(Joint, AgreesWithBruteForceWhenOnePackMayDie) { compare(800, 1000, true, 25, 5); }

}  // namespace
}  // namespace tillwrap::choose
