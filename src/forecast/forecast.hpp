// The whole answer for one day: does it reach wrap, by how much, what fails first, what if one pack is dead, and how
// far the answer can be trusted.
#pragma once

#include <deque>
#include <string>
#include <vector>

#include "day/scenario.hpp"
#include "forecast/changes.hpp"
#include "forecast/model.hpp"
#include "forecast/result.hpp"
#include "forecast/split.hpp"

namespace tillwrap::forecast {

// A scenario in its independent pieces, each compiled once. The scenario must outlive it.
class WholeDay {
 public:
  explicit WholeDay(const day::Scenario& scenario);

  [[nodiscard]] const std::vector<Piece>& pieces() const { return pieces_; }
  [[nodiscard]] const Model& model(std::size_t piece) const { return models_[piece]; }

  // One plan and one run a piece. A piece without must-run devices is followed to off only.
  [[nodiscard]] std::vector<ChangePlan> plan(double until_s, double tolerance = 1.0) const;
  [[nodiscard]] std::vector<DayRun> run(const std::vector<ChangePlan>& plans, const RunOptions& options) const;
  // The plans in the whole day's numbers, by time.
  [[nodiscard]] ChangePlan whole(const std::vector<ChangePlan>& plans) const;

 private:
  const day::Scenario& scenario_;
  std::vector<Piece> pieces_;
  std::deque<Model> models_;  // refer to their pieces
};

// First must-run loss after `off_s`, or how far was looked when there is none; negative: before.
double margin_s(const DayRun& run, double off_s);

struct OneLossCase {
  int pack = 0;
  bool survives = true;
  Loss loss;  // when it does not
  double margin_s = 0.0;
};

struct OneLoss {
  bool holds = true;
  std::vector<OneLossCase> cases;  // one a pack in use, worst first
};

struct Forecast {
  ChangePlan plan;
  DayRun run;
  bool reaches_wrap = false;     // every must-run device runs until the kit may go off
  double margin_s = 0.0;         // first must-run loss after off; negative: before
  bool margin_is_least = false;  // no loss found as far as was looked
  OneLoss one_loss;
  double stated_s = 0.0;  // moment of the first loss in this run: everything exactly as stated
  double safe_s = 0.0;    // one day in ten ends earlier; as stated_s until odds are known
  double likely_s = 0.0;  // every other day ends earlier; as stated_s until odds are known
};

struct ForecastOptions {
  bool trace = false;
  bool loss_only = false;  // of the run, see RunOptions: no account, events, volts or draws of devices
  double longest_step_s = 900.0;
  double tolerance = 0.1;
  bool with_one_loss = true;
  std::vector<int> one_loss_packs;         // only these packs' loss; empty: every pack in use
  double search_beyond_s = 24.0 * 3600.0;  // past off
};

// The scenario must have passed day::validate. Pure: same scenario, same bytes.
Forecast forecast(const day::Scenario& scenario, const ForecastOptions& options = {});

}  // namespace tillwrap::forecast
