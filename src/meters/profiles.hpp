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

inline constexpr double kFits = 0.35;  // mean error of a profile that reads always full or empty is 0.5

// Best first. The pack's own chemistry and number of cells comes first where it is among them, unless another reads
// clearly better there: it is fine in its timing, nearer on the mean by over kClearly (profiles of one name differ by
// less; from memory), and the own one is not fine or does not fit (kFits). The others: those that do not give energy
// away, by least mean error. Returns where the own one stands then; -1: it is not among them.
inline constexpr double kClearly = 0.15;
int rank(std::vector<ProfileVerdict>& verdicts, const std::string& family, int cells);

// "lithium", "nickel", ... as the profiles name it.
std::string family_of(cell::Chemistry chemistry);
// The profile for a chemistry and number of cells: the one of the list if there is one, otherwise one of that chemistry
// brought to the number of cells. `id` is empty when the list has nothing of that chemistry.
catalogue::MeterProfile generic(const std::vector<catalogue::MeterProfile>& list, const std::string& family, int cells);

}  // namespace tillwrap::meters
