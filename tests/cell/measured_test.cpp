// Measured discharges of open data sets, self-heating predicted (the log's own surface temperature gives only the start
// and the chamber). Goals above 10 % charge: 15, 25, 40 mV RMS a cell at 10 °C and warmer, 0 and -10 °C, in 80 % of
// files, none beyond twice; durations at constant current up to 1C within 2, 3, 5 %. The parameter sets were fitted to
// these very files, so this holds the fit in place; leaving files out is done by tests/accuracy and told in
// docs/accuracy.md.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "cell/cells.hpp"
#include "forecast/bench_run.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap {
namespace {

struct Case {
  const char* file;
  const char* cell;
  double chamber_c;
  double goal_mv;
  double goal_duration;  // 0 = not a constant current
  double stop_v = 0.0;   // a cell
  int series = 1;
  double rested_v = 0.0;  // of the whole source, where it did not start full
  double start_charge = 1.0;
  cell::Ageing age{};  // stated with the data set
};

// nca18650 lost capacity through its campaign: at 0 and -10 °C the same rested volts come 0.04 to 0.17 Ah sooner in its
// pulse tests than at 25 °C. nmc18650 was measured in the order 25, 0, -10 °C and lost about 3 % on the way; its 0.5C
// logs begin within the first minute of load. The lead battery gave 19.7, 19.7 and 18.96 Ah in the order it was run: a
// capacity factor each.
const Case kCases[] = {
    {"nca18650/25C_1C_start1.csv", "nca", 25, 15, 0.02, 2.5},
    {"nca18650/25C_la92.csv", "nca", 25, 15, 0},
    {"nca18650/25C_cycle1.csv", "nca", 25, 15, 0},
    {"nca18650/0C_us06.csv", "nca", 0, 25, 0, 0, 1, 0, 1, {.capacity_fraction = 0.950}},
    {"nca18650/n10C_hwfet.csv", "nca", -10, 40, 0, 0, 1, 0, 1, {.capacity_fraction = 0.927}},
    {"nmc18650/25C_c20.csv", "nmc", 24, 15, 0.02, 2.8},
    {"nmc18650/25C_0p5C.csv", "nmc", 24, 15, 0.02, 2.8, 1, 0, 0.992},
    {"nmc18650/25C_1C.csv", "nmc", 24, 15, 0.02, 2.8},
    {"nmc18650/25C_us06.csv", "nmc", 24, 15, 0},
    {"nmc18650/0C_c20.csv", "nmc", -0.5, 25, 0.03, 2.8, 1, 0, 1, {.capacity_fraction = 0.982}},
    {"nmc18650/0C_1C.csv", "nmc", -0.5, 25, 0.03, 2.8, 1, 0, 1, {.capacity_fraction = 0.982}},
    {"nmc18650/0C_us06.csv", "nmc", -0.5, 25, 0, 0, 1, 0, 1, {.capacity_fraction = 0.982}},
    {"nmc18650/n10C_0p5C.csv", "nmc", -10, 40, 0.05, 2.8, 1, 0, 0.992, {.capacity_fraction = 0.976}},
    {"nmc21700/25C_0p1C.csv", "nmc-21700-5ah", 24.5, 15, 0.02, 2.5},
    {"nmc21700/25C_1C.csv", "nmc-21700-5ah", 24.6, 15, 0.02, 2.5},
    {"nmc21700/0C_0p5C.csv", "nmc-21700-5ah", -0.5, 25, 0.03, 2.5, 1, 4.1323},
    {"nmc21700/45C_0p5C.csv", "nmc-21700-5ah", 43.1, 15, 0.02, 2.5},
    {"lead17/3p0A.csv", "vrla-agm", 23.5, 15, 0.02, 1.78, 6, 0, 1, {.capacity_fraction = 1.029}},
    {"lead17/2p0A.csv", "vrla-agm", 23.3, 15, 0.02, 1.78, 6, 0, 1, {.capacity_fraction = 1.0175}},
    {"lead17/1p0A_a.csv", "vrla-agm", 23.3, 15, 0.02, 1.78, 6, 0, 1, {.capacity_fraction = 0.956}},
};

TEST(Measured, VoltsAndDurationsOfTheOpenSets) {
  int files = 0;
  int inside = 0;
  for (const Case& one : kCases) {
    const auto log = test::measured(one.file);
    if (!log) {
      std::printf("skipped: %s is not at hand (set TILLWRAP_DATA)\n", one.file);
      continue;
    }
    const cell::PackParams source =
        forecast::single_cell(cell::aged(test::catalogue_cell(one.cell), one.age), one.series);
    forecast::BenchLoad load;
    load.kind = forecast::BenchLoad::Kind::current_profile;
    load.profile_t_s = log->t_s;
    load.profile_value = log->amps;
    load.measured_v = log->volts;
    forecast::BenchStart start;
    start.ambient_k = one.chamber_c + kZeroCelsiusK;
    start.start_k = log->surface_c.front() + kZeroCelsiusK;
    start.charge = one.start_charge;
    if (one.rested_v > 0.0) {
      start.charge.reset();
      start.rested_v = one.rested_v;
    }
    const auto all = forecast::bench_run(source, load, start, {});
    ASSERT_TRUE(all.rms_error_v.has_value()) << one.file;
    const double rms_mv = 1e3 * *all.rms_error_v / one.series;
    ++files;
    if (rms_mv <= one.goal_mv) ++inside;
    EXPECT_LE(rms_mv, 2.0 * one.goal_mv) << one.file;
    double off = 0.0;
    if (one.goal_duration > 0.0) {
      // To the volts the log ends at, its last current going on where the model lasts longer.
      const double stop_v = one.stop_v * one.series;
      std::size_t n = 0;
      while (n < log->t_s.size() && (log->volts[n] > stop_v || log->t_s[n] < 10.0)) ++n;
      if (n == log->t_s.size()) --n;
      const double lasted_s = log->t_s[n];
      load.profile_t_s.resize(n);
      load.profile_value.resize(n);
      load.measured_v.clear();
      load.profile_t_s.push_back(2.0 * lasted_s);
      load.profile_value.push_back(load.profile_value.back());
      const auto until = forecast::bench_run(source, load, start, {.stop_v = stop_v});
      EXPECT_EQ(until.end_reason, forecast::BenchEnd::stop_volts) << one.file;
      off = until.duration_s / (lasted_s - std::max(0.0, log->t_s.front())) - 1.0;
      EXPECT_LE(std::fabs(off), one.goal_duration) << one.file;
    }
    std::printf("%-28s %5.1f mV a cell (goal %2.0f)  duration %+5.2f %%  warmest %.1f C, measured %.1f C\n", one.file,
                rms_mv, one.goal_mv, 100.0 * off, all.warmest_k - kZeroCelsiusK,
                *std::max_element(log->surface_c.begin(), log->surface_c.end()));
  }
  if (files == 0) GTEST_SKIP() << "no measured data at hand (set TILLWRAP_DATA)";
  std::printf("%d of %d files within the goal\n", inside, files);
  EXPECT_GE(inside, 0.8 * files);
}

}  // namespace
}  // namespace tillwrap
