// How far each use of a pack carries each holder on each of the common days, by simulating that day from its start with
// an endless pack of the same kind in the holder until the use begins.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "choose/choose.hpp"
#include "choose/joint.hpp"
#include "choose/search.hpp"
#include "choose/setup.hpp"
#include "forecast/model.hpp"
#include "forecast/simulator.hpp"
#include "forecast/split.hpp"
#include "odds/draw.hpp"

namespace tillwrap::choose {

// One holder of a problem.
struct Task {
  int seat = 0;
  friend auto operator<=>(const Task&, const Task&) = default;
};

// A pack that may go into a holder of the group looked at, and into a bay.
struct Guest {
  int holder = 0;
  day::Pack pack;
  int drawn = 0;  // whose luck it has
  int bay = -1;
};

// The piece of the day a group of seats is in: guests for its seats, built-in packs as they are, an endless pack in
// every other holder of the piece. Stays where it was made: the model looks at the piece.
struct GroupBench {
  forecast::Piece piece;
  day::Scenario fresh;
  std::unique_ptr<forecast::Model> model;
  std::unique_ptr<forecast::Simulator> simulator;
  std::vector<int> holder_of;   // in the piece, by holder of the scenario; -1: elsewhere
  std::vector<int> guest;       // in the piece, by guest
  forecast::ChangePlan others;  // what goes into the other holders
};

// The luck of a pack is that of the seat and moment it first goes in at, not of its label: packs of a kind are alike
// until they are drawn, so any plan has the same odds, and tables need no more than one row a kind.
class Tables : public Oracle {
 public:
  Tables(const day::Scenario& scenario, const Setup& setup, const Options& options, int days);
  ~Tables() override;

  // What the problem's holders are, in order, and how many days may be lost.
  void pose(std::vector<Task> tasks, int allowed);

  void prepare(const std::vector<Use>& uses, const std::vector<double>& at_least_s) override;
  const Carry& carry(const Use& use, double at_least_s) override;
  std::optional<BayStay> stay(const Use& use) override;
  long version(int holder) override { return versions_[tasks_[static_cast<std::size_t>(holder)]]; }
  std::int64_t wear(const Use& use, int out) override;

  // Days on which a part of the day that no choice touches loses a must-run device, and the first such moment by day.
  const Carry& untouched();

  // Rows begin as what they cannot fall short of, see `Row`. Simulates these uses on every day; false when all were
  // exact.
  bool refine(const std::vector<Use>& uses, const std::vector<Use>& also_reckoned);

  // ---- for whole days of a plan
  [[nodiscard]] const odds::Draw& draw() const { return draw_; }
  [[nodiscard]] const std::vector<odds::Luck>& luck() const { return luck_; }
  // The pack of the drawing that stands for kind `kind` first put into seat `seat` at its moment `moment`.
  [[nodiscard]] int drawn_pack(int seat, int moment, int kind) const;

  // ---- for seats searched together
  [[nodiscard]] const day::Scenario& scenario() const { return scenario_; }
  // What was simulated for them, by group and days that may be lost.
  std::map<std::pair<int, int>, std::shared_ptr<JointOracle>> joint;
  // `in_company`: seats of the group without a guest hold an endless pack too, else nothing.
  void group_bench(int group, const std::vector<Guest>& guests, bool in_company, GroupBench& made) const;
  const std::vector<std::uint32_t>& worst_days(int seat);  // days of a seat's group, likely shortest first
  [[nodiscard]] std::optional<BayStay> stay_of(int seat, const Use& use) const;

 private:
  struct Bench;
  // Days not simulated (yet) are taken as covered to the end: of a fresh pack those after a long run of days, worst
  // first, that all got as far as enough days can; of a returning one all, up to what charge arithmetic gives it. A
  // plan that is the best by such rows, and whose own rows are exact, is the best.
  struct Row {
    Carry carry;
    double hopeless_s = 0.0;    // what it was too poor for
    std::size_t simulated = 0;  // days, in the order of the task
    bool reckoned = false;
    bool exact = false;
  };
  struct Job;
  using Key = std::pair<Task, Use>;
  [[nodiscard]] Key key_of(const Use& use) const;
  void simulate(const Task& task, const Use& use, double at_least_s, bool every_day, Row& row) const;
  Row reckoned(const Task& task, const Use& use, double at_least_s);
  void run(std::vector<Job>& jobs, bool every_day);
  const std::vector<std::uint32_t>& worst_first(const Task& task);
  [[nodiscard]] std::unique_ptr<Bench> bench(const Task& task, int kind, int bay) const;
  const std::vector<double>& ampere_seconds(const Task& task, int kind);

  const day::Scenario& scenario_;
  const Setup& setup_;
  const Options& options_;
  int days_;
  std::vector<int> seat_offset_;
  odds::Draw draw_;
  std::vector<odds::Luck> luck_;
  std::map<int, std::vector<std::uint32_t>> worst_first_;  // by seat
  std::vector<Task> tasks_;
  int allowed_ = 0;
  std::map<Key, Row> rows_;
  std::map<Task, long> versions_;
  std::map<std::pair<Task, int>, std::vector<double>> drawn_as_;
  std::unique_ptr<Carry> untouched_;
};

day::Pack endless(day::Pack pack);

// Millionths of a pack's life a cycle of this depth costs.
std::int64_t millionths_of_life(double depth);

}  // namespace tillwrap::choose
