// What a fit is built of, each part by itself.
#include <gtest/gtest.h>

#include <cmath>

#include "fit/health.hpp"
#include "fit/slow.hpp"
#include "fit/trace.hpp"
#include "logs.hpp"

namespace tillwrap::test {
namespace {

fit::Log steady(const cell::CellParams& cell, double amps, double air_k, std::size_t rows, double every_s) {
  fit::Log log{.name = "steady"};
  for (std::size_t k = 0; k < rows; ++k) log.t_s.push_back(every_s * static_cast<double>(k));
  log.amps.assign(rows, amps);
  log.volts.assign(rows, 0.0);
  log.ambient_k = log.start_k = air_k;
  log.volts = fit::trace(cell, log, 1.0).volts;
  return log;
}

// Closed form: with nothing but a resistance and a straight curve of 3 to 4 V, z - I R is 0 V over the stop at z = I R.
TEST(Rating, OfACellWithNothingButAResistance) {
  cell::CellParams c;
  c.capacity_as = 3.0 * 3600.0;
  c.rated_ah = 2.8;
  c.ocv = Curve({0.0, 1.0}, {3.0, 4.0});
  c.series_ohm = 0.2;
  c.heat_capacity_j_k = 40.0;
  c.cooling_w_k = 0.2;
  EXPECT_NEAR(fit::rated_share(c, {.ah = 2.8, .amps = 0.56, .stop_v = 3.0}), 3.0 * (1.0 - 0.56 * 0.2) / 2.8, 1e-6);
}

// A tenth of the log lies 0.3 V deep, as where a cold cell's model falls too far: the rest decides the health.
TEST(Health, AStretchTheModelCannotFollowDoesNotBendTheRest) {
  const cell::CellParams set = catalogue::builtin().cell("nca")->params;
  const cell::Ageing worn{.capacity_fraction = 0.9, .resistance_factor = 1.4};
  fit::Log log = steady(cell::aged(set, worn), 0.5 * set.rated_ah, 298.15, 600, 10.0);
  for (std::size_t k = 400; k < 460; ++k) log.volts[k] -= 0.3;
  const cell::Ageing found = fit::health(set, {log}).age;
  EXPECT_NEAR(found.capacity_fraction, worn.capacity_fraction, 0.03);
  EXPECT_NEAR(found.resistance_factor, worn.resistance_factor, 0.15);
}

// The volts before the load are the rested ones: the curve ends at them, not above by what a load would have lost.
TEST(SlowDischarge, EndsAtTheRestedVoltsItBeginsWith) {
  cell::CellParams c = catalogue::builtin().cell("nca")->params;
  c.series_ohm = 0.2;
  fit::Log log = steady(c, c.rated_ah / 20.0, 298.15, 1300, 60.0);
  for (double& t : log.t_s) t += 10.0;
  log.t_s.insert(log.t_s.begin(), 0.0);
  log.amps.insert(log.amps.begin(), 0.0);
  log.volts.insert(log.volts.begin(), c.ocv.value(1.0));
  cell::CellParams found = c;
  fit::curve_from_slow(found, log, 0.0);
  EXPECT_NEAR(found.ocv.value(1.0), c.ocv.value(1.0), 0.003);  // a load would have lost 30 mV
}

}  // namespace
}  // namespace tillwrap::test
