// Copper wire: size, resistance, temperature, and what it may carry.
//
// AWG by ASTM B258: d = 0.127 mm * 92^((36 - n)/39). Resistance R20 = rho L / A with the standard annealed copper of
// IEC 60028, rho = 1/58 ohm mm2/m at 20 °C, and R(T) = R20 (1 + alpha (T - 293.15 K)), alpha = 0.00393/K.
#pragma once

namespace tillwrap::wiring {

inline constexpr double kCopperOhmMm2PerM = 1.0 / 58.0;
inline constexpr double kCopperAlphaPerK = 0.00393;
inline constexpr double kWireReferenceK = 293.15;  // 20 °C

double awg_diameter_mm(int awg);
double awg_area_mm2(int awg);

// Factor on the 20 °C resistance.
double copper_temperature_factor(double temperature_k);

// One conductor, ohm per metre. By gauge: solid copper of that cross-section.
double awg_ohm_per_m(int awg, double temperature_k = kWireReferenceK);

// By area: the greatest resistance IEC 60228 allows plain class 5 conductors where the area is a size of that standard
// (0.5 to 2.5 mm2), otherwise from the resistivity.
double area_ohm_per_m(double area_mm2, double temperature_k = kWireReferenceK);
bool is_class5_size(double area_mm2);
double class5_ohm_per_m(double area_mm2);  // 20 °C; 0 when not a size of the table

// Loop of two conductors of `length_m` each.
double pair_ohm(double ohm_per_m, double length_m);

// Amps a short cable of that cross-section carries in free air (common practice): 10 A/mm2 up to 0.5 mm2, easing to
// 6.4 A/mm2 at 2.5 mm2, in a straight line over the area.
double ampacity_a(double area_mm2);

}  // namespace tillwrap::wiring
