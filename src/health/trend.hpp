// How a pack ages: a straight line through its test results, with what is known before any test (docs/model.md).
//
//   y(t) = a + b t,  t in years after `origin`; weighted least squares of the results and of two prior statements,
//   y(new) = 1 and b = the usual rate, each with its spread
//
// Band of a value and of the time at which the line passes a limit: 90 %. The second by Fieller (J. R. Stat. Soc. B
// 16(2) 175, 1954): the times at which the limit lies inside the value's band.
#pragma once

#include <optional>
#include <vector>

namespace tillwrap::health {

inline constexpr double kBand = 1.6448536269514722;  // normal quantile of 95 %: a two-sided band of 90 %
inline constexpr double kRetireBelow = 0.8;          // of the capacity as new; common practice, no source

struct Result {
  double at_years = 0.0;
  double value = 1.0;
  double sd = 0.0;  // > 0
};

struct Prior {
  double new_at_years = 0.0;  // when it was new
  double new_value = 1.0;
  double new_sd = 0.03;
  double rate = 0.0;  // per year
  double rate_sd = 1.0;
};
// Capacity: 5 % a year lost, give or take 3 % (packs serve three to five years to 80 %; common practice, no source).
Prior capacity_prior(double new_at_years);
// Resistance: 1 + 4 (1 - c) with that (docs/model.md, ageing), give or take as much.
Prior resistance_prior(double new_at_years);

struct Trend {
  double value = 1.0;  // a
  double rate = 0.0;   // b, per year
  double value_var = 0.0, rate_var = 0.0, covariance = 0.0;
  double scatter = 1.0;  // the results' spread over the stated one, at least 1 (Birge, Phys. Rev. 40 207, 1932)
  std::size_t results = 0;
};
Trend trend(const std::vector<Result>& results, const Prior& prior);

struct Band {
  double low = 0.0;
  double middle = 0.0;
  double high = 0.0;
};
Band value_at(const Trend& trend, double at_years);

// When the line falls to `limit`. Nothing for an end that lies beyond `horizon_years` or does not exist; `middle` is
// nothing as well where the line does not fall.
struct Crossing {
  std::optional<double> low, middle, high;  // years; may lie in the past
};
Crossing falls_to(const Trend& trend, double limit, double horizon_years);

// Two packs bought together: how much less the first holds than the second, and whether that is more than chance.
struct Difference {
  double less = 0.0;
  double sd = 0.0;
  bool weak = false;
};
Difference compared(const Band& one, const Band& other);

}  // namespace tillwrap::health
