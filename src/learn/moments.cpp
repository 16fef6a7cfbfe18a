#include "learn/moments.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

namespace tillwrap::learn {

namespace {

constexpr double kPair_s = 600.0;  // moments so close whose amps differ by so much were read for it; from memory
constexpr double kSwitchedShare = 0.25;
constexpr double kSettled_s = 60.0;  // the load had been so for so long, and stays; from memory

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

namespace {

using Point = std::pair<track::Where, int>;

struct Seen {
  double first_s = 0.0, last_s = 0.0;
  std::map<Point, double> amps;
  std::set<Point> points;
};

// The amps of `one` over those of `other`, by the points read in both; 1: none was.
double ratio(const Seen& one, const Seen& other) {
  double a = 0.0;
  double b = 0.0;
  for (const auto& [point, amps] : one.amps) {
    const auto same = other.amps.find(point);
    if (same == other.amps.end()) continue;
    a += amps;
    b += same->second;
  }
  return a > 0.0 && b > 0.0 ? a / b : 1.0;
}

}  // namespace

std::vector<Moment> moments(const std::vector<track::Reading>& all, const std::vector<std::size_t>& which) {
  std::vector<Seen> seen;
  for (const std::size_t r : which) {
    const track::Reading& reading = all[r];
    if (reading.where == track::Where::gauge) continue;  // slow: whatever the load is just then
    const Point point(reading.where, reading.index);
    if (seen.empty() || reading.at_s > seen.back().first_s + kTogether_s || seen.back().points.contains(point))
      seen.push_back({.first_s = reading.at_s});
    seen.back().last_s = reading.at_s;
    seen.back().points.insert(point);
    if (of_amps(reading.where)) seen.back().amps[point] = reading.value;
  }
  std::vector<Moment> out(seen.size());
  for (std::size_t k = 0; k < seen.size(); ++k) {
    const double before_s = k > 0 ? 0.5 * (seen[k - 1].last_s + seen[k].first_s) : -1e18;
    const double after_s = k + 1 < seen.size() ? 0.5 * (seen[k].last_s + seen[k + 1].first_s) : 1e18;
    out[k].from_s = std::max(seen[k].first_s - kSettled_s, before_s);
    out[k].until_s = std::min(seen[k].last_s + kSettled_s, after_s);
    if (k == 0 || seen[k].first_s - seen[k - 1].last_s > kPair_s) continue;
    const double now_over_before = ratio(seen[k], seen[k - 1]);
    if (now_over_before < 1.0 - kSwitchedShare) out[k].share = now_over_before;
    if (now_over_before > 1.0 / (1.0 - kSwitchedShare)) out[k - 1].share = 1.0 / now_over_before;
  }
  return out;
}

MomentLoads::MomentLoads(day::Scenario& day, const std::vector<Moment>& moments) {
  for (std::size_t m = 0; m < moments.size(); ++m) {
    std::vector<day::Period> divided;
    for (const day::Period& period : day.periods) {
      const double from_s = std::max(period.from_s, moments[m].from_s);
      const double until_s = std::min(period.until_s, moments[m].until_s);
      if (!(from_s < until_s)) {
        divided.push_back(period);
        continue;
      }
      if (period.from_s < from_s) {
        divided.push_back(period);
        divided.back().until_s = from_s;
      }
      day::Period own = period;
      own.from_s = from_s;
      own.until_s = until_s;
      for (std::size_t d = 0; d < day.devices.size(); ++d) {
        std::vector<day::Mode>& modes = day.devices[d].modes;
        const day::Mode usual = modes[at(period.mode[d])];
        own.mode[d] = static_cast<int>(modes.size());
        scaled_.push_back({.device = d, .mode = modes.size(), .moment = m, .usual = usual});
        modes.push_back(usual);
      }
      divided.push_back(std::move(own));
      if (until_s < period.until_s) {
        divided.push_back(period);
        divided.back().from_s = until_s;
      }
    }
    day.periods = std::move(divided);
  }
}

void MomentLoads::put(day::Scenario& day, const std::vector<double>& factors) const {
  for (const Scaled& one : scaled_) {
    day::Mode& mode = day.devices[one.device].modes[one.mode];
    mode.power_w = one.usual.power_w * factors[one.moment];
    mode.current_a = one.usual.current_a * factors[one.moment];
    mode.siemens = one.usual.siemens * factors[one.moment];
  }
}

}  // namespace tillwrap::learn
