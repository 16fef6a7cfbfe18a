#include "track/cloud.hpp"

#include <algorithm>

#include "quantity/maths.hpp"

namespace tillwrap::track {

namespace {

double log_of_sum(double a, double b) {
  const double high = std::max(a, b);
  return high + maths::log(maths::exp(a - high) + maths::exp(b - high));
}

}  // namespace

double Cloud::Batch::log_drawn(const Point& point) const {
  return log_count + (prior ? log_prior(point) : proposal.log_density(point));
}

std::size_t Cloud::add(const Proposal* proposal, std::uint32_t count, std::uint64_t seed) {
  const std::size_t first = points.size();
  Batch batch{.log_count = maths::log(static_cast<double>(count)), .prior = proposal == nullptr};
  if (proposal != nullptr) batch.proposal = *proposal;
  for (std::size_t k = 0; k < first; ++k) log_mixture_[k] = log_of_sum(log_mixture_[k], batch.log_drawn(points[k]));
  batches_.push_back(batch);
  for (std::uint32_t k = 0; k < count; ++k) {
    points.push_back(proposal != nullptr ? proposal->draw(k, seed) : prior_draw(k, seed));
    double drawn = batches_.front().log_drawn(points.back());
    for (std::size_t b = 1; b < batches_.size(); ++b) drawn = log_of_sum(drawn, batches_[b].log_drawn(points.back()));
    log_mixture_.push_back(drawn);
  }
  log_likely.resize(points.size());
  values.resize(points.size());
  return first;
}

std::vector<double> Cloud::weights(double share) const {
  std::vector<double> log_w(points.size());
  double high = -1e300;
  for (std::size_t k = 0; k < points.size(); ++k) {
    log_w[k] = log_prior(points[k]) + share * log_likely[k] - log_mixture_[k];
    high = std::max(high, log_w[k]);
  }
  for (double& w : log_w) w = maths::exp(std::max(w - high, -700.0));
  return log_w;
}

double Cloud::bearable(double enough) const {
  if (effective(weights(1.0)) >= enough) return 1.0;
  double low = 0.0;
  double high = 1.0;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (effective(weights(middle)) >= enough ? low : high) = middle;
  }
  return low;
}

}  // namespace tillwrap::track
