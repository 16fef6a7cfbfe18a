#include "compare/compare.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace tillwrap::compare {

namespace {

constexpr int kMostPacks = 40;
constexpr double kSettled_s = 120.0;  // from call to the change that is looked at
constexpr int kMoreForOneLoss = 3;
constexpr double kHelps_s = 60.0;  // another pack that adds less finds no window

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int holder_named(const day::Scenario& day, const std::string& name) {
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    if (day.holders[h].name == name) return static_cast<int>(h);
  }
  return -1;
}

// Everything the holders do not feed may go dark.
day::Scenario focused(day::Scenario day, const std::vector<std::string>& holders) {
  std::vector<char> fed(day.devices.size(), 0);
  for (const std::string& name : holders) {
    const int h = holder_named(day, name);
    if (h < 0) continue;
    for (const int d : fed_devices(day, h)) fed[at(d)] = 1;
  }
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    if (!fed[d]) day.devices[d].need = day::Need::optional;
  }
  return day;
}

odds::OddsAnswer odds_of(const day::Scenario& day, const Depth& depth) {
  return odds::odds(day, {.days = depth.days, .seed = depth.seed, .spread = depth.spread});
}

}  // namespace

std::vector<int> fed_devices(const day::Scenario& day, int holder) {
  std::vector<char> seen(day.ports.size(), 0);
  std::vector<int> queue{day.holders[at(holder)].port};
  seen[at(queue.front())] = 1;
  const auto reach = [&](int port) {
    if (seen[at(port)]) return;
    seen[at(port)] = 1;
    queue.push_back(port);
  };
  for (std::size_t head = 0; head < queue.size(); ++head) {
    const int port = queue[head];
    for (const day::Lead& lead : day.leads) {
      if (lead.from == port) reach(lead.to);
    }
    for (const day::Regulator& regulator : day.regulators) {
      if (regulator.in_port == port) reach(regulator.out_port);
    }
  }
  std::vector<int> devices;
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    if (seen[at(day.devices[d].port)]) devices.push_back(static_cast<int>(d));
  }
  return devices;
}

Serving serving(const day::Scenario& given, const std::string& name, const Depth& depth) {
  day::Scenario day = focused(given, {name});
  const int h = holder_named(day, name);
  Serving answer;
  if (h < 0 || day.holders[at(h)].slots.empty()) return answer;
  // Nothing else has a pack, and the day begins at call.
  for (std::size_t k = 0; k < day.holders.size(); ++k) {
    if (static_cast<int>(k) != h) day.holders[k].slots.clear();
  }
  std::erase_if(day.periods, [&](const day::Period& period) { return period.until_s <= day.call_s; });
  if (day.periods.empty()) return answer;
  day.periods.front().from_s = std::max(day.periods.front().from_s, day.call_s);
  for (day::Period& period : day.periods) std::fill(period.supply_live.begin(), period.supply_live.end(), char{0});
  day::Holder& holder = day.holders[at(h)];
  holder.slots.resize(1);
  holder.slots.front().at_s = day::kAuto;
  const double from_s = day.periods.front().from_s;
  const forecast::Forecast alone = forecast::forecast(day, {.with_one_loss = false});
  const double end_s = day.off_s + alone.margin_s;
  answer.starts = end_s > from_s + kHelps_s;
  if (!answer.starts) return answer;
  answer.likely_is_least = alone.margin_is_least;
  // Watts up to the end or to off, whichever comes first: what is left on after a loss is no part of the load.
  day::Scenario ended = day;
  ended.off_s = std::min(day.off_s, end_s);
  ended.wrap_s = std::min(day.wrap_s, ended.off_s);
  const forecast::Forecast until_end = forecast::forecast(ended, {.with_one_loss = false, .search_beyond_s = kHelps_s});
  for (const forecast::Stint& stint : until_end.run.stints) {
    if (stint.holder == h) answer.mean_w = stint.delivered_j / (ended.off_s - from_s);
  }
  const odds::OddsAnswer odds = odds_of(day, depth);
  answer.safe_s = std::max(0.0, day.off_s + odds.p10_s - from_s);
  answer.likely_s = std::max(0.0, day.off_s + odds.p50_s - from_s);
  return answer;
}

Need need(const Build& build, const std::vector<std::string>& holders, int expected, bool fixed, const Depth& depth) {
  struct Look {
    forecast::Forecast forecast;
    double safe_s = 0.0;
    std::optional<odds::OddsAnswer> odds;
    [[nodiscard]] bool enough() const { return safe_s >= 0.0; }
  };
  const auto look = [&](int packs) {
    const day::Scenario day = focused(build(packs), holders);
    Look seen{.forecast = forecast::forecast(day, {.with_one_loss = false})};
    seen.safe_s = seen.forecast.margin_s;
    if (seen.safe_s < 0.0) return seen;
    seen.odds = odds_of(day, depth);
    seen.safe_s = std::min(seen.odds->p10_s, seen.safe_s);
    return seen;
  };
  Need answer;
  int packs = std::clamp(expected, 1, kMostPacks);
  Look now = look(packs);
  if (!fixed) {
    while (!now.enough() && packs < kMostPacks) {
      Look more = look(packs + 1);
      const bool helps = more.enough() || more.forecast.margin_s > now.forecast.margin_s + kHelps_s ||
                         more.safe_s > now.safe_s + kHelps_s;
      if (!helps) break;
      ++packs;
      now = std::move(more);
    }
    while (now.enough() && packs > 1) {
      Look fewer = look(packs - 1);
      if (!fewer.enough()) break;
      --packs;
      now = std::move(fewer);
    }
  }
  answer.packs = packs;
  answer.possible = now.enough();
  const day::Scenario day = focused(build(packs), holders);
  const odds::OddsAnswer odds = now.odds ? *now.odds : odds_of(day, depth);
  answer.likely_margin_s = odds.p50_s;
  answer.safe_margin_s = std::min(odds.p10_s, now.forecast.margin_s);
  std::vector<char> is_ours(day.holders.size(), 0);
  for (const std::string& name : holders) {
    if (const int h = holder_named(day, name); h >= 0) is_ours[at(h)] = 1;
  }
  for (const forecast::Change& change : now.forecast.run.changes) {
    if (is_ours[at(change.holder)] && change.out_pack >= 0 && change.in_pack >= 0 && change.at_s < day.off_s)
      ++answer.changes;
  }
  for (const forecast::Stint& stint : now.forecast.run.stints) {
    if (is_ours[at(stint.holder)] && stint.in_s < day.off_s)
      answer.drawn.push_back(std::clamp(stint.start_charge - stint.end_charge, 0.0, 1.0));
  }
  if (!answer.possible) return answer;
  const int most = fixed ? packs : packs + kMoreForOneLoss;
  for (int k = packs; k <= most && answer.packs_one_loss == 0; ++k) {
    const day::Scenario more = focused(build(k), holders);
    forecast::ForecastOptions options;
    for (const std::string& name : holders) {
      const int h = holder_named(more, name);
      if (h < 0) continue;
      for (const day::Slot& slot : more.holders[at(h)].slots) options.one_loss_packs.push_back(slot.pack);
    }
    if (forecast::forecast(more, options).one_loss.holds) answer.packs_one_loss = k;
  }
  return answer;
}

std::vector<std::string> dark_in_change(const day::Scenario& with_two, const std::vector<std::string>& holders) {
  day::Scenario day = focused(with_two, holders);
  std::vector<std::string> dark;
  const int h = holder_named(day, holders.front());
  if (h < 0 || day.holders[at(h)].slots.size() < 2) return dark;
  // Early, while the first pack is good.
  double moment_s = day.off_s;
  for (const day::Span& span : day::windows(day, day.holders[at(h)].place, day.off_s)) {
    const double from_s = std::max(span.from_s, day.call_s + kSettled_s);
    if (from_s < span.until_s) moment_s = std::min(moment_s, from_s);
  }
  day.holders[at(h)].slots.resize(2);
  day.holders[at(h)].slots[1].at_s = moment_s;
  // Mains is no part of this question.
  for (day::Period& period : day.periods) std::fill(period.supply_live.begin(), period.supply_live.end(), char{0});
  std::vector<int> fed;
  for (const int d : fed_devices(day, h)) {
    if (day.devices[at(d)].need == day::Need::optional) continue;
    fed.push_back(d);
    day.devices[at(d)].need = day::Need::rolling;
  }
  const forecast::Forecast run = forecast::forecast(day, {.with_one_loss = false});
  for (const forecast::Event& event : run.run.events) {
    if (event.kind != forecast::EventKind::device_down || event.why.cause != forecast::Cause::change) continue;
    if (std::fabs(event.at_s - moment_s) > 600.0 || std::find(fed.begin(), fed.end(), event.index) == fed.end())
      continue;
    const std::string& name = day.devices[at(event.index)].name;
    if (std::find(dark.begin(), dark.end(), name) == dark.end()) dark.push_back(name);
  }
  return dark;
}

double cycle_life(double depth) {
  struct Point {
    double depth, cycles;
  };
  static constexpr Point kPoints[] = {{0.25, 2250.0}, {0.5, 1350.0}, {1.0, 400.0}};
  if (depth <= kPoints[0].depth) return kPoints[0].cycles;
  for (std::size_t k = 1; k < 3; ++k) {
    if (depth > kPoints[k].depth) continue;
    const double share = (depth - kPoints[k - 1].depth) / (kPoints[k].depth - kPoints[k - 1].depth);
    return kPoints[k - 1].cycles + share * (kPoints[k].cycles - kPoints[k - 1].cycles);
  }
  return kPoints[2].cycles;
}

double money_a_day(const Wear& wear, int days) {
  const double bought = wear.price * wear.packs;
  if (wear.kind == Wear::Kind::disposable) return wear.price * static_cast<double>(wear.drawn.size());
  double worn = 0.0;  // packs a day
  if (wear.kind == Wear::Kind::cycles_known) {
    for (const double depth : wear.drawn) worn += 1.0 / cycle_life(depth);
  }
  return std::max(bought / days, wear.price * worn);
}

}  // namespace tillwrap::compare
