// Holders that feed a thing together: how long one pack lasts depends on what stands beside it, so their plans are
// searched as one, event by event in order of time, and each is judged by the day as it would be with exactly that
// plan.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <tuple>
#include <vector>

#include "choose/search.hpp"

namespace tillwrap::choose {

// First what each seat begins with (a seat may stay empty all day), then the changes in order of time. `holder` of a
// use is the seat's number in the group.
using JointPlan = std::vector<Use>;

class JointOracle {
 public:
  virtual ~JointOracle() = default;
  // Says whose reach will be asked for, so that it may be computed together; `to_grow`: where it ends decides which
  // changes may follow.
  virtual void prepare(const std::vector<JointPlan>& plans, bool to_grow) = 0;
  // With nothing changed after the plan's last change: the moment before which a loss comes on more days than may be
  // lost; kNever when there is none. Never earlier than the truth.
  virtual double reach_s(const JointPlan& plan) = 0;
  // False only when no plan that begins so and makes up to `more` further changes covers enough days.
  virtual bool may_last(const JointPlan& plan, int more) = 0;
  // Days lost, all of them looked at.
  virtual DayBits lost(const JointPlan& plan) = 0;
  // The same with the pack first put in by use `dead` never there: its turns go to a spare of this kind, or (-1) to
  // nothing, so that what was in the seat stays in. Where more days are lost than may be, as many of them as show it.
  virtual DayBits lost_without(const JointPlan& plan, std::size_t dead, int spare) = 0;
  virtual std::int64_t wear(const JointPlan& plan) = 0;
  // Drawn days run so far, whatever they were run for: the measure of work.
  [[nodiscard]] virtual std::int64_t days_run() const = 0;
  virtual std::optional<BayStay> stay(const Use& use) = 0;
};

// The group's plans, cheapest first, found as they are asked for. None that an earlier one matches in packs and days.
class JointPlans {
 public:
  struct Frame {
    int days = 0;
    int allowed = 0;  // days that may be lost
    double end_s = 0.0;
    std::vector<Kind> kinds;
    DayBits lost;  // whatever is chosen
    bool one_loss = false;
    bool returns = false;
  };
  JointPlans(std::vector<HolderTask> seats, Frame frame, JointOracle& oracle);

  // The k-th plan with at most that many changes that, with `beside`, costs less than `below`; nothing when there are
  // no more, or when finding the next would take more work than a better plan is worth.
  const HolderPlan* get(std::size_t k, int most_changes, const Cost& beside, const std::optional<Cost>& below);
  // With any one of its packs dead, one of the spares or nothing in its place keeps enough days.
  bool saved(const HolderPlan& plan, const std::vector<int>& spares, const DayBits& others, int allowed);

  [[nodiscard]] bool complete() const { return complete_; }
  // Whether one of these plans is part of an answer: a better one is then searched for less long than any at all.
  void found(bool one) { found_ = one; }
  [[nodiscard]] bool found() const { return found_; }
  double reach_s();  // the farthest anything got
  [[nodiscard]] int most_changes() const { return most_changes_; }
  [[nodiscard]] std::size_t seats() const { return seats_.size(); }

 private:
  struct Candidate {
    JointPlan plan;
    Cost cost;
  };
  [[nodiscard]] double moment_s(const Use& use) const;
  [[nodiscard]] std::vector<int> used_by(const JointPlan& plan) const;
  [[nodiscard]] Cost cost_of(const JointPlan& plan) const;
  [[nodiscard]] std::vector<JointPlan> starts() const;
  // What may follow a plan, as far as that can be said without simulating it.
  struct Growth {
    std::vector<std::pair<double, JointPlan>> next;  // by the moment of the change
    double left_out_from_s = 0.0;                    // first change after which it would take more of them
  };
  Growth grow(const JointPlan& plan, int more);
  void enumerate(int changes);
  double look_at(const JointPlan& plan);
  std::vector<JointPlan> thinned(std::vector<JointPlan> plans);
  void look_closer();
  void admit(const Candidate& candidate);
  bool give_up();
  template <typename Takes, typename Lost>
  bool any_may_die(const JointPlan& plan, const DayBits& anyway, int allowed, Takes takes, Lost lost) const;
  bool may_be_saved(const JointPlan& plan);
  const DayBits& lost_without(std::size_t number, std::size_t dead, int spare);
  [[nodiscard]] std::vector<std::vector<Turn>> turns_of(const JointPlan& plan) const;

  std::vector<HolderTask> seats_;
  Frame frame_;
  JointOracle& oracle_;
  int most_changes_ = 0;
  int next_changes_ = 0;
  std::vector<Candidate> waiting_;  // of the changes last enumerated, cheapest first, wear not known
  std::deque<Candidate> ready_;     // may last
  std::size_t next_waiting_ = 0;
  std::deque<HolderPlan> plans_;
  std::deque<JointPlan> events_;                                               // of each plan
  std::map<std::tuple<std::size_t, std::size_t, int>, DayBits> lost_without_;  // by plan, dead use, spare
  bool complete_ = true;
  bool found_ = false;
  bool left_out_ = false;  // a beginning that needs more changes than were looked at
  // Beginnings that nothing may follow: not simulated until it is asked how far they get.
  std::vector<std::pair<JointPlan, double>> unseen_;
  double reach_s_ = 0.0;
  std::int64_t days_run_before_ = 0;
};

}  // namespace tillwrap::choose
