// Many days of one piece at once: which of them last as long as is asked, told by days worse than all of a group.
//
// More load, less capacity, more resistance and less charge never make a piece last longer. Colder air may harm, and so
// may warmer air where something switches off when it is hot; a bag that loses more heat may help or harm: both ends of
// both are looked at, each with the worst of the rest. None of the group ends before these corners do. Days they do
// not settle are parted and asked again with what is worst in each half.
#pragma once

#include <array>
#include <functional>
#include <vector>

#include "odds/draw.hpp"

namespace tillwrap::odds {

using Badness = std::array<double, kCommonDimensions>;

struct Asked {
  Badness badness{};
  double until_s = 0.0;  // whether it lasts to here
};

// When the piece is lost with everything as bad as `worst`, but no later than `to_s`. For few days not `thorough`: what
// takes longer than following them is left out, and what is lost too soon then is no claim.
using Corner = std::function<double(const Badness& worst, double to_s, bool thorough)>;

// What groups of days asked so far have shown of a piece; good as long as its plan and its scenario stay.
class Lasted {
 public:
  // Days of `asked` that no worse day is known to have lasted for, in order of their place in it. With two `sides`,
  // where a bag is in it, both ends of its warmth are asked for.
  std::vector<std::size_t> unsettled(const std::vector<Asked>& asked, int sides, const Corner& corner);

 private:
  class Cohort;
  struct Range {  // all days within it last so long
    Badness worst{};
    double least_air = 0.0, least_bag = 0.0;
    double lasts_s = 0.0;
  };
  bool settles(const Asked& day);
  std::vector<Range> ranges_;  // what helped last first
};

}  // namespace tillwrap::odds
