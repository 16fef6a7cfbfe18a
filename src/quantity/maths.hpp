// Deterministic elementary functions: the same bits on every machine and in WebAssembly.
//
// Only IEEE-754 basic operations and sqrt are used (all exactly rounded), in a fixed order, compiled with
// floating-point contraction off. The C library's exp/log differ in the last bit between platforms; these do not.
// Accuracy against the C library is held by tests/quantity/maths_test.cpp (exp, log: 2 ulp; asinh: 4 ulp).
#pragma once

#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>

namespace tillwrap::maths {

// e^x. Range reduction x = k ln2 + r, |r| <= ln2/2; Taylor polynomial of degree 13, by fours: what does
// not wait for anything else is computed side by side.
// Returns 0 below -708 and +inf above 709.7 (the engine never gets there; both are ordinary values, not errors).
inline double exp(double x) {
  if (!(x > -708.0)) return x != x ? x : 0.0;
  if (x > 709.7) return std::bit_cast<double>(0x7ff0000000000000ULL);
  constexpr double kLog2E = 1.4426950408889634074;
  constexpr double kLn2Hi = 6.93147180369123816490e-01;  // upper bits of ln 2; k * kLn2Hi is exact
  constexpr double kLn2Lo = 1.90821492927058770002e-10;
  // To the nearest whole number: what does not fit above 1 is rounded away.
  constexpr double kWhole = 6755399441055744.0;  // 1.5 x 2^52
  const double kd = (x * kLog2E + kWhole) - kWhole;
  const double r = (x - kd * kLn2Hi) - kd * kLn2Lo;
  const double r2 = r * r;
  const double r4 = r2 * r2;
  const double low = (0.5 + r * (1.0 / 6.0)) + r2 * (1.0 / 24.0 + r * (1.0 / 120.0));
  const double middle = (1.0 / 720.0 + r * (1.0 / 5040.0)) + r2 * (1.0 / 40320.0 + r * (1.0 / 362880.0));
  const double high = (1.0 / 3628800.0 + r * (1.0 / 39916800.0)) + r2 * (1.0 / 479001600.0 + r * (1.0 / 6227020800.0));
  const double p = (low + r4 * (middle + r4 * high)) * r2 + r + 1.0;
  const auto k = static_cast<std::int64_t>(kd);
  if (k > 1023) return p * 2.0 * std::bit_cast<double>(static_cast<std::uint64_t>(k + 1022) << 52U);
  return p * std::bit_cast<double>(static_cast<std::uint64_t>(k + 1023) << 52U);
}

// ln((1 + f) / (1 - f)) for |f| <= 0.25: odd series to f^23, whose rest is below 2e-16 of it.
inline double log_of_ratio(double f) {
  const double s = f * f;
  const double s2 = s * s;
  const double s4 = s2 * s2;
  const double low = (1.0 / 3.0 + s * (1.0 / 5.0)) + s2 * (1.0 / 7.0 + s * (1.0 / 9.0));
  const double middle = (1.0 / 11.0 + s * (1.0 / 13.0)) + s2 * (1.0 / 15.0 + s * (1.0 / 17.0));
  const double high = (1.0 / 19.0 + s * (1.0 / 21.0)) + s2 * (1.0 / 23.0);
  return 2.0 * f + 2.0 * f * s * (low + s4 * (middle + s4 * high));
}

// Natural logarithm of a positive normal number; log of zero or less is -inf / NaN as in IEEE.
inline double log(double x) {
  if (!(x > 0.0))
    return x == 0.0 ? -std::bit_cast<double>(0x7ff0000000000000ULL)
                    : x - x + std::bit_cast<double>(0x7ff8000000000000ULL);
  std::uint64_t bits = std::bit_cast<std::uint64_t>(x);
  if ((bits >> 52U) == 0x7ffU) return x;
  int e = 0;
  if ((bits >> 52U) == 0) {  // subnormal: scale up first
    bits = std::bit_cast<std::uint64_t>(x * 18014398509481984.0);
    e = -54;
  }
  e += static_cast<int>(bits >> 52U) - 1023;
  double m = std::bit_cast<double>((bits & 0x000fffffffffffffULL) | 0x3ff0000000000000ULL);
  if (m > 1.41421356237309504880) {
    m *= 0.5;
    e += 1;
  }
  const double lnm = log_of_ratio((m - 1.0) / (m + 1.0));
  constexpr double kLn2Hi = 6.93147180369123816490e-01;
  constexpr double kLn2Lo = 1.90821492927058770002e-10;
  const double ed = e;
  return ed * kLn2Hi + (lnm + ed * kLn2Lo);
}

// asinh a = a - a^3/6 + 3a^5/40 - ...: coefficients (-1)^n (2n)! / (4^n n!^2 (2n+1)).
inline constexpr std::array<double, 14> kAsinhSeries = [] {
  std::array<double, 14> c{};
  double b = 1.0;
  for (int n = 0; n < 14; ++n) {
    c[static_cast<std::size_t>(n)] = b / (2.0 * n + 1.0);
    b = -b * (2.0 * n + 1.0) / (2.0 * n + 2.0);
  }
  return c;
}();

// Inverse hyperbolic sine of x, whose sqrt(1 + x^2) is known. Series near zero (no cancellation; what is left out is
// below 1e-17 of the answer), logarithm elsewhere.
inline double asinh(double x, double root) {
  const double a = x < 0.0 ? -x : x;
  double y = 0.0;
  if (a < 0.25) {
    const double s = a * a;
    const double s2 = s * s;
    const auto pair = [&](std::size_t n) { return kAsinhSeries[n] + s * kAsinhSeries[n + 1]; };
    double p = pair(0) + s2 * (pair(2) + s2 * pair(4));
    if (a >= 0.045) p += s2 * s2 * s2 * ((pair(6) + s2 * pair(8)) + s2 * s2 * (pair(10) + s2 * pair(12)));
    y = a * p;
  } else if (a < 0.53) {  // ln(1 + t), which a logarithm of 1 + t would lose digits of
    const double t = a + a * a / (1.0 + root);
    y = log_of_ratio(t / (2.0 + t));
  } else if (a < 1e8) {
    y = log(a + root);
  } else {
    y = log(a) + 0.693147180559945309417;
  }
  return x < 0.0 ? -y : y;
}
inline double asinh(double x) { return asinh(x, std::sqrt(x * x + 1.0)); }

// x^y for x > 0.
inline double pow(double x, double y) { return exp(y * log(x)); }

}  // namespace tillwrap::maths
