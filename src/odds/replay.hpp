// The pieces of a day, each ready to be run again and again as drawn days turn out: what the odds and the tracking step
// through.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <vector>

#include "forecast/changes.hpp"
#include "forecast/simulator.hpp"
#include "odds/cohort.hpp"
#include "odds/draw.hpp"

namespace tillwrap::odds {

struct ReplayOptions {
  Spread spread;
  std::uint64_t seed = 1;
  double search_beyond_s = 24.0 * 3600.0;  // past off
  double tolerance = 8.0;                  // of the stepping, see forecast::RunOptions
  bool several_runs = false;               // of each drawn day: the later ones go on from where they part
};

// One piece; its scenario's numbers change from day to day.
struct Part {
  forecast::Piece* piece = nullptr;
  day::Scenario fresh;  // as given
  std::unique_ptr<forecast::Model> model;
  std::unique_ptr<forecast::Simulator> simulator;
  std::optional<Luck> luck;  // the day its scenario stands at, where that is a drawn one
  forecast::Marks marks;     // of it
  forecast::ChangePlan plan;
  bool plans_anew = false;  // has slots whose moment the day decides
  double usual_s = 0.0;     // its first loss as given, at most the end of the search; the order parts stand in
  Lasted lasted;            // as planned
  int bag_sides = 1;        // two where a bag is in it
};

class Replay {
 public:
  // Pieces that decide the day, and those `also` asks for.
  Replay(const day::Scenario& scenario, const ReplayOptions& options,
         const std::function<bool(const forecast::Piece&)>& also = {});
  Replay(const Replay&) = delete;  // its models refer to its pieces
  Replay& operator=(const Replay&) = delete;

  [[nodiscard]] const day::Scenario& day() const { return base_; }
  [[nodiscard]] const Draw& draw() const { return draw_; }
  [[nodiscard]] double until_s() const { return base_.off_s + options_.search_beyond_s; }
  std::vector<Part>& parts() { return parts_; }

  void apply(Part& part, const Luck& luck);
  // Only losses, the ends of stints and the packs' charge are wanted.
  [[nodiscard]] forecast::RunOptions run_options(double until_s) const;

  // First must-run loss, or `until_s`, of a part on the day that was put on it, with the changes given and no others.
  double run_to_loss_s(Part& part, double until_s, const forecast::ChangePlan& plan);
  // The same, on from the part's marks.
  double run_on_to_loss_s(Part& part, double until_s, const forecast::ChangePlan& plan);
  // The changes that day asks for up to `until_s`, stepped as its runs are.
  [[nodiscard]] forecast::ChangePlan plan_of_the_day(Part& part, double until_s) const;

  // First must-run loss of a part on the day that was put on it as planned, or `until_s`. Where the plan was made for a
  // usual day and a pack ends before its change is due, hands watching the meter change it sooner.
  double planned_loss_s(Part& part, double until_s);
  // The device of the whole day that the loss just told is of; only where one was.
  [[nodiscard]] int lost_device(const Part& part) const;
  // Of many days the ones that may lose something before their `until_s` as planned: those that no worse day settles
  // (cohort.hpp).
  std::vector<std::size_t> may_lose(Part& part, const std::vector<Luck>& luck, const std::vector<double>& until_s);
  // The same with the changes given and no others; `lasted` is kept beside that plan.
  std::vector<std::size_t> may_lose(Part& part, const std::vector<Luck>& luck, const std::vector<double>& until_s,
                                    const forecast::ChangePlan& plan, Lasted& lasted);
  // Until when each of those days is asked about becomes its first loss as planned, where that is sooner.
  void first_losses_s(Part& part, const std::vector<Luck>& luck, std::vector<double>& first_s);

 private:
  day::Scenario base_;
  ReplayOptions options_;
  Draw draw_;
  std::vector<forecast::Piece> pieces_;
  std::vector<Part> parts_;
  [[nodiscard]] forecast::RunOptions to_loss(double until_s) const;
  double lost_by_s(double until_s);  // of the result
  void put(Part& part, const Turn& turn, const std::optional<Luck>& luck);
  // Those of `days` that no worse day settles; `run(to_s)` is the first loss of the day that was put on the part.
  template <typename Run>
  std::vector<std::size_t> unsettled_days(Part& part, const std::vector<Luck>& luck, const std::vector<double>& until_s,
                                          const std::vector<std::size_t>& days, Lasted& lasted, Run&& run);

  forecast::DayRun result_;
  int lost_device_ = -1;  // of the part
  Turn turn_;
  Turn corner_;
};

}  // namespace tillwrap::odds
