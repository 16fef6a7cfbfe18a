#include "app/changes_json.hpp"

#include <algorithm>

#include "app/power_sheet.hpp"

namespace tillwrap::app {

namespace {
std::size_t at(int i) { return static_cast<std::size_t>(i); }
}  // namespace

Json change_json(const day::Scenario& day, const odds::ChangeOdds& change) {
  const day::Holder& holder = day.holders[at(change.holder)];
  return {{"holder", holder.name},
          {"place", day.places[at(holder.place)].name},
          {"out", change.out_pack < 0 ? std::string() : day.packs[at(change.out_pack)].params.label},
          {"in", day.packs[at(change.in_pack)].params.label},
          {"in_waits", day.places[at(day.packs[at(change.in_pack)].spare_place)].name},
          {"planned_s", change.planned_s},
          {"safe_s", change.safe_s},
          {"likely_s", change.likely_s},
          {"last_safe_s", last_safe_s(day, change)}};
}

std::optional<double> last_reach_s(const day::Scenario& day, const odds::ChangeOdds& change, double now_s) {
  std::optional<double> last_s;
  const double until_s = std::max(day.off_s + day.overrun_s, change.safe_s);
  for (const day::Span& window : day::windows(day, day.holders[at(change.holder)].place, until_s)) {
    const double end_s = std::min(window.until_s, change.safe_s);
    if (end_s >= std::max(window.from_s, now_s)) last_s = std::max(last_s.value_or(end_s), end_s);
  }
  return last_s;
}

}  // namespace tillwrap::app
