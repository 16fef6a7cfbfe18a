#include "fit/factor.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "quantity/maths.hpp"

namespace tillwrap::fit {

namespace {

constexpr double kLeastResistance = 0.15;
constexpr double kMostSd = 2.0;

double sd_alone(double variance, double spread) {
  return variance < 1.0 ? spread * std::sqrt(variance / (1.0 - variance)) : std::numeric_limits<double>::infinity();
}

}  // namespace

double resistance_at(double x) { return std::max(kLeastResistance, kResistanceMiddle + kResistanceSpread * x); }

std::optional<Factor> alone(double mean, double variance, double prior_ln_sd, double most) {
  const double ln_sd = sd_alone(variance, prior_ln_sd);
  if (!(ln_sd <= most)) return std::nullopt;
  return Factor{maths::exp(prior_ln_sd * mean / (1.0 - variance)), ln_sd};
}

double resistance_sd_alone(double variance) { return sd_alone(variance, kResistanceSpread); }

std::optional<Times> resistance_alone(double mean, double variance) {
  const double sd = resistance_sd_alone(variance);
  if (!(sd <= kMostSd)) return std::nullopt;
  return Times{kResistanceMiddle + kResistanceSpread * mean / (1.0 - variance), sd};
}

}  // namespace tillwrap::fit
