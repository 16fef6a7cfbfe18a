// Tracking against what it must equal: an exact posterior on a grid, truth drawn by hand, the odds where nothing is
// read.
#include "track/track.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <random>

#include "forecast/kit.hpp"
#include "meters/scale.hpp"
#include "odds/samples.hpp"

namespace tillwrap::test {
namespace {

using track::Answer;
using track::Options;
using track::Reading;
using track::Where;

constexpr double kOff_s = 10.0 * kHour_s;

// One smart pack, one recorder of `watts`.
Kit one_pack(double watts) {
  Kit kit(10.0);
  const int bus = kit.port("bus");
  kit.holder("cup", bus, kit.pack(catalogue_pack("smart-pack-14v4-98wh")));
  kit.device("recorder", bus, watts, 10.0, 11.0);
  return kit;
}

Options sparing() {
  Options options;
  options.spread = {.load = 0.08,
                    .load_each = 0.0,
                    .capacity = 0.03,
                    .capacity_each = 0.0,
                    .resistance = 0.0,
                    .start_charge = 0.0,
                    .air_k = 0.0,
                    .bag = 0.0};
  options.at_s = 2.0 * kHour_s;
  return options;
}

forecast::DayRun replay(const day::Scenario& day, const std::vector<double>& probe_s) {
  const forecast::Model model(day);
  const double until_s = day.off_s + 24.0 * kHour_s;
  forecast::RunOptions options{.search_until_s = until_s, .tolerance = 1.0};
  options.probe_s = probe_s;
  return forecast::run_day(model, forecast::plan_changes(model, until_s), options);
}

double end_of(const forecast::DayRun& run) { return run.first_loss.at_s; }

double normal_density(double off, double variance) {
  return std::exp(-0.5 * off * off / variance) / std::sqrt(2.0 * M_PI * variance);
}

TEST(Probes, TellWhatTheRunIsAtThatMoment) {
  // Probes of the coarse path against a finely stepped run with its trace.
  const Kit kit = one_pack(20.0);
  const forecast::DayRun fine = kit.run(0.0, 0.03, true);
  const forecast::Model model(kit.day);
  forecast::RunOptions coarse{.search_until_s = kOff_s, .tolerance = 8.0, .loss_only = true};
  coarse.probe_s = {0.5 * kHour_s, 2.0 * kHour_s, 3.7 * kHour_s};
  const forecast::DayRun run = forecast::run_day(model, forecast::plan_changes(model, kOff_s), coarse);
  ASSERT_EQ(run.probes.size(), 3U);
  for (std::size_t k = 0; k < run.probes.size(); ++k) {
    std::size_t row = 0;
    while (fine.trace.at_s[row + 1] < coarse.probe_s[k]) ++row;
    const double share = (coarse.probe_s[k] - fine.trace.at_s[row]) / (fine.trace.at_s[row + 1] - fine.trace.at_s[row]);
    const auto between = [&](const std::vector<double>& of) { return of[row] + share * (of[row + 1] - of[row]); };
    EXPECT_NEAR(run.probes[k].device_v[0], between(fine.trace.device_v[0]), 5e-3);
    EXPECT_NEAR(run.probes[k].charge[0], between(fine.trace.holder_charge[0]), 1e-3);
    EXPECT_NEAR(run.probes[k].holder_out_a[0] * run.probes[k].device_v[0], 20.0, 0.1);
  }
}

// The day at each point of a grid over load and the first pack's capacity, with what is believed of it before.
template <typename Visit>
void over_a_grid(const day::Scenario& as_given, const Options& options, Visit visit) {
  const int n = 41;
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      const double load = -4.0 + 8.0 * i / (n - 1.0);
      const double capacity = -4.0 + 8.0 * j / (n - 1.0);
      day::Scenario day = as_given;
      day.devices[0].scale *= std::exp(options.spread.load * load);
      day.packs[0].params.cell.capacity_as *= std::exp(options.spread.capacity * capacity);
      visit(day, std::exp(-0.5 * (load * load + capacity * capacity)));
    }
  }
}

TEST(Track, AgreesWithAnExactPosteriorOnAGrid) {
  // Two unknowns, load and capacity, both log-normal; two readings. Every grid point is a whole day of its own,
  // weighted by prior and likelihood (Bayes' rule).
  const Kit kit = one_pack(20.0);
  const Options options = sparing();
  std::vector<Reading> readings;
  for (const double hour : {1.0, 2.0})
    readings.push_back({.where = Where::holder_a,
                        .index = 0,
                        .at_s = hour * kHour_s,
                        .value = hour < 1.5 ? 1.44 : 1.49,
                        .noise = 0.03,
                        .model = 0.02,
                        .width = 20.0});
  readings.push_back({.where = Where::gauge,
                      .index = 0,
                      .at_s = 2.0 * kHour_s,
                      .value = 0.50,
                      .noise = 0.01,
                      .model = 0.04,
                      .width = 1.0});
  std::vector<double> ends;
  std::vector<double> weights;
  over_a_grid(kit.day, options, [&](const day::Scenario& day, double prior) {
    const forecast::DayRun run = replay(day, {1.0 * kHour_s, 2.0 * kHour_s});
    double likely = prior;
    for (std::size_t r = 0; r < readings.size(); ++r) {
      const forecast::Probe& probe = run.probes[readings[r].at_s < 1.5 * kHour_s ? 0 : 1];
      cell::PackState state{};
      state.cell.charge = probe.charge[0];
      const double value = r == 2 ? cell::gauge_fraction(day.packs[0].params, state) : probe.holder_out_a[0];
      const double variance =
          readings[r].noise * readings[r].noise + (r == 2 ? 1.0 : 2.0) * readings[r].model * readings[r].model;
      likely *= 0.98 * normal_density(readings[r].value - value, variance) + 0.02 / readings[r].width;
    }
    ends.push_back(end_of(run));
    weights.push_back(likely);
  });
  const Answer answer = track::track(kit.day, readings, options);
  EXPECT_TRUE(answer.settled) << answer.effective;
  EXPECT_GE(answer.effective, 400.0);
  const double exact10 = track::weighted_quantile(ends, weights, 0.1);
  const double exact50 = track::weighted_quantile(ends, weights, 0.5);
  const double exact90 = track::weighted_quantile(ends, weights, 0.9);
  const double width_s = answer.long_s - answer.safe_s;
  std::printf("[ track    ] exact %.0f %.0f %.0f s, track %.0f %.0f %.0f s, effective %.0f of %zu, %d rounds\n",
              exact10, exact50, exact90, answer.safe_s, answer.likely_s, answer.long_s, answer.effective,
              answer.weights.size(), answer.rounds);
  EXPECT_LE(width_s, 1.1 * (exact90 - exact10));
  EXPECT_GE(width_s, (exact90 - exact10) / 1.1);
  EXPECT_NEAR(answer.likely_s, exact50, 0.1 * (exact90 - exact10));
  // The readings say something: the band is narrower than without them.
  const Answer before = track::track(kit.day, {}, options);
  EXPECT_LT(width_s, 0.6 * (before.long_s - before.safe_s));
}

TEST(Track, ThePackInUseServesAsLongAsAGridOfDaysSays) {
  // Prior of load and capacity on a grid, each point a whole day of its own on the first pack alone.
  Kit kit = one_pack(20.0);
  const Options options = sparing();
  std::vector<double> ends;
  std::vector<double> weights;
  over_a_grid(kit.day, options, [&](const day::Scenario& day, double prior) {
    ends.push_back(end_of(replay(day, {})));
    weights.push_back(prior);
  });
  const double exact10 = track::weighted_quantile(ends, weights, 0.1);
  const double exact50 = track::weighted_quantile(ends, weights, 0.5);
  kit.day.holders[0].slots.push_back({.pack = kit.pack(catalogue_pack("smart-pack-14v4-98wh")), .at_s = exact50});
  const Answer answer = track::track(kit.day, {}, options);
  ASSERT_EQ(answer.changes.size(), 1U);
  EXPECT_NEAR(answer.changes[0].safe_s, exact10, 0.05 * (exact50 - exact10));
  EXPECT_NEAR(answer.changes[0].likely_s, exact50, 0.05 * (exact50 - exact10));
  // Nothing else ends, so that is how long it runs with nobody's hands on it.
  EXPECT_NEAR(answer.hands_safe_s, answer.changes[0].safe_s, kMinute_s);
}

TEST(Track, APackServesOnPastOffThoughTheKitStoodDarkBefore) {
  // The second pack alone from the moment it goes in, on each point of the grid.
  const double in_s = 6.0 * kHour_s;
  Kit second = one_pack(20.0);
  const Options options = sparing();
  std::vector<double> ends;
  std::vector<double> weights;
  over_a_grid(second.day, options, [&](const day::Scenario& day, double prior) {
    ends.push_back(in_s + end_of(replay(day, {})));
    weights.push_back(prior);
  });
  const double exact10 = track::weighted_quantile(ends, weights, 0.1);
  const double exact50 = track::weighted_quantile(ends, weights, 0.5);
  Kit kit = one_pack(20.0);
  kit.day.overrun_s = 2.0 * kHour_s;
  for (const double at_s : {in_s, kOff_s + kHour_s})
    kit.day.holders[0].slots.push_back({.pack = kit.pack(catalogue_pack("smart-pack-14v4-98wh")), .at_s = at_s});
  ASSERT_LT(end_of(replay(kit.day, {})), in_s);
  ASSERT_GT(exact10, kOff_s);
  Options now = options;
  now.at_s = 7.0 * kHour_s;
  const Answer answer = track::track(kit.day, {}, now);
  ASSERT_EQ(answer.changes.size(), 1U);
  EXPECT_NEAR(answer.changes[0].safe_s, exact10, 0.05 * (exact50 - exact10));
  EXPECT_NEAR(answer.changes[0].likely_s, exact50, 0.05 * (exact50 - exact10));
}

TEST(Track, WithoutReadingsItIsTheOdds) {
  const Kit kit = one_pack(11.0);
  Options options;
  options.points = 4096;
  const Answer answer = track::track(kit.day, {}, options);
  odds::OddsOptions same;
  same.days = 4096;
  same.seed = 7;
  const odds::OddsAnswer odds = odds::odds(kit.day, same);
  EXPECT_NEAR(answer.probability, odds.probability, 0.02);
  EXPECT_NEAR(answer.likely_s - kOff_s, odds.p50_s, 120.0);
  EXPECT_NEAR(answer.safe_s - kOff_s, odds.p10_s, 240.0);
  EXPECT_NEAR(answer.effective, 4096.0, 1.0);
}

// Of two devices on packs of their own the first to go is the one whose day is the shorter: each followed alone by the
// odds, on the same drawn days.
TEST(Track, SaysWhatGoesFirst) {
  Kit kit = one_pack(14.0);
  const int door = kit.port("door");
  kit.holder("pouch", door, kit.pack(catalogue_pack("smart-pack-14v4-98wh")));
  kit.device("transmitter", door, 14.7, 10.0, 11.0);
  Options options;
  options.points = 4096;
  const Answer answer = track::track(kit.day, {}, options);
  ASSERT_EQ(answer.first_to_go.size(), 2U);
  EXPECT_EQ(answer.first_to_go[0].device, 1);
  EXPECT_NEAR(answer.first_to_go[0].share + answer.first_to_go[1].share, 1.0, 1e-9);
  std::vector<std::vector<odds::DayOutcome>> alone;
  for (std::size_t d = 0; d < 2; ++d) {
    day::Scenario day = kit.day;
    day.devices[1 - d].need = day::Need::optional;
    alone.emplace_back(4096);
    odds::Worker(day, {.days = 4096, .seed = 7}).run(0, alone.back());
  }
  double first = 0.0;
  for (std::size_t k = 0; k < 4096; ++k) first += alone[1][k].margin_s < alone[0][k].margin_s ? 1.0 / 4096.0 : 0.0;
  EXPECT_GT(first, 0.55);
  EXPECT_LT(first, 0.95);
  // Four standard deviations of the difference of two such shares, drawn apart.
  EXPECT_NEAR(answer.first_to_go[0].share, first, 4.0 * std::sqrt(2.0 * first * (1.0 - first) / 4096.0));
}

TEST(Track, ASlippedDecimalPointIsNoticedAndNotSwallowed) {
  const Kit kit = one_pack(20.0);
  Options options;
  options.at_s = 2.0 * kHour_s;
  const forecast::DayRun truth = replay(kit.day, {1.0 * kHour_s, 2.0 * kHour_s});
  const double right_v = truth.probes[0].device_v[0];
  // As 1.45 typed for 14.5: the point one place off.
  const double slipped_v = std::round(10.0 * truth.probes[1].device_v[0]) / 100.0;
  const auto volts = [&](double hour, double value) {
    return Reading{.where = Where::device_v,
                   .index = 0,
                   .at_s = hour * kHour_s,
                   .value = value,
                   .noise = 0.05,
                   .model = 0.1,
                   .width = 20.0};
  };
  const Answer good = track::track(kit.day, {volts(1.0, right_v)}, options);
  const Answer both = track::track(kit.day, {volts(1.0, right_v), volts(2.0, slipped_v)}, options);
  EXPECT_LT(both.readings[0].doubt, 0.1);
  EXPECT_GT(both.readings[1].doubt, 0.95);
  EXPECT_NEAR(both.readings[1].slipped, 10.0 * slipped_v, 1e-9);
  EXPECT_NEAR(both.likely_s, good.likely_s, 0.1 * (good.long_s - good.safe_s));
  EXPECT_NEAR(both.safe_s, good.safe_s, 0.15 * (good.long_s - good.safe_s));
}

TEST(Track, TheGaugeOfTheWrongPackIsNoticed) {
  // C1 has run for three hours, C2 waits full: "98 %" was read off C2.
  Kit kit = one_pack(20.0);
  kit.pack(catalogue_pack("smart-pack-14v4-98wh"));
  kit.day.packs[1].params.label = "C2";
  kit.day.holders[0].slots.push_back({.pack = 1, .at_s = 4.0 * kHour_s});
  Options options;
  options.at_s = 3.0 * kHour_s;
  const std::vector<Reading> readings = {{.where = Where::gauge,
                                          .index = 0,
                                          .at_s = 3.0 * kHour_s,
                                          .value = 0.98,
                                          .noise = 0.01,
                                          .model = 0.04,
                                          .width = 1.0}};
  const Answer answer = track::track(kit.day, readings, options);
  ASSERT_EQ(answer.readings.size(), 1U);
  EXPECT_GT(answer.readings[0].doubt, 0.5);
  EXPECT_EQ(answer.readings[0].other, 1);
  // Not off a pack that has no gauge.
  kit.day.packs[1].params.gauge.present = false;
  EXPECT_EQ(track::track(kit.day, readings, options).readings[0].other, -1);
}

TEST(Track, RefusesNumbersNoStepGives) {
  Kit kit = one_pack(20.0);
  const std::vector<Reading> readings{
      {.where = Where::device_v, .index = 0, .at_s = kHour_s, .value = 15.5, .noise = 0.05, .width = 30.0}};
  track::Tracking tracking(kit.day, readings, sparing());
  while (!tracking.done()) {
    std::array<std::vector<double>, track::Tracking::kShares> shares{tracking.share(0), tracking.share(1)};
    const bool last = tracking.at_last_step();
    for (const double wrong : {std::nan(""), HUGE_VAL, 1e9}) {
      auto spoilt = shares;
      spoilt[1][1] = wrong;  // at the last step: the device that goes first
      const bool possible = std::isfinite(wrong) && !last;
      EXPECT_EQ(tracking.fits(1, spoilt[1]), possible) << wrong;
      if (possible) continue;
      EXPECT_THROW(tracking.take(spoilt), std::invalid_argument);
    }
    auto longer = shares[0];
    longer.push_back(0.0);
    EXPECT_FALSE(tracking.fits(0, longer));
    tracking.take(shares);
  }
  const Answer whole = track::track(kit.day, readings, sparing());
  EXPECT_EQ(tracking.answer().ends_s, whole.ends_s);
  EXPECT_EQ(tracking.answer().plan_likely_s, whole.plan_likely_s);
}

TEST(Track, RefusesAReadingOfNothing) {
  const Kit kit = one_pack(20.0);
  EXPECT_THROW(track::track(kit.day, {{.where = Where::gauge, .index = 9}}, {}), std::invalid_argument);
}

// The truth of each run: unknowns from the prior, and a cell that is not the model's: its open-circuit volts lie off by
// a constant, its resistance has another split between what acts at once and what lags. The readings scatter.
constexpr double kShift_v = 0.012;  // a cell
using Made = std::function<std::vector<Reading>(const forecast::DayRun& truth, const std::vector<double>& when,
                                                std::mt19937& random)>;
void covers_eight_in_ten(const char* what, const Made& made) {
  const Kit kit = one_pack(20.0);
  std::mt19937 random(20261125);
  std::normal_distribution<double> normal;
  const odds::Spread spread{.load_each = 0.0, .capacity_each = 0.0};
  int covered = 0;
  int below = 0;
  int settled = 0;
  constexpr int kRuns = 500;
  for (int k = 0; k < kRuns; ++k) {
    day::Scenario truth = kit.day;
    truth.devices[0].scale *= std::exp(spread.load * normal(random));
    cell::CellParams& cell = truth.packs[0].params.cell;
    cell.capacity_as *= std::exp(spread.capacity * normal(random));
    const double resistance = std::exp(spread.resistance * normal(random));
    cell.electrolyte_ohm *= resistance;
    cell.rc_ohm *= resistance * std::exp(0.3 * normal(random));
    cell.series_ohm *= std::exp(0.2 * normal(random));
    cell.exchange_a /= resistance;
    truth.packs[0].start_charge -= spread.start_charge * std::fabs(normal(random));
    truth.periods[0].air_k += spread.air_k * normal(random);
    std::vector<double> volts = cell.ocv.knots_y();
    const double shift_v = kShift_v * normal(random);
    for (double& v : volts) v += shift_v;
    cell.ocv = Curve(cell.ocv.knots_x(), volts);
    const std::vector<double> when{0.7 * kHour_s, 1.6 * kHour_s, 2.4 * kHour_s};
    const forecast::DayRun run = replay(truth, when);
    Options options;
    options.spread = spread;
    options.seed = static_cast<std::uint64_t>(k + 1);
    options.at_s = when.back();
    const Answer answer = track::track(kit.day, made(run, when, random), options);
    settled += answer.settled ? 1 : 0;
    const double end_s = end_of(run);
    covered += end_s >= answer.safe_s && end_s <= answer.long_s ? 1 : 0;
    below += end_s < answer.safe_s ? 1 : 0;
  }
  std::printf("[ track    ] %s: 80 %% band covers %d of %d, below it %d; effective sample reached in %d\n", what,
              covered, kRuns, below, settled);
  EXPECT_EQ(settled, kRuns);
  EXPECT_GE(covered, 375);  // 75 %
  EXPECT_LE(covered, 425);  // 85 %
}

TEST(Track, IsCalibratedOverFiveHundredRunsOfAnotherModel) {
  covers_eight_in_ten("volts", [](const forecast::DayRun& run, const std::vector<double>& when, std::mt19937& random) {
    std::normal_distribution<double> normal;
    std::vector<Reading> readings;
    for (std::size_t r = 0; r < when.size(); ++r) {
      readings.push_back({.where = Where::device_v,
                          .index = 0,
                          .at_s = when[r],
                          .value = run.probes[r].device_v[0] + 0.05 * normal(random),
                          .noise = 0.05,
                          .model = 4.0 * kShift_v,
                          .width = 20.0});
    }
    readings.push_back({.where = Where::holder_a,
                        .index = 0,
                        .at_s = when[1],
                        .value = run.probes[1].holder_out_a[0] * (1.0 + 0.03 * normal(random)),
                        .noise = 0.03 * 1.4,
                        .model = 0.0,
                        .width = 20.0});
    return readings;
  });
}

// The device's own meter in place of its volts: in truth its scale lies off the one computed for it by so much each
// time, and it shows ten bars.
TEST(Track, IsCalibratedOnADevicesOwnMeter) {
  const catalogue::Catalogue& known = catalogue::builtin();
  const meters::Scale scale =
      meters::calibrated(meters::typical_pack(known, "lithium", 4), {.draw_w = 20.0, .least_cutoff_v = 10.0}, 11.0);
  constexpr double kScaleOff = 0.1;
  covers_eight_in_ten("meter", [&](const forecast::DayRun& run, const std::vector<double>& when, std::mt19937& random) {
    std::normal_distribution<double> normal;
    const double off = kScaleOff * normal(random);
    std::vector<Reading> readings;
    for (std::size_t r = 0; r < when.size(); ++r) {
      const double shown = std::clamp(scale.left_at(run.probes[r].device_v[0]) + off, 0.0, 1.0);
      readings.push_back({.where = Where::device_meter,
                          .index = 0,
                          .at_s = when[r],
                          .value = std::round(10.0 * shown) / 10.0,
                          .noise = 0.1 / std::sqrt(12.0),
                          .model = std::hypot(kScaleOff, 4.0 * kShift_v * scale.share.at(14.5).slope),
                          .width = 1.0,
                          .scale = scale.share});
    }
    return readings;
  });
}
}  // namespace
}  // namespace tillwrap::test
