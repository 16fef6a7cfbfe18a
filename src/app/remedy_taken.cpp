#include "app/remedy_taken.hpp"

#include "app/gear.hpp"

namespace tillwrap::app {

Taken taken_by(const std::vector<const RemedyStep*>& steps, const DayFile& as_is, const DayFile& with,
               const catalogue::Catalogue& catalogue) {
  Taken taken;
  std::vector<remedies::Cost> costs;
  std::vector<const catalogue::PackKind*> fills;
  for (const RemedyStep* step : steps) {
    costs.push_back(step->cost);
    taken.money += step->money;
    if (step->fills != nullptr) fills.push_back(step->fills);
  }
  taken.cost = remedies::sum(costs);
  taken.money += price_of(gear_to_get(as_is, with, catalogue));
  taken.chargers = chargers_needed_together(as_is, with, catalogue, fills);
  for (const ChargerNeed& need : taken.chargers) {
    if (need.kind == nullptr) continue;
    taken.money += need.money;
    taken.cost.mass_kg += need.mass_kg;
    taken.cost.buy = true;
  }
  taken.cost.money = taken.money.rough();
  return taken;
}

}  // namespace tillwrap::app
