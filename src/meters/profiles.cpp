#include "meters/profiles.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/order.hpp"

namespace tillwrap::meters {

namespace {

constexpr int kGrid = 20;  // points of the usable energy the error is averaged over

}  // namespace

ProfileVerdict judge(const Profile& profile, const Curve& curve, double reserve_s) {
  ProfileVerdict verdict{.profile = profile};
  const auto reads = [&](double share) { return profile.scale.left_at(curve.volts_at(curve.time_when_left(share))); };
  verdict.full = profile.scale.left_at(curve.volts_at(kJustIn_s));
  verdict.half = reads(0.5);
  verdict.near_end = reads(kNearEnd);
  for (int k = 0; k < kGrid; ++k) {
    const double share = (k + 0.5) / kGrid;
    verdict.error += std::fabs(reads(share) - share) / kGrid;
  }
  verdict.warns_s = curve.end_s() - curve.falls_below_s(profile.scale.warn_v);
  const double empty_s = curve.falls_below_s(profile.scale.empty_v());
  const double empty_left = curve.left_at(empty_s);
  verdict.empty_left_j = empty_left * curve.usable_j;
  const double warn_left = curve.left_at(curve.falls_below_s(profile.scale.warn_v));
  if (empty_left > kEarlyShare || warn_left > 0.5) {
    verdict.timing = Timing::early;
  } else if (verdict.warns_s < reserve_s) {
    verdict.timing = Timing::late;
  }
  return verdict;
}

int rank(std::vector<ProfileVerdict>& verdicts, const std::string& family, int cells) {
  const auto is_own = [&](const ProfileVerdict& one) {
    return one.profile.chemistry == family && one.profile.cells == cells;
  };
  const auto own = std::find_if(verdicts.begin(), verdicts.end(), is_own);
  const bool has_own = own != verdicts.end();
  const double own_error = has_own ? own->error : 0.0;
  const bool own_good = has_own && own->timing == Timing::fine && own->error <= kFits;
  const auto place = [&](const ProfileVerdict& one) {
    const bool clearly =
        has_own && !own_good && one.timing == Timing::fine && one.error < own_error - kClearly && !is_own(one);
    return clearly ? 0 : is_own(one) ? 1 : one.timing != Timing::early ? 2 : 3;
  };
  sort_stably(verdicts, [&](const ProfileVerdict& a, const ProfileVerdict& b) {
    return place(a) != place(b) ? place(a) < place(b) : a.error < b.error;
  });
  const auto now = std::find_if(verdicts.begin(), verdicts.end(), is_own);
  return now == verdicts.end() ? -1 : static_cast<int>(now - verdicts.begin());
}

std::string family_of(cell::Chemistry chemistry) {
  switch (chemistry) {
    case cell::Chemistry::nmc:
    case cell::Chemistry::nca:
    case cell::Chemistry::lco:
      return "lithium";
    case cell::Chemistry::lfp:
      return "lfp";
    case cell::Chemistry::nimh:
    case cell::Chemistry::nimh_lsd:
      return "nickel";
    case cell::Chemistry::alkaline:
      return "alkaline";
    case cell::Chemistry::lithium_iron_disulfide:
      return "lithium-iron-disulfide";
    case cell::Chemistry::vrla_agm:
    case cell::Chemistry::vrla_gel:
      return "lead";
  }
  return "";
}

catalogue::MeterProfile generic(const std::vector<catalogue::MeterProfile>& list, const std::string& family,
                                int cells) {
  const catalogue::MeterProfile* near = nullptr;
  for (const catalogue::MeterProfile& profile : list) {
    if (profile.chemistry != family || profile.cells <= 0) continue;
    if (near == nullptr || std::abs(profile.cells - cells) < std::abs(near->cells - cells)) near = &profile;
  }
  if (near == nullptr) return {};
  catalogue::MeterProfile profile = *near;
  if (profile.cells == cells) return profile;
  const double times = static_cast<double>(cells) / profile.cells;
  profile.id = family + "-" + std::to_string(cells);
  const std::size_t comma = profile.title.find(',');
  profile.title = profile.title.substr(0, comma) + ", " + std::to_string(cells) + (cells == 1 ? " cell" : " cells");
  profile.cells = cells;
  profile.empty_v *= times;
  return profile;
}

}  // namespace tillwrap::meters
