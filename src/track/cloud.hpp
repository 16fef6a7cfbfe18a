// Points over the unknowns from several proposals, one weight each: a point weighs as if it had been drawn from the
// mixture of all of them, whichever it was (deterministic mixture, Owen and Zhou, J. Am. Stat. Assoc. 95(449) 135,
// 2000; with proposals fitted on the way, Cornuet, Marin, Mira and Robert, Scand. J. Stat. 39(4) 798, 2012). So nothing
// that was computed is thrown away, and what an early proposal missed cannot weigh without bounds.
#pragma once

#include <cstdint>
#include <vector>

#include "track/proposal.hpp"

namespace tillwrap::track {

class Cloud {
 public:
  // `count` more points of that proposal, of the prior where it is null; their likelihoods and values are still to be
  // filled in. Returns the index of the first.
  std::size_t add(const Proposal* proposal, std::uint32_t count, std::uint64_t seed);

  [[nodiscard]] std::size_t size() const { return points.size(); }
  // One each, not normed: prior times the likelihood to the power `share`, over the mixture.
  [[nodiscard]] std::vector<double> weights(double share) const;
  // Largest such share, up to 1, that leaves an effective sample of `enough`.
  [[nodiscard]] double bearable(double enough) const;

  std::vector<Point> points;
  std::vector<double> log_likely;           // of what was read
  std::vector<std::vector<double>> values;  // what the model gives there for each reading

 private:
  struct Batch {
    double log_count = 0.0;
    bool prior = true;
    Proposal proposal;
    [[nodiscard]] double log_drawn(const Point& point) const;
  };
  std::vector<Batch> batches_;
  std::vector<double> log_mixture_;  // of each point, by the sum of points instead of their share
};

}  // namespace tillwrap::track
