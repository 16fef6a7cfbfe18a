// What is found of a pack's health as bands that hold nine times in ten, with what packs of a kind differ by.
#pragma once

#include "fit/factor.hpp"
#include "health/trend.hpp"

namespace tillwrap::app {

// How far a new pack of a kind lies from the catalogue's, one standard deviation of ln(value); common practice, no
// source. A parameter file is this very cell as new: nothing on top. And what the model itself is good for
// (docs/model.md: 1C discharges within 0.5 %, unseen ones 3 %).
inline constexpr double kKindCapacityDoubt = 0.03;
inline constexpr double kKindResistanceDoubt = 0.3;
inline constexpr double kModelCapacityDoubt = 0.012;

// A factor around `middle` with a spread of its logarithm.
health::Band factor_band(double middle, double ln_sd);

// Over new, of a pack of a kind in use.
health::Band band_of(const fit::Factor& capacity);
// Never below what a tested resistance may be. `z`: normal quantile of its ends.
health::Band band_of(const fit::Times& resistance, double z = health::kBand);

double sd_of(const health::Band& band);

}  // namespace tillwrap::app
