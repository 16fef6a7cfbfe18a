// The monotone curve against Boost's implementation of the same published method, and against its own definition.
#include "quantity/curve.hpp"

#include <gtest/gtest.h>
#include <math.h>  // Boost 1.74 calls isnan without a namespace

#include <boost/math/interpolators/pchip.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <stdexcept>

namespace tillwrap {
namespace {

// Open-circuit volts of an LCO cell at 25 °C: the Linux kernel's ab8500 battery tables.
const std::vector<double> kCharge{0.00, 0.01, 0.02, 0.04, 0.06, 0.09, 0.15, 0.20, 0.30,
                                  0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95, 1.00};
const std::vector<double> kVolts{3.094, 3.317, 3.424, 3.556, 3.638, 3.672, 3.705, 3.730, 3.768,
                                 3.787, 3.812, 3.866, 3.926, 3.990, 4.068, 4.114, 4.186};

TEST(Curve, AgreesWithBoostPchipBetweenInnerKnots) {
  const Curve curve(kCharge, kVolts);
  auto x = kCharge;
  auto y = kVolts;
  const boost::math::interpolators::pchip<std::vector<double>> reference(std::move(x), std::move(y));
  // The end slopes are a free choice of each implementation: compare where neither end interval is used.
  for (int k = 0; k <= 1000; ++k) {
    const double z = kCharge[1] + (kCharge[kCharge.size() - 2] - kCharge[1]) * k / 1000.0;
    EXPECT_NEAR(curve.value(z), reference(z), 1e-12) << z;
    EXPECT_NEAR(curve.at(z).slope, reference.prime(z), 1e-9) << z;
  }
}

TEST(Curve, PassesThroughItsKnotsAndNeverBendsBack) {
  const Curve curve(kCharge, kVolts);
  for (std::size_t k = 0; k < kCharge.size(); ++k) EXPECT_NEAR(curve.value(kCharge[k]), kVolts[k], 1e-14);
  double before = curve.value(-0.2);
  for (int k = 1; k <= 14000; ++k) {
    const double v = curve.value(-0.2 + k * 1e-4);
    EXPECT_GE(v, before);
    before = v;
  }
}

TEST(Curve, StaysInsideTheKnotsOfAStep) {
  const Curve curve({0, 1, 2, 3, 4}, {0, 0, 1, 1, 1});
  for (int k = 0; k <= 400; ++k) {
    EXPECT_GE(curve.value(k * 0.01), 0.0);
    EXPECT_LE(curve.value(k * 0.01), 1.0);
  }
}

TEST(Curve, ReproducesAStraightLineAndContinuesIt) {
  const Curve curve({0, 0.1, 0.4, 0.5, 1}, {1, 1.2, 1.8, 2.0, 3.0});
  for (double x = -1.0; x < 2.0; x += 0.037) {
    EXPECT_NEAR(curve.value(x), 1.0 + 2.0 * x, 1e-13);
    EXPECT_NEAR(curve.at(x).slope, 2.0, 1e-12);
    EXPECT_NEAR(curve.integral(-0.5, x), x + x * x - (-0.5 + 0.25), 1e-13);
  }
}

TEST(Curve, SlopeIsTheDerivative) {
  const Curve curve(kCharge, kVolts);
  for (double x = -0.05; x < 1.05; x += 0.00731) {
    const double h = 1e-6;
    EXPECT_NEAR(curve.at(x).slope, (curve.value(x + h) - curve.value(x - h)) / (2 * h),
                1e-4 * curve.at(x).slope + 1e-5);
  }
}

TEST(Curve, IntegralAgreesWithGaussKronrod) {
  const Curve curve(kCharge, kVolts);
  // Interval by interval, where the curve is one cubic and the quadrature exact.
  double sum = 0.0;
  for (std::size_t k = 0; k + 1 < kCharge.size(); ++k) {
    sum += boost::math::quadrature::gauss_kronrod<double, 15>::integrate([&](double z) { return curve.value(z); },
                                                                         kCharge[k], kCharge[k + 1], 0);
  }
  EXPECT_NEAR(curve.integral(0.0, 1.0), sum, 1e-12);
  EXPECT_NEAR(curve.integral(0.3, 0.8) + curve.integral(0.8, 0.3), 0.0, 1e-15);
}

TEST(Curve, InverseUndoesValue) {
  const Curve curve(kCharge, kVolts);
  for (double x = -0.02; x < 1.02; x += 0.0017) EXPECT_NEAR(curve.inverse(curve.value(x)), x, 1e-11);
}

TEST(Curve, RefusesKnotsItCannotUse) {
  EXPECT_THROW(Curve({0.0}, {1.0}), std::invalid_argument);
  EXPECT_THROW(Curve({0.0, 1.0}, {1.0}), std::invalid_argument);
  EXPECT_THROW(Curve({0.0, 0.0}, {1.0, 2.0}), std::invalid_argument);
  EXPECT_THROW(Curve({0.0, std::nan("")}, {1.0, 2.0}), std::invalid_argument);
}

}  // namespace
}  // namespace tillwrap
