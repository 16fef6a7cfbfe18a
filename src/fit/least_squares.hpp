// Levenberg-Marquardt for residuals whose unknowns are in units of their prior's spread (Marquardt, J. SIAM 11(2) 431,
// 1963). The prior is part of the residuals, so the problem is never short of equations.
#pragma once

#include <Eigen/Core>
#include <functional>

namespace tillwrap::fit {

using Residuals = std::function<Eigen::VectorXd(const Eigen::VectorXd&)>;

struct Solution {
  Eigen::VectorXd x;
  Eigen::MatrixXd covariance;  // (J'J)^-1 at the solution
  double cost = 0.0;           // half the sum of squares
  int rounds = 0;
};

// `progress(round, cost)` is called after each round; may be empty. Differences are taken over `nudge` prior spreads:
// more than the residuals' own roughness.
Solution least_squares(const Residuals& residuals, Eigen::VectorXd start, int most_rounds,
                       const std::function<void(int, double)>& progress = {}, double nudge = 1e-3);

}  // namespace tillwrap::fit
