#include "app/recharge_day.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "app/stretches.hpp"
#include "app/words.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

constexpr double kDay_s = 86400.0;
constexpr double kLongestRest_s = 3.0 * kDay_s;
constexpr double kLongestGap_s = 14.0 * kDay_s;    // in a run, days off between
constexpr double kSearchBeyond_s = 24.0 * 3600.0;  // as the forecast plans its changes
constexpr double kReserveCharge = 0.15;            // of a needed charge, on top of what the day draws

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// A clock time on the first day that is not before `after_s`.
double not_before(double clock_s, double after_s) {
  while (clock_s < after_s - 1.0) clock_s += kDay_s;
  return clock_s;
}

}  // namespace

recharge::Charger charger_of(const catalogue::ChargerKind& kind) {
  constexpr double kUsualEfficiency = 0.8;  // of the mains, where the catalogue does not say; from memory
  return {.name = kind.id,
          .fits = kind.fits,
          .bays = kind.bays,
          .cell_a_bay = kind.volts_per_cell > 0.0 && kind.bays > 1,
          .bay_a = kind.amps_per_bay,
          .together_a = kind.amps_together < kind.bays * kind.amps_per_bay ? kind.amps_together : 0.0,
          .end_fraction = kind.end_fraction,
          .put_in = kind.put_in,
          .efficiency = kind.efficiency > 0.0 ? kind.efficiency : kUsualEfficiency,
          .coldest_k = kind.coldest_k,
          .hottest_k = kind.hottest_k};
}

LeftOver left_over(const day::Scenario& day, double at_s) {
  const forecast::WholeDay whole(day);
  const std::vector<forecast::ChangePlan> plans = whole.plan(day.off_s + kSearchBeyond_s);
  const double stop_s = std::min(at_s, day.off_s);
  const std::vector<forecast::DayRun> runs =
      whole.run(plans, {.search_until_s = day.off_s, .stop_s = at_s < day.off_s ? at_s : forecast::kNever});
  const forecast::DayRun run = forecast::merged(day, whole.pieces(), runs);
  LeftOver left{.charge = run.charge};
  const std::size_t n = day.packs.size();
  left.in_use.assign(n, 0);
  left.first_in_s.assign(n, forecast::kNever);
  left.given_all.assign(n, 0);
  left.drawn.assign(n, 0.0);
  for (std::size_t p = 0; p < n; ++p) left.place.push_back(day.packs[p].spare_place);
  for (const forecast::Stint& stint : run.stints) {
    const day::Holder& holder = day.holders[at(stint.holder)];
    if (stint.in_s > stop_s) continue;
    const bool now = std::min(stint.out_s, day.off_s) >= stop_s;
    if (now) left.place[at(stint.pack)] = holder.place;
    if (holder.charger_supply >= 0) continue;
    left.first_in_s[at(stint.pack)] = std::min(left.first_in_s[at(stint.pack)], stint.in_s);
    left.drawn[at(stint.pack)] += std::max(0.0, stint.start_charge - stint.end_charge);
    if (stint.ended_s < forecast::kNever) left.given_all[at(stint.pack)] = 1;
    if (now && stop_s < day.off_s) left.in_use[at(stint.pack)] = 1;
  }
  // What is planned for later in the day counts as used too.
  for (const forecast::PlannedChange& change : whole.whole(plans)) {
    if (day.holders[at(change.holder)].charger_supply >= 0 || change.at_s > day.off_s) continue;
    left.first_in_s[at(change.pack)] = std::min(left.first_in_s[at(change.pack)], change.at_s);
  }
  return left;
}

RechargeAnswer night_after(DayFile file, const RechargeWords& words) {
  RechargeAnswer out;
  const day::Scenario& day = file.scenario;
  const kit::Rest rest = words.rest ? *words.rest : file.inventory.rest.value_or(kit::Rest{});
  const auto refuse = [&](const std::string& what, const std::string& hint) {
    throw decode::InputError(file.source, rest.place, what, hint);
  };
  recharge::Night& night = out.night;

  // When.
  const double begin_s = day.periods.front().from_s;
  if (words.from_s) {
    night.from_s = not_before(*words.from_s, begin_s);
  } else {
    night.from_s = rest.from_s ? not_before(*rest.from_s, day.off_s + words.travel_s) : day.off_s + words.travel_s;
  }
  const std::optional<double> until = words.until_s ? words.until_s : rest.until_s;
  const double call_s = day.call_s + kDay_s;
  night.until_s = until                   ? not_before(*until, night.from_s + 60.0)
                  : words.next != nullptr ? words.next_begin_s
                                          : not_before(call_s, night.from_s + 60.0);
  if (night.until_s <= night.from_s)
    refuse("the next day begins before charging can", "shorten the travel, or say charging = false");
  if (!until && words.next == nullptr)
    out.notes.push_back("Ready by call at the same time the next day, as no other time was given.");
  if (night.until_s - night.from_s > (words.next != nullptr ? kLongestGap_s : kLongestRest_s))
    refuse("the rest lasts longer than three days", "give from and until nearer together");
  out.in_the_day = night.from_s < day.off_s && night.until_s <= day.off_s + day.overrun_s;
  const bool begins_in_day = night.from_s < day.off_s;

  // Who is there.
  const std::vector<day::Span> said = words.there ? *words.there : rest.there;
  out.asleep = words.asleep.value_or(rest.asleep);
  if (said.empty() && !out.in_the_day)
    refuse("nobody is said to be at the chargers, and packs do not charge unattended",
           "say who is there when, once: --there \"20:30-23:30, 06:00-06:30\" or there = [...] under [rest]");
  night.there = said.empty() ? std::vector<day::Span>{{night.from_s, night.until_s}}
                             : stretches_within(said, night.from_s, night.until_s);
  if (night.there.empty())
    refuse("nobody is at the chargers between " + clock_words(night.from_s) + " and " + clock_words(night.until_s),
           "give stretches within that time");
  if (out.asleep) {
    // From lying down to getting up: between two stretches, not before the first.
    for (std::size_t k = 0; k < night.there.size(); ++k) {
      const double from_s = night.there[k].until_s;
      const double until_s = k + 1 < night.there.size() ? night.there[k + 1].from_s : night.until_s;
      if (until_s > from_s) night.asleep.push_back({from_s, until_s});
    }
  }
  night.most_get_ups = words.get_ups.value_or(rest.get_ups);

  // What feeds the chargers.
  const double watts = words.watts.value_or(rest.watts);
  const double air_k = rest.air_k ? *rest.air_k : day.periods.back().air_k;
  const auto place_now_k = [&](int place, double at_s) {
    double air = air_k;
    for (const day::Period& period : day.periods) {
      if (at_s < day.off_s && period.from_s <= at_s) air = period.air_k;
    }
    const day::Place& where = day.places[at(place)];
    return where.kind == day::Place::Kind::bag ? air : day::place_k(where, air);
  };
  std::vector<day::Span> power = rest.power.empty() ? std::vector<day::Span>{{night.from_s, night.until_s}}
                                                    : stretches_within(rest.power, night.from_s, night.until_s);
  if (watts > 0.0) {
    night.supplies.push_back({.name = "all chargers", .watts = watts});
  } else {
    for (const day::Supply& supply : day.supplies) {
      const bool rated = supply.volts > 0.0 && supply.limit_a < 1e6;
      night.supplies.push_back(
          {.name = supply.name, .watts = rated ? supply.volts * supply.limit_a : recharge::kNoLimit});
    }
  }
  for (const kit::ChargerItem& item : file.inventory.chargers) {
    if (!words.chargers.empty() &&
        std::find(words.chargers.begin(), words.chargers.end(), item.name) == words.chargers.end())
      continue;
    const int where = rest.where >= 0 && !begins_in_day ? rest.where : item.where;
    recharge::Charger charger = charger_of(*item.kind);
    charger.name = item.name;
    charger.in_turn = item.in_turn;
    charger.bay_a = item.amps_per_bay;
    charger.together_a = item.together_a;
    charger.together_w = item.together_w;
    charger.surround_k = place_now_k(where, night.from_s);
    charger.supply = watts > 0.0 ? 0 : item.supply;
    charger.live = power;
    if (begins_in_day) {
      std::vector<day::Span> live;
      for (const day::Period& period : day.periods) {
        if (period.supply_live[at(item.supply)] != 0) live.push_back({period.from_s, period.until_s});
      }
      if (night.until_s > day.off_s) live.push_back({day.off_s, night.until_s});
      charger.live = stretches_within(live, night.from_s, night.until_s);
    }
    if (const auto more = words.extra_bays.find(item.name); more != words.extra_bays.end())
      charger.bays += more->second;
    night.chargers.push_back(std::move(charger));
  }
  // What is to be charged.
  LeftOver left = left_over(day, night.from_s);
  for (const auto& [label, charge] : words.left) {
    const auto found = std::find_if(day.packs.begin(), day.packs.end(),
                                    [&, &name = label](const day::Pack& pack) { return pack.params.label == name; });
    if (found == day.packs.end()) refuse("no pack is labelled \"" + label + "\"", "labels are those of the day file");
    left.charge[static_cast<std::size_t>(found - day.packs.begin())] = charge;
  }
  if (words.next != nullptr) {
    // In the order in which the next day wants them.
    const LeftOver after = left_over(*words.next, forecast::kNever);
    for (std::size_t p = 0; p < day.packs.size(); ++p) {
      left.first_in_s[p] = forecast::kNever;
      for (std::size_t q = 0; q < words.next->packs.size(); ++q) {
        if (words.next->packs[q].params.label == day.packs[p].params.label) left.first_in_s[p] = after.first_in_s[q];
      }
    }
  }
  std::vector<int> used;
  for (int p = 0; p < static_cast<int>(day.packs.size()); ++p) {
    if (left.first_in_s[at(p)] < forecast::kNever) used.push_back(p);
  }
  sort_stably(used, [&](int a, int b) { return left.first_in_s[at(a)] < left.first_in_s[at(b)]; });
  std::vector<int> rank(day.packs.size(), -1);
  int next = 0;
  for (const int p : used) {
    if (day::rechargeable(day.packs[at(p)])) {
      rank[at(p)] = next++;
    } else {
      out.fresh.push_back(day.packs[at(p)].params.label);
    }
  }
  std::vector<std::string> busy;
  for (int p = 0; p < static_cast<int>(day.packs.size()); ++p) {
    const day::Pack& pack = day.packs[at(p)];
    if (!day::rechargeable(pack)) continue;
    if (left.in_use[at(p)] != 0) {
      busy.push_back(pack.params.label);
      continue;
    }
    recharge::Battery battery{.pack = pack,
                              .charge = std::min(1.0, left.charge[at(p)]),
                              .temperature_k = place_now_k(left.place[at(p)], std::min(night.from_s, day.off_s - 1.0)),
                              .rank = rank[at(p)],
                              .wanted = words.enough};
    if (words.to_needed && battery.rank >= 0 && left.given_all[at(p)] == 0)
      battery.wanted = std::min(battery.wanted, left.drawn[at(p)] + kReserveCharge);
    night.batteries.push_back(std::move(battery));
    out.pack_of.push_back(p);
  }
  if (!busy.empty()) out.notes.push_back(fmt::format("At work then, and not charged: {}.", fmt::join(busy, ", ")));
  out.file = std::move(file);
  return out;
}

RechargeAnswer recharge_day(DayFile file, const RechargeWords& words) {
  RechargeAnswer out = night_after(std::move(file), words);
  const recharge::Night& night = out.night;
  const day::Scenario& day = out.file.scenario;
  const auto refuse = [&](const std::string& what, const std::string& hint) {
    const std::optional<kit::Rest>& rest = words.rest ? words.rest : out.file.inventory.rest;
    throw decode::InputError(out.file.source, rest ? rest->place : decode::Place{}, what, hint);
  };
  if (night.chargers.empty())
    refuse("the day has no [[charger]]", "add the chargers you own; list: tillwrap catalogue chargers");
  if (night.batteries.empty()) refuse("no pack of the day can be charged then", "packs at work stay where they are");
  out.answer = recharge::recharge(night, words.most_nodes);
  if (words.with_help) out.help = recharge::what_would_help(night, out.answer);
  if (!out.in_the_day && words.next == nullptr) {
    day::Scenario again = day;
    for (std::size_t b = 0; b < night.batteries.size(); ++b)
      again.packs[at(out.pack_of[b])].start_charge = std::clamp(out.answer.outcomes[b].charge, 0.0, 1.0);
    const forecast::Forecast forecast = forecast::forecast(again, {.with_one_loss = false});
    out.again_reaches = forecast.reaches_wrap;
    out.again_margin_s = forecast.margin_s;
    out.again_margin_is_least = forecast.margin_is_least;
  }
  return out;
}

}  // namespace tillwrap::app
