// Packs against cells wired by hand.
#include "cell/pack.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "cell/cells.hpp"

namespace tillwrap::cell {
namespace {

PackParams four_by_two() {
  PackParams p;
  p.cell = test::full_cell();
  p.series = 4;
  p.parallel = 2;
  p.electronics_ohm = 0.03;
  p.heat_capacity_j_k = 350.0;
  p.cooling_w_k = 0.4;
  return p;
}

TEST(Pack, IsItsCellsInSeriesAndParallel) {
  const PackParams p = four_by_two();
  const CellRates rates = rates_at(p.cell, 273.15);
  PackState s = rested(p, 0.8, 273.15);
  CellState one = s.cell;
  s = advance(p, rates, s, 300.0, 2.0, 3.0);
  one = advance(p.cell, rates, one, 300.0, 1.0, 1.5);
  EXPECT_EQ(s.cell, one);
  const PackPoint pack = evaluate(p, rates, s, 3.0);
  const CellPoint cell = evaluate(p.cell, rates, one, 1.5);
  EXPECT_NEAR(pack.volts, 4.0 * cell.volts - 3.0 * 0.03, 1e-12);
  EXPECT_NEAR(pack.open_v, 4.0 * cell.open_v, 1e-12);
  EXPECT_NEAR(pack.lost_v, pack.open_v - pack.volts, 1e-12);
  EXPECT_NEAR(pack.slope_ohm, 2.0 * cell.slope_ohm - 0.03, 1e-12);
  EXPECT_DOUBLE_EQ(pack.lowest_cell_v, cell.volts);
}

TEST(Pack, WeakestCellIsACellOfItsOwn) {
  PackParams p = four_by_two();
  p.parallel = 1;
  p.weak_fraction = 0.9;
  p.cell.diffusion_shape =
      Curve();  // a shape is taken at each cell's own charge; the pack's lags share the ordinary cells'
  CellParams weak_cell = p.cell;
  weak_cell.capacity_as *= 0.9;
  const CellRates rates = rates_at(p.cell, 280.0);
  const CellRates weak_rates = rates_at(weak_cell, 280.0);
  PackState s = rested(p, 1.0, 280.0);
  CellState good = s.cell;
  CellState weak = s.cell;
  for (int k = 0; k < 50; ++k) {
    s = advance(p, rates, s, 60.0, 2.5, 2.5);
    good = advance(p.cell, rates, good, 60.0, 2.5, 2.5);
    weak = advance(weak_cell, weak_rates, weak, 60.0, 2.5, 2.5);
    const PackPoint pack = evaluate(p, rates, s, 2.5);
    const CellPoint a = evaluate(p.cell, rates, good, 2.5);
    const CellPoint b = evaluate(weak_cell, weak_rates, weak, 2.5);
    EXPECT_NEAR(pack.volts, 3.0 * a.volts + b.volts - 2.5 * 0.03, 1e-10);
    EXPECT_NEAR(pack.slope_ohm, 3.0 * a.slope_ohm + b.slope_ohm - 0.03, 1e-10);
    EXPECT_NEAR(pack.lowest_cell_v, b.volts, 1e-10);
    EXPECT_NEAR(pack.lost_v, pack.open_v - pack.volts, 1e-10);
  }
  // 50 min at 2.5 A: the weak cell of 2.61 Ah has 0.202 left where the others have 0.282.
  EXPECT_NEAR(s.cell.charge, 1.0 - 2.5 * 3000.0 / (2.9 * 3600.0), 1e-12);
  EXPECT_NEAR(s.weak_charge, 1.0 - 2.5 * 3000.0 / (2.61 * 3600.0), 1e-12);
}

TEST(Pack, WarmsAsOneNode) {
  const PackParams p = four_by_two();
  // C dT/dt = P - hA (T - Ta): settles at Ta + P/hA, with time constant C/hA (Newton's law of cooling).
  EXPECT_NEAR(warmed_k(p, 293.15, 1e7, 2.0, 273.15), 273.15 + 2.0 / 0.4, 1e-9);
  EXPECT_NEAR(warmed_k(p, 293.15, 350.0 / 0.4, 0.0, 273.15), 273.15 + 20.0 * std::exp(-1.0), 1e-9);
  EXPECT_NEAR(warmed_k(p, warmed_k(p, 280.0, 40.0, 3.0, 260.0), 60.0, 3.0, 260.0),
              warmed_k(p, 280.0, 100.0, 3.0, 260.0), 1e-10);
  PackParams lagged = p;
  lagged.cooling_w_k = 0.0;
  EXPECT_NEAR(warmed_k(lagged, 293.15, 350.0, 1.0, 0.0), 294.15, 1e-12);
}

TEST(Pack, EnergyLeftIsTheAreaUnderTheCurve) {
  const PackParams p = four_by_two();
  EXPECT_NEAR(energy_left_j(p, 1.0) - energy_left_j(p, 0.4), 8.0 * p.cell.capacity_as * p.cell.ocv.integral(0.4, 1.0),
              1e-6);
}

TEST(Pack, GaugeWithTooLargeALearnedCapacityShowsChargeWhenEmpty) {
  PackParams p = four_by_two();
  p.gauge = {.present = true, .learned_capacity_factor = 1.25};
  EXPECT_NEAR(gauge_fraction(p, rested(p, 1.0, 298.15)), 1.0, 1e-15);
  EXPECT_NEAR(gauge_fraction(p, rested(p, 0.0, 298.15)), 0.2, 1e-15);
  p.gauge.learned_capacity_factor = 0.8;
  EXPECT_NEAR(gauge_fraction(p, rested(p, 0.3, 298.15)), 0.125, 1e-15);
  EXPECT_EQ(gauge_fraction(p, rested(p, 0.1, 298.15)), 0.0);
}

}  // namespace
}  // namespace tillwrap::cell
