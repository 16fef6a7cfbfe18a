// What has to be got for a changed day: boxes, holders, adapters, chargers and leads it has and the day as it is has
// not. Packs are priced where they are chosen.
#pragma once

#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "app/wording.hpp"

namespace tillwrap::app {

struct Gear {
  std::string kind;  // "box", "holder", "source", "charger", "lead"
  std::string name;  // catalogue id; of a lead "barrel-2mm1 to xlr-4, 0.3 m"
  Money money;       // of one
};

// Alike things are counted: a third lead like two the day has is one to get. A holder that is part of its box or device
// is not a thing of its own.
std::vector<Gear> gear_to_get(const DayFile& as_is, const DayFile& changed, const catalogue::Catalogue& catalogue);

Money price_of(const std::vector<Gear>& gear);

}  // namespace tillwrap::app
