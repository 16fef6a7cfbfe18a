#include "app/changes_json.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace tillwrap::app {

namespace {
constexpr double kMinute_s = 60.0;
std::size_t at(int i) { return static_cast<std::size_t>(i); }
}  // namespace

Json change_json(const day::Scenario& day, const odds::ChangeOdds& change, double now_s) {
  const day::Holder& holder = day.holders[at(change.holder)];
  const std::optional<double> last_s = last_safe_s(day, change, now_s);
  return {{"holder", holder.name},
          {"place", day.places[at(holder.place)].name},
          {"out", change.out_pack < 0 ? std::string() : day.packs[at(change.out_pack)].params.label},
          {"in", day.packs[at(change.in_pack)].params.label},
          {"in_waits", day.places[at(day.packs[at(change.in_pack)].spare_place)].name},
          {"planned_s", change.planned_s},
          {"safe_s", change.safe_s},
          {"likely_s", change.likely_s},
          {"last_safe_s", last_s ? Json(*last_s) : Json(nullptr)}};
}

std::optional<double> last_safe_s(const day::Scenario& day, const odds::ChangeOdds& change, double now_s) {
  const double from_s = std::max(now_s, change.in_s);
  const double until_s = std::min(change.safe_s, std::max(day.off_s + day.overrun_s, from_s));
  std::optional<double> last_s;
  for (const day::Span& window : day::windows(day, day.holders[at(change.holder)].place, until_s)) {
    const double end_s = std::min(window.until_s, until_s);
    if (end_s >= std::max(window.from_s, from_s)) last_s = end_s;
  }
  return last_s;
}

bool plan_too_late(const odds::ChangeOdds& change, std::optional<double> last_safe_s) {
  return last_safe_s && *last_safe_s < change.planned_s - kMinute_s;
}

std::string change_warning(const day::Scenario& day, const odds::ChangeOdds& change, std::optional<double> last_safe_s,
                           const Wording& wording) {
  if (change.safe_s >= day.off_s) return {};
  const std::string& out = day.packs[at(change.out_pack)].params.label;
  const std::string& holder = day.holders[at(change.holder)].name;
  if (!last_safe_s) {
    return fmt::format("{} in {} is safe only to {}, and the day leaves no hands for it before that: make a moment.",
                       out, holder, wording.clock(change.safe_s));
  }
  if (!plan_too_late(change, last_safe_s)) return {};
  return fmt::format("Change {} in {} before {}: the plan, {}, is too late.", out, holder, wording.clock(*last_safe_s),
                     wording.clock(change.planned_s));
}

}  // namespace tillwrap::app
