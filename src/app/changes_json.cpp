#include "app/changes_json.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "findings/circuit.hpp"

namespace tillwrap::app {

namespace {
constexpr double kMinute_s = 60.0;
std::size_t at(int i) { return static_cast<std::size_t>(i); }

// All that the holder feeds is switched off in between.
bool unused(const day::Scenario& day, int holder, double from_s, double until_s) {
  const std::vector<int> devices = findings::Circuit(day).devices_behind(day.holders[at(holder)].port);
  for (const day::Period& period : day.periods) {
    if (period.until_s <= from_s || period.from_s >= until_s) continue;
    for (const int d : devices) {
      if (!day.devices[at(d)].modes[at(period.mode[at(d)])].off) return false;
    }
  }
  return true;
}
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
  if (unused(day, change.holder, change.in_s, *last_safe_s)) {
    return fmt::format(
        "{} in {} is safe only to {}, and hands reach it no later than {}, before it is used: one that lasts longer, "
        "or "
        "make a moment.",
        out, holder, wording.clock(change.safe_s), wording.clock(*last_safe_s));
  }
  return fmt::format("Change {} in {} before {}: the plan, {}, is too late.", out, holder, wording.clock(*last_safe_s),
                     wording.clock(change.planned_s));
}

std::vector<std::string> change_warnings(const day::Scenario& day, const std::vector<odds::ChangeOdds>& changes,
                                         const Wording& wording) {
  std::vector<std::string> out;
  for (const odds::ChangeOdds& change : changes) {
    if (change.planned_s > day.off_s || change.out_pack < 0) continue;
    std::string words = change_warning(day, change, last_safe_s(day, change, 0.0), wording);
    if (!words.empty()) out.push_back(std::move(words));
  }
  if (!out.empty())
    out.emplace_back(
        "The odds make such a change sooner on the days that need it, as hands watching a meter would; by the clock "
        "alone it comes too late on more than one day in ten.");
  return out;
}

}  // namespace tillwrap::app
