#include "forecast/forecast.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/order.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kPlanTolerance = 1.0;  // no finer: moments of changes are whole windows or ends of packs

}  // namespace

WholeDay::WholeDay(const day::Scenario& scenario) : scenario_(scenario), pieces_(split(scenario)) {
  for (const Piece& piece : pieces_) models_.emplace_back(piece.day);
}

std::vector<ChangePlan> WholeDay::plan(double until_s, double tolerance) const {
  std::vector<ChangePlan> plans;
  for (std::size_t p = 0; p < pieces_.size(); ++p) {
    plans.push_back(plan_changes(models_[p], pieces_[p].must_run ? until_s : scenario_.off_s, tolerance));
  }
  return plans;
}

std::vector<DayRun> WholeDay::run(const std::vector<ChangePlan>& plans, const RunOptions& options) const {
  std::vector<DayRun> runs;
  RunOptions own = options;
  for (std::size_t p = 0; p < pieces_.size(); ++p) {
    RunOptions piece_options = own;
    if (!pieces_[p].must_run) piece_options.search_until_s = scenario_.off_s;
    runs.push_back(run_day(models_[p], plans[p], piece_options));
    // Once one piece has lost a device, the others need not be followed further.
    if (runs.back().first_loss.device >= 0) {
      own.search_until_s = std::max(scenario_.off_s, std::min(own.search_until_s, runs.back().first_loss.at_s));
    }
  }
  return runs;
}

ChangePlan WholeDay::whole(const std::vector<ChangePlan>& plans) const {
  ChangePlan all;
  for (std::size_t p = 0; p < pieces_.size(); ++p) {
    for (PlannedChange change : plans[p]) {
      change.holder = pieces_[p].holders[static_cast<std::size_t>(change.holder)];
      change.pack = pieces_[p].packs[static_cast<std::size_t>(change.pack)];
      all.push_back(change);
    }
  }
  sort_stably(all, [](const PlannedChange& a, const PlannedChange& b) { return a.at_s < b.at_s; });
  return all;
}

double margin_s(const DayRun& run, double off_s) {
  return (run.first_loss.device >= 0 ? run.first_loss.at_s : run.searched_until_s) - off_s;
}

namespace {

OneLoss one_loss(const day::Scenario& scenario, const std::vector<ChangePlan>& plans, const std::vector<DayRun>& base,
                 const RunOptions& options, const std::vector<int>& only) {
  // A dead bridge costs a restart between takes, not the day: here changes may interrupt everything.
  day::Scenario forgiving = scenario;
  for (day::Device& device : forgiving.devices) {
    if (device.need == day::Need::unbroken) device.need = day::Need::rolling;
  }
  const WholeDay day(forgiving);
  std::vector<DayRun> runs = day.run(plans, options);
  OneLoss answer;
  std::vector<char> seen(scenario.packs.size(), 0);
  for (std::size_t p = 0; p < day.pieces().size(); ++p) {
    const Piece& piece = day.pieces()[p];
    for (const Stint& stint : base[p].stints) {
      const auto pack = static_cast<std::size_t>(piece.packs[static_cast<std::size_t>(stint.pack)]);
      const day::Holder& holder = piece.day.holders[static_cast<std::size_t>(stint.holder)];
      if (seen[pack] || holder.charger_supply >= 0 || holder.built_in || stint.in_s >= scenario.off_s) continue;
      if (!only.empty() && std::find(only.begin(), only.end(), static_cast<int>(pack)) == only.end()) continue;
      seen[pack] = 1;
      // Only the piece that lost the pack goes differently.
      std::vector<DayRun> changed = runs;
      const double until_s = piece.must_run ? options.search_until_s : scenario.off_s;
      RunOptions own = options;
      own.search_until_s = until_s;
      changed[p] = run_day(day.model(p), plan_without(day.model(p), plans[p], stint.pack, until_s), own);
      const DayRun whole = merged(forgiving, day.pieces(), changed);
      OneLossCase one{.pack = static_cast<int>(pack),
                      .survives = true,
                      .loss = whole.first_loss,
                      .margin_s = margin_s(whole, scenario.off_s)};
      one.survives = one.margin_s >= 0.0;
      answer.holds = answer.holds && one.survives;
      answer.cases.push_back(one);
    }
  }
  sort_stably(answer.cases, [](const OneLossCase& a, const OneLossCase& b) { return a.margin_s < b.margin_s; });
  return answer;
}

}  // namespace

Forecast forecast(const day::Scenario& scenario, const ForecastOptions& options) {
  Forecast answer;
  const WholeDay day(scenario);
  RunOptions run_options{.search_until_s = scenario.off_s + options.search_beyond_s,
                         .longest_step_s = options.longest_step_s,
                         .tolerance = options.tolerance};
  const std::vector<ChangePlan> plans =
      day.plan(run_options.search_until_s, std::max(kPlanTolerance, options.tolerance));
  RunOptions traced = run_options;
  traced.trace = options.trace;
  traced.loss_only = options.loss_only;
  const std::vector<DayRun> runs = day.run(plans, traced);
  answer.plan = day.whole(plans);
  answer.run = merged(scenario, day.pieces(), runs);
  answer.margin_s = margin_s(answer.run, scenario.off_s);
  answer.margin_is_least = answer.run.first_loss.device < 0;
  answer.reaches_wrap = answer.margin_is_least || answer.run.first_loss.at_s >= scenario.off_s;
  answer.stated_s = scenario.off_s + answer.margin_s;
  if (options.with_one_loss) answer.one_loss = one_loss(scenario, plans, runs, run_options, options.one_loss_packs);
  answer.safe_s = answer.likely_s = answer.stated_s;
  return answer;
}

}  // namespace tillwrap::forecast
