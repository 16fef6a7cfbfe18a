// Expected readings, bands, what a reading is worth; properties.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "app/meters_report.hpp"
#include "forecast/fixed_seed.hpp"
#include "meters/meters.hpp"

namespace tillwrap::test {
namespace {

const FixedSeed kSeed("seed=20261125 max_success=200");

app::DayFile example(const std::string& name) {
  std::ifstream in(TILLWRAP_SOURCE_DIR "/examples/" + name);
  std::ostringstream text;
  text << in.rdbuf();
  app::DayFile file = app::read_day(decode::read_toml(text.str(), name), catalogue::builtin());
  app::apply_measured(file);
  return file;
}

meters::Curve straight(double hours, double full_v, double empty_v) {
  meters::Curve curve{.usable_j = 1.0};
  for (int k = 0; k <= 500; ++k) {
    curve.left.push_back(1.0 - k / 500.0);
    curve.at_s.push_back(hours * 3600.0 * k / 500.0);
    curve.volts.push_back(empty_v + (full_v - empty_v) * curve.left.back());
  }
  return curve;
}

// By hand: discharges of 8 to 12 h, evenly spread. The clock leaves the middle four fifths of that: ± 1.6 h. Volts in a
// straight line over what is left, the same for all: at half, 4 to 6 h are left, ± 0.8 h, and the display's step adds a
// fortieth of the range. A flat line says nothing: any time left between none and all.
TEST(WorthByHand, StraightAndFlatVolts) {
  std::vector<meters::Curve> sloping, flat;
  for (int k = 0; k <= 100; ++k) {
    sloping.push_back(straight(8.0 + 0.04 * k, 16.0, 12.0));
    flat.push_back(straight(8.0 + 0.04 * k, 12.0, 12.0));
  }
  const meters::Guidance good = meters::guidance(straight(10.0, 16.0, 12.0), sloping, 0.1, 0.2);
  EXPECT_NEAR(good.half.clock_s, 1.6 * 3600.0, 60.0);
  EXPECT_NEAR(good.half.volts_s, 0.8 * 3600.0, 300.0);
  EXPECT_EQ(good.guide, meters::Guide::volts);
  const meters::Guidance none = meters::guidance(straight(10.0, 12.0, 12.0), flat, 0.1, 0.2);
  EXPECT_GT(none.half.volts_s, 3.5 * 3600.0);
  EXPECT_EQ(none.guide, meters::Guide::clock);
  EXPECT_EQ(none.volts_below, 0.0);
}

// By hand: y = 100 x + e, e taking -10, ..., 10 evenly: one in ten falls 8 short, so y = 1200 needs x = 12.08.
TEST(EarlyByHand, StraightLineWithAKnownSpread) {
  std::vector<double> x, y;
  for (int k = 0; k < 40; ++k) {
    for (int e = -10; e <= 10; ++e) {
      x.push_back(10.0 + 0.1 * k);
      y.push_back(100.0 * x.back() + e);
    }
  }
  const auto limit = meters::early_below(x, y, 1200.0);
  ASSERT_TRUE(limit);
  EXPECT_NEAR(*limit, 12.08, 0.005);
  EXPECT_FALSE(meters::early_below(x, y, 500.0));  // far below all that was seen
  std::vector<double> noise;
  for (std::size_t k = 0; k < x.size(); ++k) noise.push_back(static_cast<double>((k * 7919) % 101));
  EXPECT_FALSE(meters::early_below(x, noise, 50.0));  // tells nothing
}

// The pack's own profile is the first, unless one that is fine in its timing is clearly nearer where the own one is not
// fine or does not fit; without an own one the first gives no energy away unless all do, and is the closest of its
// rank.
RC_GTEST_PROP(Rank, TheFirstIsTheClosest, ()) {
  const double full_v = 0.01 * *rc::gen::inRange(1100, 1700);
  const double empty_v = 0.01 * *rc::gen::inRange(800, 1090);
  const double bend = 0.01 * *rc::gen::inRange(30, 300);
  meters::Curve curve{.usable_j = 1.0};
  for (int k = 0; k <= 200; ++k) {
    curve.left.push_back(1.0 - k / 200.0);
    curve.at_s.push_back(60.0 * k);
    curve.volts.push_back(empty_v + (full_v - empty_v) * std::pow(curve.left.back(), bend));
  }
  std::vector<meters::ProfileVerdict> all;
  const bool has_own = *rc::gen::arbitrary<bool>();
  for (int k = 0; k < 6; ++k) {
    const double low_v = 0.01 * *rc::gen::inRange(600, 1300);
    const double high_v = low_v + 0.01 * *rc::gen::inRange(50, 600);
    const meters::Profile profile{.chemistry = k % 2 == 0 ? "lithium" : "nickel",
                                  .cells = k == 0 && has_own ? 3 : 4,
                                  .scale = {Curve({low_v, high_v}, {0.0, 1.0}), 0.5 * (low_v + high_v)}};
    all.push_back(meters::judge(profile, curve, 600.0));
  }
  const int own = meters::rank(all, "lithium", 3);
  RC_ASSERT((own >= 0) == has_own);
  const meters::ProfileVerdict& first = all.front();
  for (const meters::ProfileVerdict& one : all) RC_ASSERT(one.error >= 0.0 && one.error <= 1.0);
  if (has_own) {
    const meters::ProfileVerdict& mine = all[static_cast<std::size_t>(own)];
    RC_ASSERT(mine.profile.chemistry == "lithium" && mine.profile.cells == 3);
    const bool good = mine.timing == meters::Timing::fine && mine.error <= meters::kFits;
    bool beaten = false;
    for (const meters::ProfileVerdict& one : all)
      beaten = beaten || (!good && one.timing == meters::Timing::fine && one.error < mine.error - meters::kClearly);
    RC_ASSERT(beaten == (own > 0));
    if (beaten) RC_ASSERT(first.timing == meters::Timing::fine && first.error < mine.error - meters::kClearly);
    return;
  }
  for (const meters::ProfileVerdict& one : all) {
    if (one.timing == meters::Timing::early && first.timing != meters::Timing::early) continue;
    RC_ASSERT(first.timing != meters::Timing::early || one.timing == meters::Timing::early);
    RC_ASSERT(first.error <= one.error);
  }
}

// On every example: bands hold the nominal run, reading and gauge lie where they can, the pack's own volts are above
// the device's, and the settings do not lie below the device's range.
TEST(Readings, BandsHoldTheNominalRun) {
  for (const char* name :
       {"saltmarsh-ferry.toml", "news-bag.toml", "bank-on-a-barrel.toml", "cinema-plate.toml", "aa-only.toml"}) {
    const app::DayFile file = example(name);
    const meters::Answer answer =
        meters::meters(file.scenario, file.inventory, catalogue::builtin(), app::meters_options(file, -1));
    std::size_t rows = 0;
    for (const meters::ReadingList& list : answer.readings) {
      double before_s = 0.0;
      for (const meters::Reading& row : list.rows) {
        ++rows;
        EXPECT_GT(row.at_s, before_s) << name;
        before_s = row.at_s;
        EXPECT_LE(row.volts.low, row.volts.expected) << name;
        EXPECT_GE(row.volts.high, row.volts.expected) << name;
        EXPECT_LT(row.amps.low, row.amps.high) << name;
        EXPECT_GE(row.until_s, row.at_s) << name;
        if (!row.gauge) continue;
        EXPECT_LE(row.gauge->low, row.gauge->expected);
        EXPECT_GE(row.gauge->high, row.gauge->expected);
        EXPECT_GE(row.gauge->low, 0.0);
        EXPECT_LE(row.gauge->high, 1.0);
      }
    }
    EXPECT_GT(rows, 0U) << name;
    for (const meters::DeviceMeter& meter : answer.meters) {
      EXPECT_GE(meter.volts.cutoff_v, meter.volts.own_cutoff_v - 1e-9) << name;
      EXPECT_TRUE(!meter.volts.warns || meter.volts.warn_v >= meter.volts.change_v) << name;
      EXPECT_LE(meter.low_end_s, meter.discharge.curve.end_s()) << name;
    }
  }
}

// The volts of a reading are those of the forecast's own trace at that moment.
TEST(Readings, AreTheForecastsOwn) {
  const app::DayFile file = example("cinema-plate.toml");
  const meters::Answer answer =
      meters::meters(file.scenario, file.inventory, catalogue::builtin(), app::meters_options(file, -1));
  forecast::ForecastOptions options;
  options.trace = true;
  options.longest_step_s = 30.0;
  options.with_one_loss = false;
  const forecast::Forecast forecast = forecast::forecast(file.scenario, options);
  const forecast::Trace& trace = forecast.run.trace;
  const meters::ReadingList& list = answer.readings.front();
  for (const meters::Reading& row : list.rows) {
    const auto k =
        static_cast<std::size_t>(std::lower_bound(trace.at_s.begin(), trace.at_s.end(), row.at_s) - trace.at_s.begin());
    ASSERT_LT(k, trace.at_s.size());
    EXPECT_NEAR(row.volts.expected, trace.device_v[static_cast<std::size_t>(list.device)][k], 0.02) << row.at_s;
  }
}

// Same input, same answer.
TEST(Meters, TheSameTwice) {
  const app::DayFile file = example("saltmarsh-ferry.toml");
  const auto once = [&] {
    const meters::Answer answer =
        meters::meters(file.scenario, file.inventory, catalogue::builtin(), app::meters_options(file, -1));
    return app::meters_json({.file = &file, .answer = &answer});
  };
  EXPECT_EQ(once(), once());
}

}  // namespace
}  // namespace tillwrap::test
