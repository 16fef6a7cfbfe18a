// The cell equations against their own differential form, finite differences and closed solutions from the literature.
#include "cell/cell.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cell/cells.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::cell {
namespace {

using test::full_cell;

double spread(int k) { return std::fmod(0.6180339887498949 * k, 1.0); }

CellState some_state(int k) {
  CellState s;
  s.charge = 0.02 + 0.97 * spread(k);
  s.lag = {0.03 * spread(2 * k), 0.01 * spread(3 * k)};
  s.rc_v = 0.03 * (spread(5 * k) - 0.3);
  s.transfer_a = 4.0 * (spread(23 * k) - 0.3);
  s.temperature_k = 248.15 + 70.0 * spread(7 * k);
  return s;
}

TEST(Cell, SlopeIsTheDerivativeOfTheVolts) {
  std::vector<CellParams> cells{full_cell()};
  for (const std::string& id : test::cell_ids()) cells.push_back(test::catalogue_cell(id));
  for (const CellParams& c : cells) {
    for (int k = 1; k < 200; ++k) {
      const CellState s = some_state(k);
      const CellRates rates = rates_at(c, s.temperature_k);
      const double a = c.rated_ah * (3.0 * spread(11 * k) - 1.0);
      const double h = 1e-6 * c.rated_ah;
      const double difference = (evaluate(c, rates, s, a + h).volts - evaluate(c, rates, s, a - h).volts) / (2.0 * h);
      const double slope = evaluate(c, rates, s, a).slope_ohm;
      EXPECT_NEAR(slope, difference, 2e-4 * std::fabs(slope) + 2e-8) << c.name << " " << k;
    }
  }
}

TEST(Cell, LossesAreWhatLiesBetweenRestedAndTerminalVolts) {
  const CellParams c = full_cell();
  for (int k = 1; k < 200; ++k) {
    const CellState s = some_state(k);
    const CellPoint p = evaluate(c, rates_at(c, s.temperature_k), s, 4.0 * (spread(k) - 0.4));
    EXPECT_NEAR(p.lost_v, p.open_v - p.volts, 1e-12);
  }
}

TEST(Cell, RestedShowsItsCurve) {
  for (const std::string& id : test::cell_ids()) {
    const CellParams c = test::catalogue_cell(id);
    for (double z = 0.05; z <= 1.0; z += 0.05) {
      CellState s;
      s.charge = z;
      const CellPoint p = evaluate(c, rates_at(c, kReferenceK), s, 0.0);
      EXPECT_NEAR(p.volts, c.ocv.value(z), 1e-12) << id;
      EXPECT_NEAR(charge_at_rest(c, p.volts), z, 1e-9) << id;
    }
  }
}

// The differential equations of the header, stepped finely by the classical Runge-Kutta method.
struct Slope {
  double z, x0, x1, v1;
};
CellState runge_kutta(const CellParams& c, const CellRates& r, CellState s, double step_s, double start_a,
                      double end_a) {
  const int n = 4000;
  const double h = step_s / n;
  const auto f = [&](double t, const Slope& y) {
    const double a = start_a + (end_a - start_a) * t / step_s;
    const double q = a * (a < 0.0 ? c.charge_efficiency : 1.0) / c.capacity_as;
    const auto lag = [&](std::size_t m, double x) {
      return c.lag_gain[m] == 0.0 ? 0.0 : -x / r.tau_s[m] + c.lag_gain[m] * q;
    };
    return Slope{-q, lag(0, y.x0), lag(1, y.x1), (a * r.rc_ohm - y.v1) / c.rc_s};
  };
  Slope y{s.charge, s.lag[0], s.lag[1], s.rc_v};
  const auto plus = [](const Slope& p, double k, const Slope& d) {
    return Slope{p.z + k * d.z, p.x0 + k * d.x0, p.x1 + k * d.x1, p.v1 + k * d.v1};
  };
  for (int k = 0; k < n; ++k) {
    const double t = k * h;
    const Slope a = f(t, y);
    const Slope b = f(t + h / 2, plus(y, h / 2, a));
    const Slope e = f(t + h / 2, plus(y, h / 2, b));
    const Slope g = f(t + h, plus(y, h, e));
    y = plus(plus(plus(plus(y, h / 6, a), h / 3, b), h / 3, e), h / 6, g);
  }
  s.charge = y.z;
  s.lag = {y.x0, y.x1};
  s.rc_v = y.v1;
  return s;
}

TEST(Cell, AdvanceIsExactForALineOfCurrent) {
  CellParams c = full_cell();
  c.diffusion_shape = Curve();  // with a shape the step is second order, see below
  for (int k = 1; k < 40; ++k) {
    const CellState s = some_state(k);
    const CellRates rates = rates_at(c, s.temperature_k);
    const double step_s = 0.01 * std::pow(10.0, 5.0 * spread(13 * k));
    const double start_a = 3.0 * spread(17 * k);
    const double end_a = 3.0 * spread(19 * k);
    const CellState exact = advance(c, rates, s, step_s, start_a, end_a);
    const CellState fine = runge_kutta(c, rates, s, step_s, start_a, end_a);
    EXPECT_NEAR(exact.charge, fine.charge, 1e-12);
    EXPECT_NEAR(exact.lag[0], fine.lag[0], 1e-9);
    EXPECT_NEAR(exact.lag[1], fine.lag[1], 1e-9);
    EXPECT_NEAR(exact.rc_v, fine.rc_v, 1e-9);
  }
}

TEST(Cell, AdvanceTurnsFromDischargeToChargeExactly) {
  CellParams c = full_cell();
  c.diffusion_shape = Curve();
  c.charge_efficiency = 0.8;
  const CellState s = some_state(5);
  const CellRates rates = rates_at(c, s.temperature_k);
  const CellState exact = advance(c, rates, s, 600.0, 2.0, -3.0);
  // By hand: 240 s of discharge (2 A falling to 0), 360 s of charge (0 to 3 A) at 80 %.
  EXPECT_NEAR(exact.charge, s.charge - (240.0 - 0.8 * 540.0) / c.capacity_as, 1e-14);
  const CellState fine = runge_kutta(c, rates, s, 600.0, 2.0, -3.0);
  EXPECT_NEAR(exact.lag[0], fine.lag[0], 2e-8);
  EXPECT_NEAR(exact.rc_v, fine.rc_v, 1e-8);
}

// Randles, Discuss. Faraday Soc. 1, 11, 1947 (from memory): the double layer's capacity lies beside the resistance of
// charge transfer, R = RT/(F i0) an electrode at small currents, so volts under a step of current rise as
// I R (1 - e^(-t/RC)), and under a ramp r t as R r (t - RC (1 - e^(-t/RC))).
TEST(Cell, ChargeTransferRisesAsADoubleLayerCharges) {
  CellParams c = full_cell();
  c.lag_gain = {};
  c.surface_gain = 0.0;
  c.cold_tail = 0.0;
  c.exchange_alpha = 0.0;
  c.series_ohm = c.electrolyte_ohm = c.rc_ohm = 0.0;
  const double molar_gas = 8.31446261815324;
  const double faraday = 96485.33212331002;
  double farad_25 = 0.0;
  for (const double t_k : {298.15, 273.15, 253.15}) {
    const CellRates rates = rates_at(c, t_k);
    CellState rest;
    rest.charge = 0.5;
    rest.temperature_k = t_k;
    const double i0 = c.exchange_a * std::exp(-c.exchange_activation_k * (1.0 / t_k - 1.0 / kReferenceK));
    const double ohm = c.exchange_electrodes * molar_gas * t_k / (faraday * i0);
    const double farad = rates.exchange_s / ohm;
    if (t_k == 298.15) farad_25 = farad;
    EXPECT_NEAR(farad, farad_25 * 298.15 / t_k, 1e-9 * farad) << "one capacity but for the absolute temperature";
    const double a = 1e-5 * i0;  // small: the line of the asinh, and no charge to speak of
    const auto transfer_v = [&](const CellState& s, double now_a) {
      return evaluate(c, rates, rest, 0.0).volts - evaluate(c, rates, s, now_a).volts;
    };
    for (const double of_tau : {0.01, 0.3, 1.0, 3.0, 12.0}) {
      const double t_s = of_tau * ohm * farad;
      const double risen = 1.0 - std::exp(-of_tau);
      CellParams still = c;
      still.capacity_as = 1e15;  // charge stands still
      EXPECT_NEAR(transfer_v(advance(still, rates, rest, t_s, a, a), a), a * ohm * risen, 1e-6 * a * ohm) << of_tau;
      EXPECT_NEAR(transfer_v(advance(still, rates, rest, t_s, 0.0, a), a), a * ohm * (1.0 - risen / of_tau),
                  1e-6 * a * ohm)
          << of_tau;
    }
  }
}

// Long after a change of current the delay has gone: n (2RT/F) asinh(I / 2 i0), Butler and Volmer with equal halves.
TEST(Cell, SettledChargeTransferIsButlerVolmer) {
  CellParams c = full_cell();
  CellParams at_once = c;
  at_once.exchange_s = 0.0;
  const CellRates rates = rates_at(c, 263.15);
  CellState s = some_state(4);
  s.temperature_k = 263.15;
  const CellState settled = advance(c, rates, s, 50.0 * rates.exchange_s, 2.0, 2.0);
  EXPECT_NEAR(settled.transfer_a, 2.0, 1e-12);
  EXPECT_NEAR(evaluate(c, rates, settled, 2.0).volts, evaluate(at_once, rates_at(at_once, 263.15), settled, 2.0).volts,
              1e-12);
}

TEST(Cell, FollowingTransferIsAnAdvanceToAnotherCurrent) {
  const CellParams c = full_cell();
  for (int k = 1; k < 40; ++k) {
    const CellState s = some_state(k);
    const CellRates rates = rates_at(c, s.temperature_k);
    const double step_s = 0.01 * std::pow(10.0, 5.0 * spread(13 * k));
    const StepLags lags = lags_over(c, rates, s, step_s, 1.0, 1.2);
    CellState following = advance(c, rates, lags, s, 1.0, 1.2);
    let_transfer_follow(lags, following, 1.2);
    CellState plain = following;
    const CellState other = advance(c, rates, lags, s, 1.0, 1.7);
    plain.transfer_a = other.transfer_a;
    plain.transfer_follows = 0.0;
    EXPECT_NEAR(evaluate(c, rates, following, 1.7).volts, evaluate(c, rates, plain, 1.7).volts, 1e-12);
    const double h = 1e-6;
    EXPECT_NEAR(evaluate(c, rates, following, 1.7).slope_ohm,
                (evaluate(c, rates, following, 1.7 + h).volts - evaluate(c, rates, following, 1.7 - h).volts) / (2 * h),
                1e-6);
  }
}

TEST(Cell, RatesBetweenTwoTemperaturesAreThoseOfTheMiddle) {
  for (const std::string& id : test::cell_ids()) {
    const CellParams c = test::catalogue_cell(id);
    const CellRates a = rates_at(c, 268.0);
    const CellRates b = rates_at(c, 270.0);
    const CellRates middle = rates_at(c, 2.0 / (1.0 / 268.0 + 1.0 / 270.0));
    const CellRates got = between(c, a, b);
    EXPECT_NEAR(got.diffusion_s, middle.diffusion_s, 1e-12 * middle.diffusion_s) << id;
    EXPECT_NEAR(got.electrolyte_ohm, middle.electrolyte_ohm, 1e-12 * middle.electrolyte_ohm) << id;
    EXPECT_NEAR(got.exchange_a, middle.exchange_a, 1e-12 * middle.exchange_a) << id;
    EXPECT_NEAR(got.exchange_s, middle.exchange_s, 1e-12 * middle.exchange_s) << id;
    EXPECT_NEAR(got.rc_ohm, middle.rc_ohm, 1e-12 * middle.rc_ohm) << id;
    EXPECT_NEAR(got.tau_s[0], middle.tau_s[0], 1e-12 * middle.tau_s[0]) << id;
    EXPECT_NEAR(got.cold_tail, middle.cold_tail, 1e-12) << id;
    EXPECT_NEAR(got.thermal_v, rates_at(c, 269.0).thermal_v, 1e-12) << id;  // linear in T itself
  }
}

TEST(Cell, TwoStepsMakeOneAndAShapeConvergesToSecondOrder) {
  CellParams c = full_cell();
  const CellState s = some_state(9);
  const CellRates rates = rates_at(c, s.temperature_k);
  const auto in_parts = [&](int n) {
    CellState t = s;
    for (int k = 0; k < n; ++k) t = advance(c, rates, t, 400.0 / n, 2.0, 2.0);
    return t.lag[0];
  };
  const double fine = in_parts(1024);
  const double once = std::fabs(in_parts(4) - fine);
  const double twice = std::fabs(in_parts(8) - fine);
  EXPECT_NEAR(once / twice, 4.0, 0.6);
  c.diffusion_shape = Curve();
  EXPECT_NEAR(in_parts(1), in_parts(64), 1e-14);
}

// Manwell and McGowan, Solar Energy 50(5) 399, 1993: the kinetic battery model's closed form for constant current.
TEST(Cell, OneLagModeIsTheKineticBatteryModel) {
  const double share = 0.6;       // c: available part
  const double k = 1.0 / 5000.0;  // k', 1/s
  CellParams c = full_cell();
  c.diffusion_shape = Curve();
  c.lag_gain = {(1.0 - share) / share, 0.0};
  c.lag_rate = {1.0, 0.0};
  c.surface_gain = 0.0;
  c.diffusion_s = 1.0 / k;
  const CellRates rates = rates_at(c, kReferenceK);
  CellState s;
  const double q0 = c.capacity_as;
  const double a = 1.3;
  for (double t : {10.0, 600.0, 3600.0, 7200.0}) {
    const CellState now = advance(c, rates, s, t, a, a);
    const double decay = std::exp(-k * t);
    const double q1_start = share * q0;
    const double available =
        q1_start * decay + (q0 * k * share - a) * (1.0 - decay) / k - a * share * (k * t - 1.0 + decay) / k;
    EXPECT_NEAR(now.charge - now.lag[0], available / (share * q0), 1e-12) << t;
    EXPECT_NEAR(now.charge, 1.0 - a * t / q0, 1e-12);
  }
}

TEST(Cell, IsothermalRunDrawsTheAreaUnderItsCurve) {
  const CellParams c = full_cell();
  const CellRates rates = rates_at(c, 263.15);
  CellState s;
  s.temperature_k = 263.15;
  double drawn_j = 0.0;
  const double h = 10.0;
  while (s.charge > 0.2) {
    // Simpson, with the middle from a half step.
    const CellState half = advance(c, rates, s, h / 2, 1.0, 1.0);
    const CellState next = advance(c, rates, half, h / 2, 1.0, 1.0);
    drawn_j += h / 6.0 *
               (evaluate(c, rates, s, 1.0).open_v + 4.0 * evaluate(c, rates, half, 1.0).open_v +
                evaluate(c, rates, next, 1.0).open_v);
    s = next;
  }
  EXPECT_NEAR(drawn_j, c.capacity_as * c.ocv.integral(s.charge, 1.0), 1e-8 * drawn_j);
}

TEST(Cell, ASphereUnderConstantCurrentLagsByItsSeries) {
  // Crank, The Mathematics of Diffusion, eq. 6.45: under constant flux the surface settles ahead of the mean by flux
  // radius / 5 D. In charge terms, with td = r²/D: lag = (1/15) td I/Q. The three terms kept here must add to it.
  const CellParams c = full_cell();
  const double kept = c.lag_gain[0] / c.lag_rate[0] + c.lag_gain[1] / c.lag_rate[1] + c.surface_gain;
  EXPECT_NEAR(kept, 1.0 / 15.0, 2e-4);
  // 20.19 and 59.68 are the squares of the first two roots of tan x = x.
  for (double lambda : c.lag_rate) EXPECT_NEAR(std::tan(std::sqrt(lambda)), std::sqrt(lambda), 0.06);
}

TEST(Cell, LithiumSetsFollowASphereFromTheFirstSecondOn) {
  // Crank, The Mathematics of Diffusion, section 6.3: the surface lags by (2/3) sum (1 - exp(-l t/td)) / l times td
  // I/Q, l the squares of the roots of tan x = x. Followed within 9 % from 1e-4 td (a second of a cold cell) to steady.
  for (const std::string& id : test::cell_ids()) {
    CellParams c = test::catalogue_cell(id);
    if (c.lag_gain[1] == 0.0) continue;  // bound charge
    c.diffusion_shape = {};
    const CellRates rates = rates_at(c, 263.15);
    const double per_td = c.rated_ah / c.capacity_as * rates.diffusion_s;
    EXPECT_NEAR(c.lag_gain[0] / c.lag_rate[0] + c.lag_gain[1] / c.lag_rate[1] + c.surface_gain, 1.0 / 15.0, 2e-5) << id;
    for (double t = 1e-4; t < 5.0; t *= 1.5) {
      double series = 1.0 / 15.0;
      for (int n = 1; n < 400; ++n) {
        double root = (n + 0.5) * std::numbers::pi;  // tan x = x as x = atan x + n pi
        for (int k = 0; k < 30; ++k) root = n * std::numbers::pi + std::atan(root);
        series -= 2.0 / 3.0 * std::exp(-root * root * t) / (root * root);
      }
      const CellState s = advance(c, rates, CellState{}, t * rates.diffusion_s, c.rated_ah, c.rated_ah);
      const double lag = s.lag[0] + s.lag[1] + c.surface_gain * per_td;
      EXPECT_NEAR(lag / (per_td * series), 1.0, 0.09) << id << ' ' << t;
    }
  }
}

TEST(Cell, AgeingAndSizeScaleWhatTheyShould) {
  const CellParams c = full_cell();
  const CellParams old = aged(c, {.capacity_fraction = 0.8, .resistance_factor = 1.9});
  EXPECT_DOUBLE_EQ(old.capacity_as, 0.8 * c.capacity_as);
  EXPECT_DOUBLE_EQ(old.electrolyte_ohm, 1.9 * c.electrolyte_ohm);
  EXPECT_DOUBLE_EQ(old.exchange_a * 1.9, c.exchange_a);
  EXPECT_DOUBLE_EQ(old.exchange_s, 1.9 * c.exchange_s);  // the same double layer behind more resistance
  EXPECT_DOUBLE_EQ(old.series_ohm, c.series_ohm);
  EXPECT_NEAR(prior_resistance_factor(0.8), 1.8, 1e-15);
  // A cell twice the size under twice the current is the same cell.
  const CellParams big = scaled_to(c, 5.8);
  const CellRates small_rates = rates_at(c, 270.0);
  const CellRates big_rates = rates_at(big, 270.0);
  CellState a = some_state(3);
  CellState b = a;
  b.transfer_a = 2.0 * a.transfer_a;
  a = advance(c, small_rates, a, 100.0, 1.0, 1.5);
  b = advance(big, big_rates, b, 100.0, 2.0, 3.0);
  const CellPoint pa = evaluate(c, small_rates, a, 1.5);
  const CellPoint pb = evaluate(big, big_rates, b, 3.0);
  EXPECT_NEAR(pa.volts, pb.volts, 1e-12);
  EXPECT_NEAR(pa.slope_ohm, 2.0 * pb.slope_ohm, 1e-12);
}

TEST(Cell, MoreCurrentAndMoreColdNeverRaiseTheVolts) {
  for (const std::string& id : test::cell_ids()) {
    const CellParams c = test::catalogue_cell(id);
    for (double z : {0.15, 0.4, 0.7, 0.95}) {
      CellState s;
      s.charge = z;
      double before = 1e9;
      for (double rate = 0.0; rate <= 2.0; rate += 0.1) {
        s.transfer_a = rate * c.rated_ah;  // settled
        const double v = evaluate(c, rates_at(c, kReferenceK), s, rate * c.rated_ah).volts;
        EXPECT_LE(v, before) << id;
        before = v;
      }
      s.transfer_a = 0.5 * c.rated_ah;
      const auto at = [&](double t_k) { return evaluate(c, rates_at(c, t_k), s, 0.5 * c.rated_ah).volts; };
      EXPECT_LE(at(253.15), at(273.15)) << id;
      EXPECT_LE(at(273.15), at(298.15)) << id;
    }
  }
}

}  // namespace
}  // namespace tillwrap::cell
