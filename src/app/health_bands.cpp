#include "app/health_bands.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/maths.hpp"

namespace tillwrap::app {

namespace {

constexpr double kLeastResistance = 0.3;  // over new, as a journal takes it
// How the parts of a resistance, and how it rises in the cold, lie off the set's; share of it, from memory.
constexpr double kModelResistanceShare = 0.1;

}  // namespace

health::Band factor_band(double middle, double ln_sd) {
  const double factor = maths::exp(health::kBand * ln_sd);
  return {.low = middle / factor, .middle = middle, .high = middle * factor};
}

health::Band band_of(const fit::Factor& capacity) {
  return factor_band(capacity.value, std::hypot(capacity.ln_sd, std::hypot(kKindCapacityDoubt, kModelCapacityDoubt)));
}

health::Band band_of(const fit::Times& resistance, double z) {
  const double value = std::max(kLeastResistance, resistance.value);
  // What was read scatters around a number; what packs of a kind differ by, around its logarithm.
  const double kind = maths::exp(z * std::hypot(kKindResistanceDoubt, kModelResistanceShare));
  const double of = std::max(1.0, value);
  return {.low = std::max(kLeastResistance, value - std::hypot(z * resistance.sd, of * (1.0 - 1.0 / kind))),
          .middle = value,
          .high = value + std::hypot(z * resistance.sd, of * (kind - 1.0))};
}

double sd_of(const health::Band& band) { return (band.high - band.low) / (2.0 * health::kBand); }

}  // namespace tillwrap::app
