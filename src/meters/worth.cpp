#include "meters/worth.hpp"

#include <algorithm>

#include "quantity/order.hpp"

namespace tillwrap::meters {

namespace {

constexpr int kMoments = 200;  // a discharge is looked at in, evenly over its time
constexpr double kLow = 0.1, kHigh = 0.9;
constexpr int kShares = 19;  // 0.95, 0.90, ... 0.05

constexpr std::size_t kFewest = 128;  // moments a reading is judged by

struct Pair {
  double volts = 0.0;
  double left_s = 0.0;
};

double half_width(std::vector<double>& values) {
  if (values.size() < 2) return 0.0;
  std::sort(values.begin(), values.end());
  return 0.5 * (quantile(values, kHigh) - quantile(values, kLow));
}

}  // namespace

double quantile(const std::vector<double>& sorted, double p) {
  if (sorted.empty()) return 0.0;
  const double position = p * static_cast<double>(sorted.size() - 1);
  const auto k = static_cast<std::size_t>(position);
  const std::size_t next = std::min(k + 1, sorted.size() - 1);
  return sorted[k] + (position - static_cast<double>(k)) * (sorted[next] - sorted[k]);
}

Guidance guidance(const Curve& nominal, const std::vector<Curve>& drawn, double display_v, double warn_left) {
  Guidance answer;
  std::vector<Pair> pairs;
  std::vector<double> ends;
  for (const Curve& curve : drawn) {
    if (curve.empty()) continue;
    ends.push_back(curve.end_s());
    for (int k = 0; k < kMoments; ++k) {
      const double at_s = curve.end_s() * (k + 0.5) / kMoments;
      pairs.push_back({curve.volts_at(at_s), curve.end_s() - at_s});
    }
  }
  const double clock_s = half_width(ends);
  sort_stably(pairs, [](const Pair& a, const Pair& b) { return a.volts < b.volts; });
  const auto lower = [](const Pair& pair, double volts) { return pair.volts < volts; };
  // Every moment of every discharge at which the display would show the same: how far apart are the times left?
  const auto worth = [&](double share) {
    const double volts = nominal.volts_at(nominal.time_when_left(share));
    std::vector<double> left;
    const auto first = std::lower_bound(pairs.begin(), pairs.end(), volts - 0.5 * display_v, lower);
    const auto last = std::lower_bound(pairs.begin(), pairs.end(), volts + 0.5 * display_v, lower);
    auto low = static_cast<std::size_t>(first - pairs.begin());
    auto high = static_cast<std::size_t>(last - pairs.begin());
    // On a steep stretch few moments fall on one step of the display: then the nearest ones.
    while (high - low < std::min(kFewest, pairs.size())) {
      const bool down = low > 0 && (high == pairs.size() || volts - pairs[low - 1].volts < pairs[high].volts - volts);
      down ? --low : ++high;
    }
    for (std::size_t k = low; k < high; ++k) left.push_back(pairs[k].left_s);
    return Worth{.clock_s = clock_s, .volts_s = left.size() < 2 ? nominal.end_s() : half_width(left)};
  };
  answer.half = worth(0.5);
  answer.warning = worth(warn_left);
  for (int k = 1; k <= kShares; ++k) {
    const double share = static_cast<double>(k) / (kShares + 1);
    const Worth at = worth(share);
    if (at.volts_s >= at.clock_s) break;
    answer.volts_below = share;
  }
  if (answer.volts_below >= 0.5) {
    answer.guide = Guide::volts;
  } else if (answer.volts_below >= warn_left) {
    answer.guide = Guide::clock_then_volts;
  }
  return answer;
}

}  // namespace tillwrap::meters
