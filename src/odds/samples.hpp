// Scrambled quasi-random points and the normal distribution: the same bits everywhere for the same seed.
#pragma once

#include <cstdint>

namespace tillwrap::odds {

inline constexpr int kDimensions = 16;

// Coordinate `dimension` of point `index` of the Sobol sequence (direction numbers of Joe and Kuo, SIAM J. Sci. Comput.
// 30(5) 2635, 2008), in the open interval (0, 1), with a nested uniform (Owen) scramble by hashing (Laine and Karras,
// Comput. Graph. Forum 30(4), 2011). 0 <= dimension < kDimensions.
double scrambled_sobol(std::uint32_t index, int dimension, std::uint64_t seed);
// The bare sequence as 32-bit fractions, for tests.
std::uint32_t sobol_bits(std::uint32_t index, int dimension);

// An independent uniform number in (0, 1) for what is too many-dimensional for the sequence.
double hashed_uniform(std::uint32_t index, std::uint32_t stream, std::uint64_t seed);

// Inverse of the standard normal distribution: Wichura's AS 241 (PPND16), J. R. Stat. Soc. C 37(3) 477, 1988; relative
// error about 1e-16. 0 < p < 1.
double normal_quantile(double p);

}  // namespace tillwrap::odds
