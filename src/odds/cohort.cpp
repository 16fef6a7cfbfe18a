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
constexpr std::size_t kLarge = 64;     // what all corners of so many do is worth knowing further down
constexpr std::size_t kThorough = 12;  // fewer days are sooner followed than their corner thoroughly
constexpr std::size_t kAlone = 2;      // so few are computed each

using Group = std::vector<std::size_t>;  // places in what is asked
using Known = std::array<double, 4>;     // how long each corner of a larger group lasted, at least

// Where a group ends at the soonest, and the corner that does.
struct Soonest {
  double lasts_s = 0.0;
  Badness corner{};
  bool warm = false;
};

class Cohort {
 public:
  Cohort(const std::vector<Asked>& asked, int sides, const Corner& corner)
      : asked_(asked), sides_(sides), corner_(corner) {}

  void part(Group group, Known known) {
    if (group.size() <= kAlone) {
      left.insert(left.end(), group.begin(), group.end());
      return;
    }
    const Soonest soonest = ends(group, known);
    std::erase_if(group, [&](std::size_t k) { return asked_[k].until_s <= soonest.lasts_s; });
    if (group.empty()) return;
    const int widest = farthest(group, soonest);
    const auto half = static_cast<std::ptrdiff_t>(group.size() / 2);
    std::nth_element(group.begin(), group.begin() + half, group.end(), [&](std::size_t a, std::size_t b) {
      const double of_a = asked_[a].badness[at(widest)], of_b = asked_[b].badness[at(widest)];
      return of_a != of_b ? of_a < of_b : a < b;
    });
    part({group.begin(), group.begin() + half}, known);
    part({group.begin() + half, group.end()}, known);
  }

  Group left;

 private:
  Soonest ends(const Group& group, Known& known) const {
    Badness worst = asked_[group.front()].badness, least = worst;
    double last_s = 0.0, first_s = asked_[group.front()].until_s;
    for (const std::size_t k : group) {
      for (int d = 0; d < kCommonDimensions; ++d) {
        worst[at(d)] = std::max(worst[at(d)], asked_[k].badness[at(d)]);
        least[at(d)] = std::min(least[at(d)], asked_[k].badness[at(d)]);
      }
      first_s = std::min(first_s, asked_[k].until_s);
      last_s = std::max(last_s, asked_[k].until_s);
    }
    const bool large = group.size() >= kLarge;
    Soonest soonest{.lasts_s = last_s, .corner = worst};
    for (const bool warm : {false, true}) {
      for (int side = 0; side < sides_; ++side) {
        double& of_corner_s = known[at(2 * (warm ? 1 : 0) + side)];
        if (of_corner_s >= soonest.lasts_s || (!large && soonest.lasts_s < first_s)) continue;
        Badness corner = worst;
        if (warm) corner[kAir] = least[kAir];
        if (side == 1) corner[kBag] = least[kBag];
        of_corner_s = corner_(corner, large ? last_s : soonest.lasts_s, group.size() >= kThorough);
        if (of_corner_s < soonest.lasts_s) soonest = {.lasts_s = of_corner_s, .corner = corner, .warm = warm};
      }
    }
    return soonest;
  }

  // The unknown in which the corner lies farthest from the group's middle, by what it weighs.
  [[nodiscard]] int farthest(const Group& group, const Soonest& soonest) const {
    const auto& weight = soonest.warm ? kWarmWeight : kColdWeight;
    int found = 0;
    double most = -1.0;
    for (int d = 0; d < kCommonDimensions; ++d) {
      double sum = 0.0;
      for (const std::size_t k : group) sum += asked_[k].badness[at(d)];
      const double far = weight[at(d)] * std::fabs(soonest.corner[at(d)] - sum / static_cast<double>(group.size()));
      if (far <= most) continue;
      most = far;
      found = d;
    }
    return found;
  }

  const std::vector<Asked>& asked_;
  int sides_;
  const Corner& corner_;
};

}  // namespace

std::vector<std::size_t> unsettled(const std::vector<Asked>& asked, int sides, const Corner& corner) {
  std::vector<std::size_t> all(asked.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  Cohort cohort(asked, sides, corner);
  if (!all.empty()) cohort.part(std::move(all), {});
  std::sort(cohort.left.begin(), cohort.left.end());
  return std::move(cohort.left);
}

}  // namespace tillwrap::odds
