#include "odds/cohort.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::odds {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// What a standard deviation of each unknown takes off a day, roughly, in the cold and where warmth ends it: only which
// days go together hangs on it, and how soon they are settled. These numbers were set by trial.
constexpr std::array<double, kCommonDimensions> kColdWeight{1.0, 0.5, 0.2, 0.3, 0.3, 0.2};
constexpr std::array<double, kCommonDimensions> kWarmWeight{0.5, 0.1, 0.3, 0.1, 1.0, 1.0};
constexpr std::size_t kLarge = 64;     // what all corners of so many do is worth knowing further down
constexpr std::size_t kThorough = 12;  // fewer days are sooner followed than their corner thoroughly
constexpr std::size_t kAlone = 6;      // so few are computed each
constexpr std::size_t kKept = 2;       // what settles so many is kept for days to come
constexpr std::size_t kMostKept = 256;

}  // namespace

// One group of days, and its halves, and theirs.
class Lasted::Cohort {
 public:
  using Group = std::vector<std::size_t>;  // places in what is asked
  using Known = std::array<double, 4>;     // how long each corner of a larger group lasted, at least

  Cohort(const std::vector<Asked>& asked, int sides, const Corner& corner, std::vector<Range>& ranges)
      : asked_(asked), sides_(sides), corner_(corner), ranges_(ranges) {}

  void part(Group group, Known known) {
    if (group.size() <= kAlone) {
      left.insert(left.end(), group.begin(), group.end());
      return;
    }
    const Soonest soonest = ends(group, known);
    const double lasts_s = soonest.range.lasts_s;
    const std::size_t settled = std::erase_if(group, [&](std::size_t k) { return asked_[k].until_s <= lasts_s; });
    if (settled >= kKept && ranges_.size() < kMostKept) ranges_.push_back(soonest.range);
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
  // How long a group lasts at least, and the corner that ends it.
  struct Soonest {
    Range range;
    Badness corner{};
    bool warm = false;
  };

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
    Soonest soonest{.range = {worst, least[kAir], least[kBag], last_s}, .corner = worst};
    double& lasts_s = soonest.range.lasts_s;
    for (const bool warm : {false, true}) {
      for (int side = 0; side < sides_; ++side) {
        double& of_corner_s = known[at(2 * (warm ? 1 : 0) + side)];
        if (of_corner_s >= lasts_s || (!large && lasts_s < first_s)) continue;
        Badness corner = worst;
        if (warm) corner[kAir] = least[kAir];
        if (side == 1) corner[kBag] = least[kBag];
        of_corner_s = corner_(corner, large ? last_s : lasts_s, group.size() >= kThorough);
        if (of_corner_s >= lasts_s) continue;
        lasts_s = of_corner_s;
        soonest.corner = corner;
        soonest.warm = warm;
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
  std::vector<Range>& ranges_;
};

bool Lasted::settles(const Asked& day) {
  const auto holds = [&](const Range& range) {
    if (day.until_s > range.lasts_s || day.badness[kAir] < range.least_air || day.badness[kBag] < range.least_bag)
      return false;
    for (int d = 0; d < kCommonDimensions; ++d) {
      if (day.badness[at(d)] > range.worst[at(d)]) return false;
    }
    return true;
  };
  const auto found = std::find_if(ranges_.begin(), ranges_.end(), holds);
  if (found == ranges_.end()) return false;
  std::rotate(ranges_.begin(), found, found + 1);
  return true;
}

std::vector<std::size_t> Lasted::unsettled(const std::vector<Asked>& asked, int sides, const Corner& corner) {
  Cohort::Group open;
  for (std::size_t k = 0; k < asked.size(); ++k) {
    if (!settles(asked[k])) open.push_back(k);
  }
  Cohort cohort(asked, sides, corner, ranges_);
  if (!open.empty()) cohort.part(std::move(open), {});
  std::sort(cohort.left.begin(), cohort.left.end());
  return std::move(cohort.left);
}

}  // namespace tillwrap::odds
