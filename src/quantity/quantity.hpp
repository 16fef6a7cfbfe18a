// Strong quantity types for public boundaries: a voltage cannot be passed where a current is wanted.
//
// A quantity is a double in SI units with its dimension in the type (exponents of metre, kilogram, second, ampere,
// kelvin). Products and quotients get the right dimension, so `Volts * Amps` is `Watts` and `Watts * Seconds` is
// `Joules`. Inside a folder, hot loops use plain doubles whose names end in the unit (`load_w`, `charge_as`).
#pragma once

#include <compare>

namespace tillwrap {

template <int Metre, int Kilogram, int Second, int Ampere, int Kelvin>
struct Quantity {
  double si = 0.0;  // value in the coherent SI unit of this dimension

  friend constexpr auto operator<=>(const Quantity&, const Quantity&) = default;
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return {a.si + b.si}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return {a.si - b.si}; }
  friend constexpr Quantity operator-(Quantity a) { return {-a.si}; }
  friend constexpr Quantity operator*(Quantity a, double k) { return {a.si * k}; }
  friend constexpr Quantity operator*(double k, Quantity a) { return {a.si * k}; }
  friend constexpr Quantity operator/(Quantity a, double k) { return {a.si / k}; }
};

template <int M1, int K1, int S1, int A1, int T1, int M2, int K2, int S2, int A2, int T2>
constexpr Quantity<M1 + M2, K1 + K2, S1 + S2, A1 + A2, T1 + T2> operator*(Quantity<M1, K1, S1, A1, T1> a,
                                                                          Quantity<M2, K2, S2, A2, T2> b) {
  return {a.si * b.si};
}

template <int M1, int K1, int S1, int A1, int T1, int M2, int K2, int S2, int A2, int T2>
constexpr Quantity<M1 - M2, K1 - K2, S1 - S2, A1 - A2, T1 - T2> operator/(Quantity<M1, K1, S1, A1, T1> a,
                                                                          Quantity<M2, K2, S2, A2, T2> b) {
  return {a.si / b.si};
}

using Ratio = Quantity<0, 0, 0, 0, 0>;
using Metres = Quantity<1, 0, 0, 0, 0>;
using SquareMetres = Quantity<2, 0, 0, 0, 0>;
using Kilograms = Quantity<0, 1, 0, 0, 0>;
using Seconds = Quantity<0, 0, 1, 0, 0>;
using Amps = Quantity<0, 0, 0, 1, 0>;
using Kelvins = Quantity<0, 0, 0, 0, 1>;  // absolute temperature, or a difference
using Coulombs = Quantity<0, 0, 1, 1, 0>;
using Volts = Quantity<2, 1, -3, -1, 0>;
using Watts = Quantity<2, 1, -3, 0, 0>;
using Joules = Quantity<2, 1, -2, 0, 0>;
using Ohms = Quantity<2, 1, -3, -2, 0>;
using OhmMetres = Quantity<3, 1, -3, -2, 0>;
using OhmsPerMetre = Quantity<1, 1, -3, -2, 0>;
using Farads = Quantity<-2, -1, 4, 2, 0>;
using JoulesPerKelvin = Quantity<2, 1, -2, 0, -1>;
using WattsPerKelvin = Quantity<2, 1, -3, 0, -1>;

inline constexpr double kZeroCelsiusK = 273.15;
inline constexpr double kReferenceK = 298.15;  // 25 °C, where cell constants are quoted
inline constexpr double kSecondsPerHour = 3600.0;

constexpr Kelvins celsius(double degrees) { return {degrees + kZeroCelsiusK}; }
constexpr double to_celsius(Kelvins t) { return t.si - kZeroCelsiusK; }
constexpr Coulombs amp_hours(double ah) { return {ah * kSecondsPerHour}; }
constexpr double to_amp_hours(Coulombs q) { return q.si / kSecondsPerHour; }
constexpr Joules watt_hours(double wh) { return {wh * kSecondsPerHour}; }
constexpr double to_watt_hours(Joules e) { return e.si / kSecondsPerHour; }
constexpr SquareMetres square_millimetres(double mm2) { return {mm2 * 1e-6}; }

}  // namespace tillwrap
