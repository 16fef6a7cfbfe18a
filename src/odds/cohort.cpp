#include "odds/cohort.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace tillwrap::odds {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// What a standard deviation of each unknown takes off a day, roughly, in the cold and where warmth ends it: only which
// days go together hangs on it.
constexpr std::array<double, kCommonDimensions> kColdWeight{1.0, 0.5, 0.2, 0.3, 0.3, 0.2};
constexpr std::array<double, kCommonDimensions> kWarmWeight{0.5, 0.1, 0.3, 0.1, 1.0, 1.0};
constexpr std::size_t kLarge = 64;  // what all corners of so many do is worth knowing further down
constexpr std::size_t kAlone = 2;   // so few are computed each

class Cohort {
 public:
  Cohort(const std::vector<Asked>& asked, int sides,
         const std::function<double(const Badness& worst, double to_s)>& corner)
      : asked_(asked), sides_(sides), corner_(corner) {}

  // `known`: how long each corner of a larger group lasted, at least.
  void part(std::vector<std::size_t> group, std::array<double, 4> known) {
    if (group.size() <= kAlone) {
      left.insert(left.end(), group.begin(), group.end());
      return;
    }
    Badness worst = asked_[group.front()].badness, least = worst;
    double lasts_s = 0.0, first_s = asked_[group.front()].until_s;
    for (const std::size_t k : group) {
      first_s = std::min(first_s, asked_[k].until_s);
      for (int d = 0; d < kCommonDimensions; ++d) {
        worst[at(d)] = std::max(worst[at(d)], asked_[k].badness[at(d)]);
        least[at(d)] = std::min(least[at(d)], asked_[k].badness[at(d)]);
      }
      lasts_s = std::max(lasts_s, asked_[k].until_s);
    }
    Badness soonest = worst;
    bool warm_ends_it = false;
    const double to_s = lasts_s;
    for (const bool warm : {false, true}) {
      for (int side = 0; side < sides_; ++side) {
        double& of_corner_s = known[at(2 * (warm ? 1 : 0) + side)];
        const bool large = group.size() >= kLarge;
        if (of_corner_s >= lasts_s || (!large && lasts_s < first_s)) continue;
        Badness corner = worst;
        corner[kAir] = warm ? least[kAir] : worst[kAir];
        if (side == 1) corner[kBag] = least[kBag];
        const double own_s = of_corner_s = corner_(corner, large ? to_s : lasts_s);
        if (own_s >= lasts_s) continue;
        lasts_s = own_s;
        soonest = corner;
        warm_ends_it = warm;
      }
    }
    std::erase_if(group, [&](std::size_t k) { return asked_[k].until_s <= lasts_s; });
    if (group.empty()) return;
    const auto& weight = warm_ends_it ? kWarmWeight : kColdWeight;
    const double count = static_cast<double>(group.size());
    int widest = 0;
    double width = -1.0;
    Badness sum{};
    for (const std::size_t k : group)
      for (int d = 0; d < kCommonDimensions; ++d) sum[at(d)] += asked_[k].badness[at(d)];
    for (int d = 0; d < kCommonDimensions; ++d) {
      const double over = weight[at(d)] * std::fabs(soonest[at(d)] - sum[at(d)] / count);
      if (over > width) {
        width = over;
        widest = d;
      }
    }
    const auto half = static_cast<std::ptrdiff_t>(group.size() / 2);
    std::nth_element(group.begin(), group.begin() + half, group.end(), [&](std::size_t a, std::size_t b) {
      const double of_a = asked_[a].badness[at(widest)], of_b = asked_[b].badness[at(widest)];
      return of_a != of_b ? of_a < of_b : a < b;
    });
    part({group.begin(), group.begin() + half}, known);
    part({group.begin() + half, group.end()}, known);
  }

  std::vector<std::size_t> left;

 private:
  const std::vector<Asked>& asked_;
  int sides_;
  const std::function<double(const Badness& worst, double to_s)>& corner_;
};

}  // namespace

std::vector<std::size_t> unsettled(const std::vector<Asked>& asked, int sides,
                                   const std::function<double(const Badness& worst, double to_s)>& corner) {
  std::vector<std::size_t> all(asked.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  Cohort cohort(asked, sides, corner);
  if (!all.empty()) cohort.part(std::move(all), {});
  std::sort(cohort.left.begin(), cohort.left.end());
  return std::move(cohort.left);
}

}  // namespace tillwrap::odds
