#include "odds/odds.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "odds/overrun.hpp"
#include "odds/replay.hpp"
#include "odds/samples.hpp"
#include "quantity/order.hpp"

namespace tillwrap::odds {

namespace {

constexpr double kBeyondChanges_s = 2.0 * 3600.0;  // past the overrun a pack is not followed
constexpr int kBins = 24;                          // for a driver's share

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

const std::vector<std::string>& driver_names() {
  static const std::vector<std::string> names{"load",         "capacity",        "resistance",
                                              "start charge", "air temperature", "bag warmth"};
  return names;
}

struct Worker::Own {
  Own(const day::Scenario& scenario, const OddsOptions& given)
      : options(given),
        replay(scenario, {.spread = given.spread,
                          .seed = given.seed,
                          .search_beyond_s = given.search_beyond_s,
                          .tolerance = given.tolerance}) {}

  // Once one piece has lost a device the others need only be followed that far.
  void margins(std::uint32_t first, std::vector<DayOutcome>& out) {
    std::vector<Luck> luck;
    for (std::size_t k = 0; k < out.size(); ++k)
      luck.push_back(replay.draw().luck_of(first + static_cast<std::uint32_t>(k)));
    std::vector<double> first_s(out.size(), replay.until_s());
    for (Part& part : replay.parts()) replay.first_losses_s(part, luck, first_s);
    for (std::size_t k = 0; k < out.size(); ++k) out[k].margin_s = first_s[k] - replay.day().off_s;
  }

  OddsOptions options;
  Replay replay;
};

namespace {

// A change that is not made.
struct Stayed {
  forecast::PlannedChange change;
  forecast::Served pack;  // that stays in
  forecast::ChangePlan plan;
  std::vector<double> ended_s;  // of each day
};

std::vector<Stayed> stayed(const Part& part, double from_s, double last_s) {
  std::vector<Stayed> all;
  for (const forecast::PlannedChange& change : part.plan) {
    if (part.piece->day.holders[at(change.holder)].charger_supply >= 0 || change.at_s <= from_s || change.at_s > last_s)
      continue;
    Stayed one{.change = change, .pack = {.holder = change.holder, .pack = -1}};
    for (const forecast::PlannedChange& other : part.plan) {
      if (other.holder == change.holder && other.at_s >= change.at_s) continue;
      if (other.holder == change.holder) {
        one.pack.pack = other.pack;
        one.pack.in_s = std::max(one.pack.in_s, other.at_s);
      }
      one.plan.push_back(other);
    }
    if (one.pack.pack < 0) continue;
    // A pack still at work is not put on charge, and no other holder has it.
    std::erase_if(one.plan, [&](const forecast::PlannedChange& other) {
      return other.pack == one.pack.pack && other.at_s >= change.at_s;
    });
    all.push_back(std::move(one));
  }
  return all;
}

}  // namespace

// The pack stays in past its change: when would it stop serving?
std::vector<ChangeOdds> Worker::changes(double from_s) {
  std::vector<ChangeOdds> all;
  Own& own = *own_;
  const double last_s = own.replay.day().off_s + own.replay.day().overrun_s;
  const double until_s = last_s + kBeyondChanges_s;
  forecast::RunOptions to_end = own.replay.run_options(until_s);
  to_end.stop_s = until_s;
  forecast::DayRun run;
  for (Part& part : own.replay.parts()) {
    std::vector<Stayed> changes = stayed(part, from_s, last_s);
    if (changes.empty()) continue;
    // Runs of one day go on from where they part.
    for (std::uint32_t day = 0; day < own.options.days; ++day) {
      own.replay.apply(part, own.replay.draw().luck_of(day));
      for (Stayed& one : changes) {
        to_end.stop_served = {one.pack};
        part.simulator->run(one.plan, to_end, run, part.marks);
        const forecast::Stint* stint = forecast::stint_of(run, one.pack);
        one.ended_s.push_back(stint == nullptr ? until_s : std::min(until_s, stint->ended_s));
      }
    }
    for (Stayed& one : changes) {
      std::sort(one.ended_s.begin(), one.ended_s.end());
      const auto quantile = [&](double p) {
        return one.ended_s[static_cast<std::size_t>(p * static_cast<double>(one.ended_s.size() - 1))];
      };
      all.push_back({.holder = part.piece->holders[at(one.pack.holder)],
                     .out_pack = part.piece->packs[at(one.pack.pack)],
                     .in_pack = part.piece->packs[at(one.change.pack)],
                     .in_s = one.pack.in_s,
                     .planned_s = one.change.at_s,
                     .safe_s = quantile(0.1),
                     .likely_s = quantile(0.5)});
    }
  }
  sort_stably(all, [](const ChangeOdds& a, const ChangeOdds& b) { return a.planned_s < b.planned_s; });
  return all;
}

Worker::Worker(const day::Scenario& scenario, const OddsOptions& options)
    : own_(std::make_unique<Own>(scenario, options)) {}
Worker::~Worker() = default;
Worker::Worker(Worker&&) noexcept = default;

void Worker::run(std::uint32_t first, std::vector<DayOutcome>& out) { own_->margins(first, out); }

OddsAnswer summary(const day::Scenario& scenario, const OddsOptions& options, const std::vector<DayOutcome>& days) {
  OddsAnswer answer{.days = static_cast<std::uint32_t>(days.size()), .seed = options.seed};
  if (days.empty()) return answer;
  const double n = static_cast<double>(days.size());
  double mean = 0.0;
  for (std::size_t k = 0; k < days.size(); ++k) {
    const double margin_s = days[k].margin_s;
    const double late_s =
        overrun_on(static_cast<std::uint32_t>(k), options.seed, options.spread.overrun, scenario.overrun_s);
    answer.probability += margin_s >= 0.0 ? 1.0 : 0.0;
    answer.probability_with_overrun += margin_s >= late_s ? 1.0 : 0.0;
    answer.probability_with_whole_overrun += margin_s >= scenario.overrun_s ? 1.0 : 0.0;
    mean += margin_s;
  }
  answer.probability /= n;
  answer.probability_with_overrun /= n;
  answer.probability_with_whole_overrun /= n;
  mean /= n;
  double variance = 0.0;
  for (const DayOutcome& day : days) variance += (day.margin_s - mean) * (day.margin_s - mean);
  variance /= n;
  std::vector<double> sorted;
  sorted.reserve(days.size());
  for (const DayOutcome& day : days) sorted.push_back(day.margin_s);
  std::sort(sorted.begin(), sorted.end());
  const auto quantile = [&](double p) {
    const double position = p * (n - 1.0);
    const auto k = static_cast<std::size_t>(position);
    const std::size_t next = std::min(k + 1, sorted.size() - 1);
    return sorted[k] + (position - static_cast<double>(k)) * (sorted[next] - sorted[k]);
  };
  answer.p10_s = quantile(0.1);
  answer.p50_s = quantile(0.5);
  answer.p90_s = quantile(0.9);
  // First-order share of each unknown: the variance of the margin's mean within strata of it, over the whole variance,
  // less what strata of so many days show by chance.
  for (int d = 0; d < kCommonDimensions; ++d) {
    std::vector<double> sum(kBins, 0.0);
    std::vector<double> count(kBins, 0.0);
    for (std::size_t k = 0; k < days.size(); ++k) {
      const double u = scrambled_sobol(static_cast<std::uint32_t>(k), d, options.seed);
      // What only shortens the start charge acts by its size: fold it.
      const double folded = d == kStartCharge ? std::fabs(2.0 * u - 1.0) : u;
      const auto bin = std::min<std::size_t>(kBins - 1, static_cast<std::size_t>(folded * kBins));
      sum[bin] += days[k].margin_s;
      count[bin] += 1.0;
    }
    double between = 0.0;
    for (int b = 0; b < kBins; ++b) {
      if (count[at(b)] > 0.0)
        between += count[at(b)] * (sum[at(b)] / count[at(b)] - mean) * (sum[at(b)] / count[at(b)] - mean);
    }
    between /= n;
    const double by_chance = (kBins - 1) / n * variance;
    answer.drivers.push_back(
        {driver_names()[at(d)], variance > 1e-6 ? std::clamp((between - by_chance) / variance, 0.0, 1.0) : 0.0});
  }
  sort_stably(answer.drivers, [](const Driver& a, const Driver& b) { return a.share > b.share; });
  return answer;
}

std::vector<ChangeOdds> change_odds(const day::Scenario& scenario, const OddsOptions& options, double from_s) {
  return Worker(scenario, options).changes(from_s);
}

OddsAnswer odds(const day::Scenario& scenario, const OddsOptions& options) {
  Worker worker(scenario, options);
  std::vector<DayOutcome> days(options.days);
  worker.run(0, days);
  return summary(scenario, options, days);
}

}  // namespace tillwrap::odds
