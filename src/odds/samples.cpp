#include "odds/samples.hpp"

#include <array>
#include <cmath>

#include "quantity/maths.hpp"

namespace tillwrap::odds {

namespace {

// Degree, coefficient word and first direction numbers of each dimension after the first.
struct Primitive {
  unsigned degree;
  unsigned coefficients;
  std::array<unsigned, 6> first;
};
constexpr std::array<Primitive, kDimensions - 1> kPrimitives{{{1, 0, {1}},
                                                              {2, 1, {1, 3}},
                                                              {3, 1, {1, 3, 1}},
                                                              {3, 2, {1, 1, 1}},
                                                              {4, 1, {1, 1, 3, 3}},
                                                              {4, 4, {1, 3, 5, 13}},
                                                              {5, 2, {1, 1, 5, 5, 17}},
                                                              {5, 4, {1, 1, 5, 5, 5}},
                                                              {5, 7, {1, 1, 7, 11, 19}},
                                                              {5, 11, {1, 1, 5, 1, 1}},
                                                              {5, 13, {1, 1, 1, 3, 11}},
                                                              {5, 14, {1, 3, 5, 5, 31}},
                                                              {6, 1, {1, 3, 3, 9, 7, 49}},
                                                              {6, 13, {1, 1, 1, 15, 21, 21}},
                                                              {6, 16, {1, 3, 1, 13, 27, 49}}}};

using Directions = std::array<std::array<std::uint32_t, 32>, kDimensions>;

constexpr Directions make_directions() {
  Directions v{};
  for (unsigned k = 0; k < 32; ++k) v[0][k] = 1U << (31U - k);
  for (std::size_t d = 1; d < kDimensions; ++d) {
    const Primitive& p = kPrimitives[d - 1];
    for (unsigned k = 0; k < 32; ++k) {
      if (k < p.degree) {
        v[d][k] = p.first[k] << (31U - k);
        continue;
      }
      std::uint32_t bits = v[d][k - p.degree] ^ (v[d][k - p.degree] >> p.degree);
      for (unsigned j = 1; j < p.degree; ++j) {
        if ((p.coefficients >> (p.degree - 1 - j)) & 1U) bits ^= v[d][k - j];
      }
      v[d][k] = bits;
    }
  }
  return v;
}

constexpr Directions kDirections = make_directions();

std::uint64_t mixed(std::uint64_t x) {  // splitmix64's finaliser
  x ^= x >> 30U;
  x *= 0xbf58476d1ce4e5b9ULL;
  x ^= x >> 27U;
  x *= 0x94d049bb133111ebULL;
  return x ^ (x >> 31U);
}

std::uint32_t reversed(std::uint32_t x) {
  x = (x >> 16U) | (x << 16U);
  x = ((x & 0x00ff00ffU) << 8U) | ((x & 0xff00ff00U) >> 8U);
  x = ((x & 0x0f0f0f0fU) << 4U) | ((x & 0xf0f0f0f0U) >> 4U);
  x = ((x & 0x33333333U) << 2U) | ((x & 0xccccccccU) >> 2U);
  return ((x & 0x55555555U) << 1U) | ((x & 0xaaaaaaaaU) >> 1U);
}

// Each bit is flipped by a hash of the bits above it only, so the stratification of the sequence is kept.
std::uint32_t owen_scrambled(std::uint32_t x, std::uint32_t seed) {
  x = reversed(x);
  x ^= x * 0x3d20adeaU;
  x += seed;
  x *= (seed >> 16U) | 1U;
  x ^= x * 0x05526c56U;
  x ^= x * 0x53a22864U;
  return reversed(x);
}

double unit(std::uint32_t bits) { return (static_cast<double>(bits) + 0.5) / 4294967296.0; }

double polynomial(double x, const std::array<double, 8>& c) {
  double y = c[7];
  for (int i = 6; i >= 0; --i) y = y * x + c[static_cast<std::size_t>(i)];
  return y;
}

}  // namespace

std::uint32_t sobol_bits(std::uint32_t index, int dimension) {
  std::uint32_t bits = 0;
  const auto& v = kDirections[static_cast<std::size_t>(dimension)];
  for (std::size_t k = 0; index != 0; ++k, index >>= 1U) {
    if (index & 1U) bits ^= v[k];
  }
  return bits;
}

double scrambled_sobol(std::uint32_t index, int dimension, std::uint64_t seed) {
  const std::uint64_t own = mixed(seed * 0x9e3779b97f4a7c15ULL + static_cast<std::uint64_t>(dimension) + 1);
  return unit(owen_scrambled(sobol_bits(index, dimension), static_cast<std::uint32_t>(own)));
}

double hashed_uniform(std::uint32_t index, std::uint32_t stream, std::uint64_t seed) {
  const std::uint64_t bits =
      mixed(mixed(seed + 0x9e3779b97f4a7c15ULL * (stream + 1ULL)) + index * 0xd1342543de82ef95ULL);
  return unit(static_cast<std::uint32_t>(bits >> 32U));
}

double normal_quantile(double p) {
  const double q = p - 0.5;
  if (std::fabs(q) <= 0.425) {
    const double r = 0.180625 - q * q;
    return q *
           polynomial(r, {3.3871328727963666080, 1.3314166789178437745e2, 1.9715909503065514427e3,
                          1.3731693765509461125e4, 4.5921953931549871457e4, 6.7265770927008700853e4,
                          3.3430575583588128105e4, 2.5090809287301226727e3}) /
           polynomial(
               r, {1.0, 4.2313330701600911252e1, 6.8718700749205790830e2, 5.3941960214247511077e3,
                   2.1213794301586595867e4, 3.9307895800092710610e4, 2.8729085735721942674e4, 5.2264952788528545610e3});
  }
  double r = std::sqrt(-maths::log(q < 0.0 ? p : 1.0 - p));
  double x = 0.0;
  if (r <= 5.0) {
    r -= 1.6;
    x = polynomial(r, {1.42343711074968357734, 4.63033784615654529590, 5.76949722146069140550, 3.64784832476320460504,
                       1.27045825245236838258, 2.41780725177450611770e-1, 2.27238449892691845833e-2,
                       7.74545014278341407640e-4}) /
        polynomial(r, {1.0, 2.05319162663775882187, 1.67638483018380384940, 6.89767334985100004550e-1,
                       1.48103976427480074590e-1, 1.51986665636164571966e-2, 5.47593808499534494600e-4,
                       1.05075007164441684324e-9});
  } else {
    r -= 5.0;
    x = polynomial(r, {6.65790464350110377720, 5.46378491116411436990, 1.78482653991729133580,
                       2.96560571828504891230e-1, 2.65321895265761230930e-2, 1.24266094738807843860e-3,
                       2.71155556874348757815e-5, 2.01033439929228813265e-7}) /
        polynomial(r, {1.0, 5.99832206555887937690e-1, 1.36929880922735805310e-1, 1.48753612908506148525e-2,
                       7.86869131145613259100e-4, 1.84631831751005468180e-5, 1.42151175831644588870e-7,
                       2.04426310338993978564e-15});
  }
  return q < 0.0 ? -x : x;
}

}  // namespace tillwrap::odds
