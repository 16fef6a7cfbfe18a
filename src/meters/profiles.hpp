// What a meter profile makes of a discharge: how far its reading is off, whether it warns in time.
#pragma once

#include <string>
#include <vector>

#include "catalogue/kinds.hpp"
#include "cell/cell.hpp"
#include "meters/curve.hpp"
#include "meters/scale.hpp"

namespace tillwrap::meters {

inline constexpr double kJustIn_s = 120.0;  // "full" is read this long after the pack went in
inline constexpr double kNearEnd = 0.1;     // of the usable energy
inline constexpr double kEarlyShare = 0.2;  // reads empty with more than this left: energy given away

enum class Timing {
  fine,
  early,  // reads empty while more than kEarlyShare of the usable energy is left, or warns while more than half is
  late,   // does not warn, or so late that no change is possible before the device goes off
};

struct ProfileVerdict {
  Profile profile;
  double full = 0.0, half = 0.0, near_end = 0.0;  // reads, when 1 (kJustIn_s after going in), 0.5, 0.1 is left
  double error = 0.0;                             // mean size of reading minus truth over the usable energy
  double warns_s = 0.0;                           // this long before the device goes off; 0: never
  double empty_left_j = 0.0;                      // still usable when it reads empty
  Timing timing = Timing::fine;
};
ProfileVerdict judge(const Profile& profile, const Curve& curve, double reserve_s);

// Best first: those that do not give energy away, by least mean error. The pack's own chemistry and number of cells is
// taken before one that is closer by no more than kAlike: profiles of one name differ by as much (from memory).
inline constexpr double kAlike = 0.1;
void rank(std::vector<ProfileVerdict>& verdicts, const std::string& family, int cells);

// "lithium", "nickel", ... as the profiles name it.
std::string family_of(cell::Chemistry chemistry);
// The profile for a chemistry and number of cells: the one of the list if there is one, otherwise one of that chemistry
// brought to the number of cells. `id` is empty when the list has nothing of that chemistry.
catalogue::MeterProfile generic(const std::vector<catalogue::MeterProfile>& list, const std::string& family, int cells);

}  // namespace tillwrap::meters
