#include "wiring/wire.hpp"

#include <array>
#include <cmath>

#include "quantity/maths.hpp"

namespace tillwrap::wiring {
namespace {

struct Class5 {
  double area_mm2;
  double ohm_per_km;
};

// IEC 60228, class 5, plain copper, greatest resistance at 20 °C, as quoted by a secondary source. The series starts at
// 0.5 mm2.
constexpr std::array<Class5, 5> kClass5 = {{{0.5, 39.0}, {0.75, 26.0}, {1.0, 19.5}, {1.5, 13.3}, {2.5, 7.98}}};

}  // namespace

double awg_diameter_mm(int awg) { return 0.127 * maths::pow(92.0, (36.0 - awg) / 39.0); }

double awg_area_mm2(int awg) {
  constexpr double kQuarterPi = 0.78539816339744830962;
  const double diameter_mm = awg_diameter_mm(awg);
  return kQuarterPi * diameter_mm * diameter_mm;
}

double copper_temperature_factor(double temperature_k) {
  return 1.0 + kCopperAlphaPerK * (temperature_k - kWireReferenceK);
}

double awg_ohm_per_m(int awg, double temperature_k) {
  return kCopperOhmMm2PerM / awg_area_mm2(awg) * copper_temperature_factor(temperature_k);
}

double class5_ohm_per_m(double area_mm2) {
  for (const Class5& row : kClass5) {
    if (std::fabs(row.area_mm2 - area_mm2) < 1e-9) return row.ohm_per_km * 1e-3;
  }
  return 0.0;
}

bool is_class5_size(double area_mm2) { return class5_ohm_per_m(area_mm2) > 0.0; }

double area_ohm_per_m(double area_mm2, double temperature_k) {
  const double ohm_per_m = is_class5_size(area_mm2) ? class5_ohm_per_m(area_mm2) : kCopperOhmMm2PerM / area_mm2;
  return ohm_per_m * copper_temperature_factor(temperature_k);
}

double pair_ohm(double ohm_per_m, double length_m) { return 2.0 * ohm_per_m * length_m; }

double ampacity_a(double area_mm2) {
  constexpr double kSmallMm2 = 0.5;
  constexpr double kLargeMm2 = 2.5;
  constexpr double kSmallAPerMm2 = 10.0;
  constexpr double kLargeAPerMm2 = 6.4;
  if (area_mm2 <= kSmallMm2) return kSmallAPerMm2 * area_mm2;
  if (area_mm2 >= kLargeMm2) return kLargeAPerMm2 * area_mm2;
  const double part = (area_mm2 - kSmallMm2) / (kLargeMm2 - kSmallMm2);
  return area_mm2 * (kSmallAPerMm2 + (kLargeAPerMm2 - kSmallAPerMm2) * part);
}

}  // namespace tillwrap::wiring
