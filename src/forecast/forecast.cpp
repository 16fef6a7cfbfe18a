#include "forecast/forecast.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::forecast {

namespace {

constexpr double kOneInTen = 1.2816;  // standard deviations below the mean of a normal spread

struct Variant {
  const char* name;
  const char* shift;
  void (*apply)(day::Scenario&);
};

// One standard deviation of what is never known exactly (from memory; a measured draw or a fit narrows them).
constexpr Variant kVariants[] = {
    {"load", "everything draws 8 % more",
     [](day::Scenario& day) {
       for (day::Device& device : day.devices) device.scale *= 1.08;
     }},
    {"capacity", "every pack holds 4 % less",
     [](day::Scenario& day) {
       for (day::Pack& pack : day.packs) pack.params.cell.capacity_as *= 0.96;
     }},
    {"resistance", "every pack's resistance is 20 % more",
     [](day::Scenario& day) {
       for (day::Pack& pack : day.packs) pack.params.cell = cell::aged(pack.params.cell, {.resistance_factor = 1.2});
     }},
    {"start charge", "every pack starts 2 points less charged",
     [](day::Scenario& day) {
       for (day::Pack& pack : day.packs) pack.start_charge = std::max(0.0, pack.start_charge - 0.02);
     }},
    {"air temperature", "it is 3 °C colder",
     [](day::Scenario& day) {
       for (day::Period& period : day.periods) period.air_k -= 3.0;
     }},
    {"bag warmth", "the bag loses heat 40 % faster",
     [](day::Scenario& day) {
       for (day::Place& place : day.places) place.cooling_w_k *= 1.4;
     }},
};

struct Outcome {
  ChangePlan plan;
  DayRun run;
  double margin_s = 0.0;
};

Outcome outcome(const day::Scenario& scenario, const ForecastOptions& options, bool trace,
                const ChangePlan* given_plan = nullptr) {
  const Model model(scenario);
  Outcome result;
  const double until_s = scenario.off_s + options.search_beyond_s;
  result.plan = given_plan != nullptr ? *given_plan : plan_changes(model, until_s);
  result.run = run_day(model, result.plan,
                       {.search_until_s = until_s,
                        .trace = trace,
                        .longest_step_s = options.longest_step_s,
                        .tolerance = options.tolerance});
  const Loss& loss = result.run.first_loss;
  result.margin_s = (loss.device >= 0 ? loss.at_s : result.run.searched_until_s) - scenario.off_s;
  return result;
}

}  // namespace

Forecast forecast(const day::Scenario& scenario, const ForecastOptions& options) {
  Forecast answer;
  Outcome base = outcome(scenario, options, options.trace);
  answer.plan = std::move(base.plan);
  answer.run = std::move(base.run);
  answer.margin_s = base.margin_s;
  answer.margin_is_least = answer.run.first_loss.device < 0;
  answer.reaches_wrap = answer.margin_is_least || answer.run.first_loss.at_s >= scenario.off_s;
  answer.likely_s = scenario.off_s + answer.margin_s;

  if (options.with_one_loss) {
    // A dead bridge costs a restart between takes, not the day: here changes may interrupt everything.
    day::Scenario forgiving = scenario;
    for (day::Device& device : forgiving.devices) {
      if (device.need == day::Need::unbroken) device.need = day::Need::rolling;
    }
    const Model model(forgiving);
    std::vector<char> seen(scenario.packs.size(), 0);
    for (const Stint& stint : answer.run.stints) {
      const auto p = static_cast<std::size_t>(stint.pack);
      const day::Holder& holder = scenario.holders[static_cast<std::size_t>(stint.holder)];
      if (seen[p] || holder.charger_supply >= 0 || holder.built_in || stint.in_s >= scenario.off_s) continue;
      seen[p] = 1;
      const ChangePlan without = plan_without(model, answer.plan, stint.pack, scenario.off_s + options.search_beyond_s);
      const Outcome lost = outcome(forgiving, options, false, &without);
      OneLossCase one{.pack = stint.pack, .survives = lost.margin_s >= 0.0, .loss = lost.run.first_loss, .margin_s = lost.margin_s};
      answer.one_loss.holds = answer.one_loss.holds && one.survives;
      answer.one_loss.cases.push_back(one);
    }
    std::stable_sort(answer.one_loss.cases.begin(), answer.one_loss.cases.end(),
                     [](const OneLossCase& a, const OneLossCase& b) { return a.margin_s < b.margin_s; });
  }
  answer.safe_s = answer.likely_s;
  if (options.with_doubt) {
    // First order, second moment: independent unknowns, each moved one standard deviation to the bad side.
    double variance = 0.0;
    for (const Variant& variant : kVariants) {
      day::Scenario moved = scenario;
      variant.apply(moved);
      const double loss_s = answer.margin_s - outcome(moved, options, false).margin_s;
      variance += loss_s * loss_s;
      answer.doubts.push_back({.name = variant.name, .shift = variant.shift, .margin_loss_s = loss_s});
    }
    std::stable_sort(answer.doubts.begin(), answer.doubts.end(),
                     [](const Doubt& a, const Doubt& b) { return a.margin_loss_s > b.margin_loss_s; });
    answer.safe_s = answer.likely_s - kOneInTen * std::sqrt(variance);
  }
  return answer;
}

}  // namespace tillwrap::forecast
