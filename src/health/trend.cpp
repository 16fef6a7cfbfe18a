#include "health/trend.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::health {

namespace {

constexpr double kLeastSd = 0.01;      // no test of a pack is better (common practice, no source)
constexpr double kTwinsDiffer = 0.05;  // below this packs of one purchase differ anyway (common practice, no source)

// Normal equations of rows (1, t) / sd.
struct Sums {
  double w = 0.0, wt = 0.0, wtt = 0.0, wy = 0.0, wty = 0.0;
  void add(double t, double y, double sd) {
    const double weight = 1.0 / (sd * sd);
    w += weight;
    wt += weight * t;
    wtt += weight * t * t;
    wy += weight * y;
    wty += weight * t * y;
  }
};

Trend solved(const std::vector<Result>& results, const Prior& prior, double scatter) {
  Sums s;
  s.add(prior.new_at_years, prior.new_value, prior.new_sd);
  for (const Result& result : results) s.add(result.at_years, result.value, scatter * std::max(result.sd, kLeastSd));
  const double rate_weight = 1.0 / (prior.rate_sd * prior.rate_sd);
  s.wtt += rate_weight;
  s.wty += rate_weight * prior.rate;
  const double det = s.w * s.wtt - s.wt * s.wt;
  return {.value = (s.wtt * s.wy - s.wt * s.wty) / det,
          .rate = (s.w * s.wty - s.wt * s.wy) / det,
          .value_var = s.wtt / det,
          .rate_var = s.w / det,
          .covariance = -s.wt / det,
          .scatter = scatter,
          .results = results.size()};
}

double var_at(const Trend& t, double years) {
  return t.value_var + 2.0 * years * t.covariance + years * years * t.rate_var;
}

}  // namespace

Prior capacity_prior(double new_at_years) {
  return {.new_at_years = new_at_years, .new_value = 1.0, .new_sd = 0.03, .rate = -0.05, .rate_sd = 0.03};
}

Prior resistance_prior(double new_at_years) {
  return {.new_at_years = new_at_years, .new_value = 1.0, .new_sd = 0.15, .rate = 0.2, .rate_sd = 0.2};
}

Trend trend(const std::vector<Result>& results, const Prior& prior) {
  Trend out = solved(results, prior, 1.0);
  if (results.size() < 3) return out;
  // Chi squared over its degrees of freedom, the two prior statements counting as the two that the line takes.
  double chi = 0.0;
  for (const Result& result : results) {
    const double off = (result.value - out.value - out.rate * result.at_years) / std::max(result.sd, kLeastSd);
    chi += off * off;
  }
  const double scatter = std::sqrt(chi / static_cast<double>(results.size()));
  return scatter > 1.0 ? solved(results, prior, scatter) : out;
}

Band value_at(const Trend& t, double at_years) {
  const double middle = t.value + t.rate * at_years;
  const double half = kBand * std::sqrt(std::max(0.0, var_at(t, at_years)));
  return {.low = middle - half, .middle = middle, .high = middle + half};
}

Crossing falls_to(const Trend& t, double limit, double horizon_years) {
  Crossing out;
  const auto within = [&](double years) { return years <= horizon_years ? std::optional(years) : std::nullopt; };
  if (t.rate < 0.0) out.middle = within((limit - t.value) / t.rate);
  // (a + b t - limit)^2 = z^2 variance at t: A t^2 + 2 B t + C = 0. The band's lower edge meets the limit at one root,
  // its upper edge at the other; where the rate may well be zero (A <= 0) the upper edge never comes down.
  const double z2 = kBand * kBand;
  const double a = t.rate * t.rate - z2 * t.rate_var;
  const double b = t.rate * (t.value - limit) - z2 * t.covariance;
  const double c = (t.value - limit) * (t.value - limit) - z2 * t.value_var;
  const double root2 = b * b - a * c;
  if (root2 < 0.0) return out;
  const double root = std::sqrt(root2);
  const auto edge = [&](double years, double sign) {
    const Band band = value_at(t, years);
    return std::fabs((sign < 0.0 ? band.low : band.high) - limit) < 1e-6;
  };
  for (const double years :
       {a != 0.0 ? (-b - root) / a : -c / (2.0 * b), a != 0.0 ? (-b + root) / a : -c / (2.0 * b)}) {
    if (!std::isfinite(years)) continue;
    // The first time the lower edge is at the limit, and the last time the upper edge is, each on its way down.
    const double later = value_at(t, years + 1e-3).low;
    if (edge(years, -1.0) && later < limit && (!out.low || years < *out.low)) out.low = within(years);
    if (edge(years, 1.0) && value_at(t, years + 1e-3).high < limit) out.high = within(years);
  }
  return out;
}

Difference compared(const Band& one, const Band& other) {
  const double sd_one = (one.high - one.low) / (2.0 * kBand);
  const double sd_other = (other.high - other.low) / (2.0 * kBand);
  Difference out{.less = other.middle - one.middle, .sd = std::sqrt(sd_one * sd_one + sd_other * sd_other)};
  out.weak = out.less > kTwinsDiffer && out.less > kBand * out.sd;
  return out;
}

}  // namespace tillwrap::health
