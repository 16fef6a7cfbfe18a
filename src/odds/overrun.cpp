#include "odds/overrun.hpp"

#include <algorithm>
#include <cmath>

#include "odds/draw.hpp"
#include "odds/samples.hpp"

namespace tillwrap::odds {

static_assert(kOverrunDimension >= kCommonDimensions);

double overrun_on(std::uint32_t day, std::uint64_t seed, double spread, double most_s) {
  const double late = std::fabs(normal_quantile(scrambled_sobol(day, kOverrunDimension, seed)));
  return most_s * std::min(1.0, spread * late);
}

}  // namespace tillwrap::odds
