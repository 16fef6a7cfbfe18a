#include "odds/replay.hpp"

#include <algorithm>

namespace tillwrap::odds {

namespace {

constexpr double kLongestStep_s = 7200.0;

}  // namespace

Replay::Replay(const day::Scenario& scenario, const ReplayOptions& options,
               const std::function<bool(const forecast::Piece&)>& also)
    : base_(scenario), options_(options), draw_(base_, options.spread, options.seed), pieces_(forecast::split(base_)) {
  for (forecast::Piece& piece : pieces_) {
    if (!piece.must_run && !(also && also(piece))) continue;
    Part part;
    part.piece = &piece;
    part.fresh = piece.day;
    part.model = std::make_unique<forecast::Model>(piece.day);
    part.simulator = std::make_unique<forecast::Simulator>(*part.model);
    part.plan = forecast::plan_changes(*part.model, until_s());
    part.plans_anew = forecast::plans_anew(piece.day);
    part.simulator->run(part.plan, run_options(until_s()), result_);
    part.usual_s = std::min(result_.first_loss.at_s, until_s());
    parts_.push_back(std::move(part));
  }
  // What fails first is computed first; the rest need then not be followed further.
  std::stable_sort(parts_.begin(), parts_.end(), [](const Part& a, const Part& b) { return a.usual_s < b.usual_s; });
}

forecast::RunOptions Replay::run_options(double until_s) const {
  return {
      .search_until_s = until_s, .longest_step_s = kLongestStep_s, .tolerance = options_.tolerance, .loss_only = true};
}

double Replay::first_loss_with_s(Part& part, const Luck& luck, double until_s, const forecast::ChangePlan& plan) {
  apply(part, luck);
  forecast::RunOptions own = run_options(std::max(until_s, base_.off_s));
  own.stop_s = until_s;
  own.stop_at_loss = true;
  part.simulator->run(plan, own, result_);
  return result_.first_loss.device >= 0 ? std::min(until_s, result_.first_loss.at_s) : until_s;
}

double Replay::first_loss_s(Part& part, const Luck& luck, double until_s) {
  const double lost_s = first_loss_with_s(part, luck, until_s, part.plan);
  if (!part.plans_anew || lost_s >= std::min(until_s, base_.off_s + base_.overrun_s) ||
      !forecast::ended_early(part.plan, result_))
    return lost_s;
  const forecast::ChangePlan anew = forecast::plan_changes(*part.model, std::max(until_s, base_.off_s));
  return first_loss_with_s(part, luck, until_s, anew);
}

double Replay::sure_s(Part& part, const forecast::ChangePlan* given) {
  double first_s = forecast::kNever;
  for (const double bag : {-kWorst, kWorst}) {
    const Luck luck{.load = kWorst,
                    .capacity = -kWorst,
                    .resistance = kWorst,
                    .start_charge = kWorst,
                    .air = -kWorst,
                    .bag = bag,
                    .worst = true};
    forecast::ChangePlan plan = given != nullptr ? *given : part.plan;
    if (given == nullptr && part.plans_anew) {
      apply(part, luck);
      plan = forecast::plan_changes(*part.model, until_s());
    }
    first_s = std::min(first_s, first_loss_with_s(part, luck, until_s(), plan));
  }
  return first_s;
}

}  // namespace tillwrap::odds
