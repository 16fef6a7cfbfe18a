#include "fit/least_squares.hpp"

#include <Eigen/Cholesky>
#include <cmath>

namespace tillwrap::fit {

namespace {

constexpr double kFarthest = 1.0;  // longest step of one unknown in a round, in prior spreads
constexpr double kEnough = 1e-4;   // relative fall of the cost below which a round counts as no gain

}  // namespace

Solution least_squares(const Residuals& residuals, Eigen::VectorXd start, int most_rounds,
                       const std::function<void(int, double)>& progress, double nudge) {
  Solution out;
  out.x = std::move(start);
  const Eigen::Index n = out.x.size();
  Eigen::VectorXd r = residuals(out.x);
  out.cost = 0.5 * r.squaredNorm();
  double damping = 1e-2;
  Eigen::MatrixXd jacobian(r.size(), n);
  Eigen::MatrixXd normal(n, n);
  const auto differentiate = [&] {
    for (Eigen::Index j = 0; j < n; ++j) {
      Eigen::VectorXd nudged = out.x;
      nudged[j] += nudge;
      jacobian.col(j) = (residuals(nudged) - r) / nudge;
    }
    normal = jacobian.transpose() * jacobian;
  };
  int idle = 0;
  while (out.rounds < most_rounds && idle < 2) {
    differentiate();
    const Eigen::VectorXd gradient = jacobian.transpose() * r;
    bool better = false;
    for (int attempt = 0; attempt < 8 && !better; ++attempt) {
      Eigen::MatrixXd damped = normal;
      damped.diagonal() += damping * normal.diagonal();
      Eigen::VectorXd step = -damped.ldlt().solve(gradient);
      const double longest = step.cwiseAbs().maxCoeff();
      if (!std::isfinite(longest)) {
        damping *= 10.0;
        continue;
      }
      if (longest > kFarthest) step *= kFarthest / longest;
      const Eigen::VectorXd tried = residuals(out.x + step);
      const double cost = 0.5 * tried.squaredNorm();
      if (std::isfinite(cost) && cost < out.cost) {
        idle = cost > out.cost * (1.0 - kEnough) ? idle + 1 : 0;
        out.x += step;
        r = tried;
        out.cost = cost;
        damping = std::max(1e-9, damping * 0.2);
        better = true;
      } else {
        damping *= 5.0;
      }
    }
    ++out.rounds;
    if (progress) progress(out.rounds, out.cost);
    if (!better) break;
  }
  differentiate();
  out.covariance = normal.ldlt().solve(Eigen::MatrixXd::Identity(n, n));
  return out;
}

}  // namespace tillwrap::fit
