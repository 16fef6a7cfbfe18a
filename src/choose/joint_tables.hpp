// Joint plans of one group of seats on each common day, by simulating exactly that plan.
#pragma once

#include <map>
#include <memory>
#include <optional>
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
  std::optional<BayStay> stay(const Use& use) override;

  // First loss of each day with nothing changed after the plan's last change.
  const std::vector<double>& until_s(const JointPlan& plan);

 private:
  struct Row {
    std::vector<double> until_s;  // days in order of the group, as far as simulated
  };
  // A plan as it is simulated; `spare` in place of the pack of use `dead`, or nothing.
  struct Variant {
    JointPlan plan;
    int dead = -1;
    int spare = -1;
    friend auto operator<=>(const Variant&, const Variant&) = default;
  };
  struct Job {
    const Variant* variant;
    Row row;
  };
  void simulate(const std::vector<Job*>& jobs, std::size_t fewest) const;
  void run(const std::vector<Variant>& variants, std::size_t fewest);
  bool energy_may_last(const JointPlan& plan, int more);
  bool each_may_last(const JointPlan& plan, int more);
  [[nodiscard]] std::vector<int> guests(const Variant& variant, std::vector<Guest>& all) const;
  [[nodiscard]] forecast::ChangePlan changes(const Variant& variant, const std::vector<int>& guest_of,
                                             const GroupBench& bench) const;
  [[nodiscard]] const Seat& seat(const Use& use) const { return setup_.seats[static_cast<std::size_t>(seat_of(use))]; }
  [[nodiscard]] int seat_of(const Use& use) const { return seats_[static_cast<std::size_t>(use.holder)]; }
  const std::vector<double>& stored_j(const Use& use);
  void reckon_demand();
  [[nodiscard]] DayBits lost_in(const Variant& variant);

  const Setup& setup_;
  const Options& options_;
  Tables& tables_;
  std::vector<int> seats_;
  int allowed_;
  Tables company_;                         // each seat with the others of the group endless
  std::vector<std::vector<int>> targets_;  // by seat, see search.hpp
  std::map<Variant, Row> rows_;
  std::vector<double> demand_j_;                 // by day: no less is drawn from packs; less what is built in holds
  std::vector<double> most_j_;                   // by day: what the best pack there is stores
  std::map<Use, std::vector<double>> stored_j_;  // by day
};

}  // namespace tillwrap::choose
