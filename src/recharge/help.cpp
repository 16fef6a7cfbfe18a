// What would help, smallest first.
#include <algorithm>

#include "quantity/order.hpp"
#include "recharge/recharge.hpp"

namespace tillwrap::recharge {

namespace {

// How far is looked: half an hour more at a time, to three hours; so many more bays; packs warmed to 15 °C.
constexpr double kStep_s = 1800.0;
constexpr int kMostSteps = 6;
constexpr int kMostBays = 4;
constexpr double kWarm_k = 288.15;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int ready_with(const Night& night, long most_nodes) { return recharge(night, most_nodes).needed_ready; }

}  // namespace

std::vector<Help> what_would_help(const Night& night, const Answer& answer, long most_nodes) {
  std::vector<Help> found;
  if (answer.needed_ready == answer.needed) return found;
  const auto keep = [&](Help help, const Night& changed) {
    help.ready = ready_with(changed, most_nodes);
    help.all = help.ready == answer.needed;
    if (help.ready > answer.needed_ready) found.push_back(help);
    return help.all;
  };
  // One more of a kind until all are ready; the least that brings the most is kept.
  const auto grow = [&](Help help, int most, const auto& change) {
    std::vector<Help> best;
    for (int n = 1; n <= most; ++n) {
      Night changed = night;
      if (!change(changed, n, help)) break;
      help.ready = ready_with(changed, most_nodes);
      help.all = help.ready == answer.needed;
      if (help.ready > answer.needed_ready && (best.empty() || help.ready > best.back().ready)) best.push_back(help);
      if (help.all) break;
    }
    if (!best.empty()) found.push_back(best.back());
  };
  const auto short_on = [&](int c) {
    for (std::size_t b = 0; b < night.batteries.size(); ++b) {
      const Battery& battery = night.batteries[b];
      const std::vector<std::string>& fits = night.chargers[at(c)].fits;
      if (battery.rank >= 0 && !answer.outcomes[b].ready &&
          std::find(fits.begin(), fits.end(), battery.pack.mount) != fits.end())
        return true;
    }
    return false;
  };
  for (int c = 0; c < static_cast<int>(night.chargers.size()); ++c) {
    if (!short_on(c)) continue;
    const Charger& charger = night.chargers[at(c)];
    const bool limited = charger.in_turn || charger.together_a > 0.0 || charger.together_w > 0.0 || charger.cell_a_bay;
    if (!limited) {
      grow({.kind = Help::Kind::bay, .charger = c}, kMostBays, [&](Night& changed, int n, Help& help) {
        help.count = n;
        changed.chargers[at(c)].bays += n;
        return true;
      });
    } else {
      grow({.kind = Help::Kind::charger, .charger = c}, 2, [&](Night& changed, int n, Help& help) {
        help.count = n;
        for (int k = 0; k < n; ++k) changed.chargers.push_back(charger);
        return true;
      });
    }
    if (charger.surround_k < kWarm_k) {
      Night changed = night;
      changed.chargers[at(c)].surround_k = kWarm_k + 5.0;
      keep({.kind = Help::Kind::warmth, .charger = c}, changed);
    }
  }
  if (!night.there.empty()) {
    grow({.kind = Help::Kind::earlier}, kMostSteps, [&](Night& changed, int n, Help& help) {
      help.seconds = n * kStep_s;
      changed.from_s -= help.seconds;
      changed.there.front().from_s =
          std::min(changed.there.front().from_s, changed.from_s + (night.there.front().from_s - night.from_s));
      for (Charger& charger : changed.chargers) {
        if (!charger.live.empty() && charger.live.front().from_s <= night.from_s + 1.0)
          charger.live.front().from_s = changed.from_s;
      }
      return true;
    });
    grow({.kind = Help::Kind::later}, kMostSteps, [&](Night& changed, int n, Help& help) {
      help.seconds = n * kStep_s;
      day::Span& evening = changed.there.front();
      evening.until_s += help.seconds;
      if (changed.there.size() > 1 && evening.until_s >= changed.there[1].from_s) return false;
      if (evening.until_s > night.until_s) return false;
      for (day::Span& span : changed.asleep) {
        if (span.from_s < evening.until_s) span.from_s = std::min(evening.until_s, span.until_s);
      }
      return true;
    });
  }
  if (night.asleep.empty() && night.there.size() > 1) {
    Night changed = night;
    for (std::size_t k = 0; k + 1 < night.there.size(); ++k)
      changed.asleep.push_back({night.there[k].until_s, night.there[k + 1].from_s});
    changed.most_get_ups = 0;
    keep({.kind = Help::Kind::asleep}, changed);
  } else if (!night.asleep.empty() && night.most_get_ups < 2) {
    Night changed = night;
    changed.most_get_ups = night.most_get_ups + 1;
    keep({.kind = Help::Kind::get_up, .count = changed.most_get_ups}, changed);
  }
  const bool tight = std::any_of(night.supplies.begin(), night.supplies.end(),
                                 [](const Supply& supply) { return supply.watts < kNoLimit; });
  if (tight) {
    Night changed = night;
    for (Supply& supply : changed.supplies) supply.watts = kNoLimit;
    keep({.kind = Help::Kind::watts}, changed);
  }
  sort_stably(found, [](const Help& a, const Help& b) { return a.ready > b.ready; });
  return found;
}

}  // namespace tillwrap::recharge
