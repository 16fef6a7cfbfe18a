// Weighted points of several proposals against a posterior in closed form: a standard normal prior in each unknown and
// one reading y of the sum of some with normal scatter s give a normal posterior (linear Gaussian model: Bishop,
// Pattern Recognition and Machine Learning, 2006, eq. 2.113-2.117).
#include "track/cloud.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace tillwrap::test {
namespace {

using track::Cloud;
using track::Proposal;

// Reading of load + 0.5 capacity: y = 1.5, s = 0.2. Posterior precision of that sum u, whose prior variance is 1.25:
// mean of a coordinate is its coefficient times y / (1.25 + s²), its variance 1 - coefficient² / (1.25 + s²).
constexpr double kRead = 1.5;
constexpr double kScatter = 0.2;
constexpr double kTotal = 1.25 + kScatter * kScatter;

void see(Cloud& cloud, std::size_t first) {
  for (std::size_t k = first; k < cloud.size(); ++k) {
    const double off = kRead - (cloud.points[k][0] + 0.5 * cloud.points[k][1]);
    cloud.log_likely[k] = -0.5 * off * off / (kScatter * kScatter);
  }
}

struct Moments {
  double mean[2];
  double variance[2];
};

Moments moments(const Cloud& cloud) {
  const std::vector<double> weights = cloud.weights(1.0);
  Moments out{};
  double sum = 0.0;
  double square[2]{};
  for (std::size_t k = 0; k < cloud.size(); ++k) {
    sum += weights[k];
    for (int d = 0; d < 2; ++d) {
      const double x = cloud.points[k][static_cast<std::size_t>(d)];
      out.mean[d] += weights[k] * x;
      square[d] += weights[k] * x * x;
    }
  }
  for (int d = 0; d < 2; ++d) {
    out.mean[d] /= sum;
    out.variance[d] = square[d] / sum - out.mean[d] * out.mean[d];
  }
  return out;
}

TEST(Cloud, SeveralProposalsGiveTheLinearGaussianPosterior) {
  Cloud cloud;
  see(cloud, cloud.add(nullptr, 512, 1));
  for (std::uint64_t round = 2; round < 6; ++round) {
    const Proposal proposal = Proposal::fitted(cloud.points, cloud.weights(1.0));
    see(cloud, cloud.add(&proposal, 1024, round));
  }
  const Moments found = moments(cloud);
  EXPECT_NEAR(found.mean[0], kRead / kTotal, 0.03);
  EXPECT_NEAR(found.mean[1], 0.5 * kRead / kTotal, 0.04);
  EXPECT_NEAR(found.variance[0], 1.0 - 1.0 / kTotal, 0.02);
  EXPECT_NEAR(found.variance[1], 1.0 - 0.25 / kTotal, 0.06);
}

// A proposal that looks past the posterior does no harm as long as another covers it.
TEST(Cloud, AProposalThatLooksElsewhereDoesNotBendTheAnswer) {
  Cloud cloud;
  see(cloud, cloud.add(nullptr, 4096, 1));
  std::vector<double> far(cloud.size(), 0.0);
  for (std::size_t k = 0; k < cloud.size(); ++k) far[k] = cloud.points[k][0] < -1.0 ? 1.0 : 0.0;
  const Proposal elsewhere = Proposal::fitted(cloud.points, far);
  see(cloud, cloud.add(&elsewhere, 1024, 2));
  const Moments found = moments(cloud);
  EXPECT_NEAR(found.mean[0], kRead / kTotal, 0.05);
  EXPECT_NEAR(found.variance[0], 1.0 - 1.0 / kTotal, 0.03);
  EXPECT_GT(track::effective(cloud.weights(1.0)), 400.0);
}

TEST(Cloud, BearsAsMuchOfTheReadingsAsLeavesEnough) {
  Cloud cloud;
  see(cloud, cloud.add(nullptr, 256, 1));
  EXPECT_LT(track::effective(cloud.weights(1.0)), 100.0);
  const double share = cloud.bearable(100.0);
  EXPECT_GT(share, 0.0);
  EXPECT_LT(share, 1.0);
  EXPECT_NEAR(track::effective(cloud.weights(share)), 100.0, 0.1);
  EXPECT_EQ(cloud.bearable(1.0), 1.0);
}

}  // namespace
}  // namespace tillwrap::test
