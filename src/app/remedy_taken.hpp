// What one step takes, or several together: packs, gear and chargers to get, weight, hands.
#pragma once

#include <vector>

#include "app/charger_need.hpp"
#include "app/remedy_steps.hpp"

namespace tillwrap::app {

struct Taken {
  Money money;
  remedies::Cost cost;                // its money that of `money`
  std::vector<ChargerNeed> chargers;  // for packs the steps add; what the day as it is needs already is taken off
};

// Gear and chargers are those of the day with all the steps in it, `with`, beyond the day as it is, so that what serves
// two steps is got once.
Taken taken_by(const std::vector<const RemedyStep*>& steps, const DayFile& as_is, const DayFile& with,
               const catalogue::Catalogue& catalogue);

}  // namespace tillwrap::app
