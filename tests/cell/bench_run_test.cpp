// The bench run against closed forms, its own account and finer steps.
#include "forecast/bench_run.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>

#include "cell/cells.hpp"

namespace tillwrap::forecast {
namespace {

using cell::CellParams;
using cell::PackParams;

// U = 3 + z volts behind a fixed resistance: everything about it has a closed form.
PackParams straight_cell(double ohm = 0.1) {
  CellParams c;
  c.name = "straight";
  c.capacity_as = 3600.0;
  c.rated_ah = 1.0;
  c.ocv = Curve({0.0, 1.0}, {3.0, 4.0});
  c.series_ohm = ohm;
  c.heat_capacity_j_k = 40.0;
  c.cooling_w_k = 0.1;
  return single_cell(c);
}

TEST(BenchRun, ResistorDischargesAStraightCurveExponentially) {
  // Q dz/dt = -(3 + z)/(R + r): 3 + z = 4 exp(-t / (Q (R + r))).
  const BenchLoad load{.kind = BenchLoad::Kind::resistance, .value = 7.9};
  const BenchResult r = bench_run(straight_cell(), load, {}, {.stop_v = 3.2});
  const double open_at_stop = 3.2 * 8.0 / 7.9;
  EXPECT_NEAR(r.duration_s, 3600.0 * 8.0 * std::log(4.0 / open_at_stop), 0.5);
  EXPECT_EQ(r.end_reason, BenchEnd::stop_volts);
  EXPECT_NEAR(r.curve.back().volts, 3.2, 1e-4);
  EXPECT_NEAR(r.charge_ah, 4.0 - open_at_stop, 1e-5);
}

TEST(BenchRun, ConstantPowerDrawsTheCurrentOfTheQuadratic) {
  // V = (U + sqrt(U² - 4 P r)) / 2, and Q dU/dt = -P/V: t = Q/P * integral of V dU.
  const double p = 5.0;
  const double r = 0.1;
  const double stop_v = 3.1;
  const auto antiderivative = [&](double u) {
    const double a2 = 4.0 * p * r;
    const double root = std::sqrt(u * u - a2);
    return 0.5 * (0.5 * u * u + 0.5 * (u * root - a2 * std::log(u + root)));
  };
  const double open_at_stop = stop_v + r * p / stop_v;
  const BenchResult run =
      bench_run(straight_cell(r), {.kind = BenchLoad::Kind::power, .value = p}, {}, {.stop_v = stop_v});
  EXPECT_NEAR(run.duration_s, 3600.0 / p * (antiderivative(4.0) - antiderivative(open_at_stop)), 0.5);
  EXPECT_NEAR(run.energy_wh, p * run.duration_s / 3600.0, 1e-6);
}

TEST(BenchRun, PowerBeyondThePeakCollapses) {
  // The most a source of U behind r gives is U²/4r: 4²/0.4 = 40 W when full.
  const PackParams cell = straight_cell(0.1);
  EXPECT_EQ(bench_run(cell, {.kind = BenchLoad::Kind::power, .value = 40.01}, {}, {}).end_reason, BenchEnd::collapse);
  const BenchResult r = bench_run(cell, {.kind = BenchLoad::Kind::power, .value = 36.0}, {}, {});
  EXPECT_EQ(r.end_reason, BenchEnd::collapse);
  // U²/4r falls to 36 W at U = sqrt(14.4).
  EXPECT_NEAR(r.curve.back().charge, std::sqrt(14.4) - 3.0, 2e-3);
}

TEST(BenchRun, AccountClosesForEveryCell) {
  for (const std::string& id : test::cell_ids()) {
    const CellParams c = test::catalogue_cell(id);
    for (double ambient_k : {258.15, 298.15}) {
      const BenchLoad load{.kind = BenchLoad::Kind::power, .value = 0.5 * c.rated_ah * c.ocv.value(0.5)};
      const BenchResult r =
          bench_run(single_cell(c), load, {.ambient_k = ambient_k, .start_k = 293.15}, {.stop_v = c.cutoff_v});
      EXPECT_NEAR(r.energy_wh + r.heat_wh + r.idle_wh, r.open_circuit_wh, 1e-6 * r.open_circuit_wh) << id;
      EXPECT_NEAR(r.energy_wh, load.value * r.duration_s / 3600.0, 1e-6 * r.energy_wh) << id;
      // Independent of the steps: what left the cells is the area under their curve.
      EXPECT_NEAR(r.open_circuit_wh * 3600.0, c.capacity_as * c.ocv.integral(r.curve.back().charge, 1.0),
                  1e-4 * r.open_circuit_wh * 3600.0)
          << id;
    }
  }
}

TEST(BenchRun, FinerStepsChangeLittle) {
  for (const std::string& id : test::cell_ids()) {
    const CellParams c = test::catalogue_cell(id);
    const BenchLoad load{.kind = BenchLoad::Kind::power, .value = 0.3 * c.rated_ah * c.ocv.value(0.5)};
    const BenchStart start{.ambient_k = 263.15, .start_k = 293.15};
    const auto lasts = [&](double error) {
      return bench_run(single_cell(c), load, start, {.stop_v = c.cutoff_v, .volts_error = error}).duration_s;
    };
    const double fine = lasts(1e-7);
    EXPECT_NEAR(lasts(2e-5), fine, 1e-4 * fine + 0.3) << id;
  }
}

TEST(BenchRun, MoreLoadNeverLastsLonger) {
  const PackParams cell = single_cell(test::catalogue_cell("nca"));
  double before = 1e9;
  for (double w = 1.0; w < 14.0; w += 0.5) {
    const double s = bench_run(cell, {.kind = BenchLoad::Kind::power, .value = w}, {}, {.stop_v = 3.0}).duration_s;
    EXPECT_LT(s, before);
    before = s;
  }
}

TEST(BenchRun, DutyCountsTimeOn) {
  BenchLoad load{.kind = BenchLoad::Kind::current, .value = 0.5};
  load.duty = {{15.0, 60.0}, {8 * 3600.0, 86400.0}};
  const BenchResult r = bench_run(straight_cell(), load, {}, {.stop_v = 3.05});
  // 1 Ah from 4 to 3 V at 0.5 A with 0.05 V lost: stops at z = 0.1, after 0.9 Ah, 1.8 h on.
  EXPECT_NEAR(r.on_s, 1.8 * 3600.0, 1.0);
  EXPECT_NEAR(r.charge_ah, 0.9, 1e-4);
  // 2 h on a day: 432 pulses of 15 s fall into the first eight hours.
  EXPECT_NEAR(r.duration_s, 431 * 60.0 + 15.0, 61.0);
}

TEST(BenchRun, ProfileGivesItsOwnTimesAndItsOwnError) {
  BenchLoad load{.kind = BenchLoad::Kind::current_profile};
  load.profile_t_s = {-60.0, 0.0, 0.5, 100.0, 200.0};
  load.profile_value = {0.0, 0.0, 1.0, 1.0, 0.0};
  const BenchResult r = bench_run(straight_cell(), load, {}, {});
  ASSERT_EQ(r.curve.size(), 5u);
  for (std::size_t k = 0; k < 5; ++k) EXPECT_DOUBLE_EQ(r.curve[k].t_s, load.profile_t_s[k]);
  EXPECT_EQ(r.end_reason, BenchEnd::profile_over);
  EXPECT_DOUBLE_EQ(r.duration_s, 200.0);
  EXPECT_NEAR(r.charge_ah, (0.25 + 99.5 + 50.0) / 3600.0, 1e-12);
  EXPECT_NEAR(r.curve[3].volts, 4.0 - 99.75 / 3600.0 - 0.1, 1e-9);
  load.measured_v = {4.0, 4.0, r.curve[2].volts + 0.02, r.curve[3].volts - 0.02, r.curve[4].volts};
  // Root mean square of 0, 0, 20, -20, 0 mV.
  EXPECT_NEAR(*bench_run(straight_cell(), load, {}, {}).rms_error_v, 0.02 * std::sqrt(2.0 / 5.0), 1e-9);
}

TEST(BenchRun, ProfileRepeatsUntilTheVoltsFall) {
  BenchLoad load{.kind = BenchLoad::Kind::power_profile, .repeat = true};
  for (int k = 0; k < 10; ++k) {
    load.profile_t_s.push_back(10.0 * k);
    load.profile_value.push_back(k < 5 ? 2.0 : 1.0);
  }
  const BenchResult r = bench_run(straight_cell(), load, {}, {.stop_v = 3.2});
  EXPECT_EQ(r.end_reason, BenchEnd::stop_volts);
  // 2 W at 3.2 V is 0.625 A: ends at U = 3.2625 V, after 0.7375 Ah at (4 + 3.2625)/2 V open less 0.1 ohm times about
  // 0.42 A.
  EXPECT_NEAR(r.energy_wh, 0.7375 * (3.63125 - 0.042), 0.01);
  EXPECT_NEAR(r.duration_s, r.energy_wh / 1.5 * 3600.0, 60.0);
}

TEST(BenchRun, StartsAtRestedVolts) {
  const BenchResult r =
      bench_run(straight_cell(), {.kind = BenchLoad::Kind::current, .value = 0.1}, {.rested_v = 3.6}, {.stop_v = 3.2});
  EXPECT_NEAR(r.curve.front().charge, 0.6, 1e-9);
}

TEST(BenchRun, TheWeakestCellAndTheElectronicsEndIt) {
  PackParams pack = straight_cell();
  pack.series = 4;
  pack.weak_fraction = 0.8;
  pack.protection.under_cell_v = 3.2;
  const BenchResult r = bench_run(pack, {.kind = BenchLoad::Kind::current, .value = 0.5}, {}, {});
  EXPECT_EQ(r.end_reason, BenchEnd::cell_protection);
  // Weak cell at 3.25 V open: z = 0.25 of 0.8 Ah: 0.6 Ah taken.
  EXPECT_NEAR(r.charge_ah, 0.6, 2e-4);
  PackParams sleepy = straight_cell();
  sleepy.protection.low_load_a = 0.1;
  sleepy.protection.low_load_s = 30.0;
  EXPECT_EQ(bench_run(sleepy, {.kind = BenchLoad::Kind::current, .value = 0.05}, {}, {}).end_reason,
            BenchEnd::low_load);
  PackParams small = straight_cell();
  small.protection.over_current_a = 2.0;
  small.protection.over_current_s = 5.0;
  EXPECT_EQ(bench_run(small, {.kind = BenchLoad::Kind::current, .value = 3.0}, {}, {}).end_reason,
            BenchEnd::over_current);
}

TEST(BenchRun, SettlesAtTheTemperatureOfItsHeat) {
  // 1 A through 0.1 ohm into 0.1 W/K: 1 K above the air, with time constant 400 s.
  const BenchResult r =
      bench_run(straight_cell(), {.kind = BenchLoad::Kind::current, .value = 1.0}, {}, {.stop_v = 3.0});
  EXPECT_NEAR(r.curve.back().temperature_k, 298.15 + 1.0 - std::exp(-r.duration_s / 400.0), 1e-3);
}

TEST(BenchRun, SameInputSameBytes) {
  const PackParams cell = single_cell(test::catalogue_cell("nmc"));
  const BenchLoad load{.kind = BenchLoad::Kind::power, .value = 5.0};
  EXPECT_EQ(bench_run(cell, load, {}, {.stop_v = 2.8}).curve, bench_run(cell, load, {}, {.stop_v = 2.8}).curve);
}

TEST(BenchRun, RefusesLoadsItCannotFollow) {
  const PackParams cell = straight_cell();
  BenchLoad load{.kind = BenchLoad::Kind::current_profile};
  load.profile_t_s = {0.0, 1.0, 1.0};
  load.profile_value = {1.0, 1.0, 1.0};
  EXPECT_THROW(bench_run(cell, load, {}, {}), std::invalid_argument);
  load.profile_t_s = {0.0, 1.0};
  EXPECT_THROW(bench_run(cell, load, {}, {}), std::invalid_argument);
  EXPECT_THROW(bench_run(cell, {.kind = BenchLoad::Kind::resistance, .value = 0.0}, {}, {}), std::invalid_argument);
  EXPECT_THROW(bench_run(cell, {.kind = BenchLoad::Kind::power, .value = std::nan("")}, {}, {}), std::invalid_argument);
}

}  // namespace
}  // namespace tillwrap::forecast
