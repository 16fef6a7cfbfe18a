// Joint plans of one group of seats on each common day, by simulating exactly that plan.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "choose/joint.hpp"
#include "choose/tables.hpp"

namespace tillwrap::choose {

class JointTables : public JointOracle {
 public:
  // `seats`: of the set-up, those of the group, in order.
  JointTables(const Setup& setup, const Options& options, Tables& tables, std::vector<int> seats, int allowed);

  void prepare(const std::vector<JointPlan>& plans, bool to_grow) override;
  double reach_s(const JointPlan& plan) override;
  bool may_last(const JointPlan& plan, int more) override;
  DayBits lost(const JointPlan& plan) override;
  DayBits lost_without(const JointPlan& plan, std::size_t dead, int spare) override;
  std::int64_t wear(const JointPlan& plan) override;
  [[nodiscard]] std::int64_t days_run() const override { return days_run_; }
  std::optional<BayStay> stay(const Use& use) override;

  // First loss of each day with nothing changed after the plan's last change.
  const std::vector<double>& until_s(const JointPlan& plan);

 private:
  struct Row {
    std::vector<double> until_s;  // days in order of the group, as far as known
    bool inferred = false;        // some are losses of a plan with better packs: not sooner than its own
  };
  // A plan as it is simulated; `spare` in place of the pack of use `dead`, or nothing.
  struct Variant {
    JointPlan plan;
    int dead = -1;
    int spare = -1;
    friend auto operator<=>(const Variant&, const Variant&) = default;
  };
  // A plan that differs from another in some packs, each no worse in any way.
  struct Better {
    const std::vector<double>* until_s;  // of its row
    // By day, the charge those packs hold and those in their place.
    std::vector<std::pair<const std::vector<double>*, const std::vector<double>*>> holds_as;
  };
  struct Job {
    const Variant* variant;
    Row row;
    std::vector<Better> better;
    std::int64_t days_run = 0;
  };
  // So many of the worst days at least, and so many while enough may still last.
  struct Extent {
    std::size_t fewest, most;
  };
  void simulate(const std::vector<Job*>& jobs, Extent extent) const;
  void run(const std::vector<Variant>& variants, Extent extent);
  void run(std::vector<Job>& jobs, Extent extent);
  void run_every_day(const Variant& variant);
  static double lost_with_better(const Job& job, std::size_t k, std::uint32_t day);
  void run_best_first(const std::vector<JointPlan>& plans);
  [[nodiscard]] bool is_better(const JointPlan& plan, const JointPlan& than) const;
  bool energy_may_last(const JointPlan& plan, int more);
  bool each_may_last(const JointPlan& plan, int more);
  [[nodiscard]] std::vector<int> guests(const Variant& variant, std::vector<Guest>& all) const;
  [[nodiscard]] forecast::ChangePlan changes(const Variant& variant, const std::vector<int>& guest_of,
                                             const GroupBench& bench) const;
  [[nodiscard]] const Seat& seat(const Use& use) const { return setup_.seats[static_cast<std::size_t>(seat_of(use))]; }
  [[nodiscard]] int seat_of(const Use& use) const { return seats_[static_cast<std::size_t>(use.holder)]; }
  struct Drawn {  // a pack as it turns out, by day
    std::vector<double> energy_j, capacity_as;
  };
  const Drawn& drawn(const Use& use);
  void reckon_demand();
  [[nodiscard]] DayBits lost_in(const Variant& variant) const;  // of the days run

  const Setup& setup_;
  const Options& options_;
  Tables& tables_;
  std::vector<int> seats_;
  int allowed_;
  Tables company_;                         // each seat with the others of the group endless
  std::vector<std::vector<int>> targets_;  // by seat, see search.hpp
  std::int64_t days_run_ = 0;
  std::map<Variant, Row> rows_;
  std::vector<double> demand_j_;  // by day: no less is drawn from packs; less what is built in holds
  std::vector<double> most_j_;    // by day: what the best pack there is stores
  std::map<Use, Drawn> drawn_;
  std::vector<std::vector<char>> better_kind_;  // [a][b]: a pack of kind a is no worse than one of b in any way
};

}  // namespace tillwrap::choose
