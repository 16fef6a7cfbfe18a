// How many of N days must be covered before "p or more" can be said.
#pragma once

namespace tillwrap::choose {

inline constexpr double kConfidence = 0.95;

// P(X >= least) for X ~ Bin(days, probability): the sum of its terms, each from its neighbour by the ratio
// C(n,k+1)/C(n,k) p/q = (n-k)/(k+1) p/q, scaled by their own sum, so nothing under- or overflows.
double binomial_tail(int days, int least, double probability);

// One-sided lower limit of Clopper and Pearson (Biometrika 26(4) 404, 1934) at `confidence`: the p at which
// P(X >= covered | p) = 1 - confidence; 0 when nothing was covered.
double lower_limit(int days, int covered, double confidence = kConfidence);

// Fewest covered days whose lower limit is at least `sure`; days + 1 when even all of them do not show it.
int days_needed(int days, double sure, double confidence = kConfidence);

// Half the width of the two-sided 95 % interval of a share seen on many days: 1.96 sqrt(p (1 - p) / n).
double half_width(double share, int days);

}  // namespace tillwrap::choose
