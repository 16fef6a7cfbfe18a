#include "choose/sure.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace tillwrap::choose {

double binomial_tail(int days, int least, double probability) {
  if (least <= 0) return 1.0;
  if (least > days || probability <= 0.0) return 0.0;
  if (probability >= 1.0) return 1.0;
  const double odds = probability / (1.0 - probability);
  const int mode = std::min(days, static_cast<int>((days + 1) * probability));
  double all = 1.0;
  double tail = mode >= least ? 1.0 : 0.0;
  double term = 1.0;
  for (int k = mode; k < days; ++k) {
    term *= odds * (days - k) / (k + 1.0);
    all += term;
    if (k + 1 >= least) tail += term;
  }
  term = 1.0;
  for (int k = mode; k > 0; --k) {
    term *= k / (odds * (days - k + 1.0));
    all += term;
    if (k - 1 >= least) tail += term;
  }
  return tail / all;
}

double lower_limit(int days, int covered, double confidence) {
  if (covered <= 0) return 0.0;
  double low = 0.0;
  double high = 1.0;
  for (int round = 0; round < 60; ++round) {
    const double middle = 0.5 * (low + high);
    (binomial_tail(days, covered, middle) <= 1.0 - confidence ? low : high) = middle;
  }
  return low;
}

int days_needed(int days, double sure, double confidence) {
  for (int covered = days; covered >= 0; --covered) {
    if (binomial_tail(days, covered, sure) > 1.0 - confidence) return covered + 1;
  }
  return 0;
}

double half_width(double share, int days) { return 1.96 * std::sqrt(share * (1.0 - share) / days); }

}  // namespace tillwrap::choose
