#include <fmt/format.h>

#include <algorithm>

#include "app/recharge_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string joined(const std::vector<std::string>& words) {
  std::string all;
  for (std::size_t k = 0; k < words.size(); ++k)
    all += (k == 0 ? "" : k + 1 == words.size() ? " and " : ", ") + words[k];
  return all;
}

const std::string& label(const RechargeAnswer& answer, std::size_t battery) {
  return answer.file.scenario.packs[at(answer.pack_of[battery])].params.label;
}

std::string why_words(const RechargeAnswer& answer, std::size_t b, const Wording& wording) {
  const recharge::Outcome& outcome = answer.answer.outcomes[b];
  const std::string is = fmt::format("{} has {} by {}", label(answer, b), percent_words(outcome.charge),
                                     wording.clock(answer.night.until_s));
  switch (outcome.why) {
    case recharge::Why::no_charger:
      return label(answer, b) + " has no charger here that takes it; " + percent_words(outcome.charge) + " is left.";
    case recharge::Why::too_cold:
      return is + ": its charger stands where it is too cold to charge; put it where it is warm.";
    case recharge::Why::too_hot:
      return is + ": its charger stands where it is too hot to charge.";
    case recharge::Why::not_chargeable:
      return label(answer, b) + " cannot be charged.";
    default:
      return is + fmt::format("; alone on its charger it would take {}.", length_words(outcome.alone_s));
  }
}

std::string help_words(const RechargeAnswer& answer, const recharge::Help& help, const Wording& wording) {
  using Kind = recharge::Help::Kind;
  const std::string brings =
      help.all ? "all are ready" : fmt::format("{} of {} are ready", help.ready, answer.answer.needed);
  const std::string charger = help.charger >= 0 ? answer.night.chargers[at(help.charger)].name : std::string();
  switch (help.kind) {
    case Kind::bay:
      return fmt::format("With {} more beside those of {}, {}.", plural(help.count, "bay"), charger, brings);
    case Kind::charger:
      return fmt::format("With {} more like {}, {}.", plural(help.count, "charger"), charger, brings);
    case Kind::earlier:
      return fmt::format("Begun {} earlier, {}.", length_words(help.seconds), brings);
    case Kind::later:
      return fmt::format("With somebody there {} longer, until {}, {}.", length_words(help.seconds),
                         wording.clock(answer.night.there.front().until_s + help.seconds), brings);
    case Kind::get_up:
      return fmt::format("Getting up {}, {}.", help.count == 1 ? "once" : "twice", brings);
    case Kind::asleep:
      return fmt::format("If it may charge while somebody sleeps in the room (read the cautions), {}.", brings);
    case Kind::warmth:
      return fmt::format("With {} in a warm place ({}), {}.", charger, wording.temperature(293.15), brings);
    case Kind::watts:
      return fmt::format("With enough watts for all chargers at once, {}.", brings);
  }
  return {};
}

}  // namespace

std::string stay_label(const RechargeAnswer& answer, const recharge::Stay& stay) {
  std::string words = label(answer, at(stay.battery));
  if (stay.parts > 1) words += fmt::format(", {} of {}", stay.part + 1, stay.parts);
  return words;
}

std::string bay_label(const RechargeAnswer& answer, const recharge::Stay& stay) {
  const recharge::Charger& charger = answer.night.chargers[at(stay.charger)];
  if (charger.bays == 1) return charger.name;
  if (stay.bays > 1) return fmt::format("{} bays {}-{}", charger.name, stay.first_bay + 1, stay.first_bay + stay.bays);
  return fmt::format("{} bay {}", charger.name, stay.first_bay + 1);
}

std::string recharge_verdict(const RechargeAnswer& answer) {
  const Wording wording(answer.file.inventory.settings);
  const int n = answer.answer.needed;
  const int ready = answer.answer.needed_ready;
  const std::string until = wording.clock(answer.night.until_s);
  if (n == 0) return "The day uses no pack that is charged.";
  if (ready == n)
    return n == 1 ? fmt::format("The pack of the day is ready by {}.", until)
                  : fmt::format("All {} packs of the day are ready by {}.", n, until);
  std::vector<std::string> missing;
  for (std::size_t b = 0; b < answer.night.batteries.size(); ++b) {
    if (answer.night.batteries[b].rank >= 0 && !answer.answer.outcomes[b].ready) missing.push_back(label(answer, b));
  }
  return fmt::format("{} of {} packs of the day are ready by {}; not {}.", ready, n, until, joined(missing));
}

std::vector<std::string> recharge_reasons(const RechargeAnswer& answer) {
  const Wording wording(answer.file.inventory.settings);
  const recharge::Plan& plan = answer.answer.plan;
  std::vector<std::string> out;
  for (const RechargePause& pause : recharge_pauses(answer)) out.push_back(pause_words(answer, pause));
  for (const bool needed : {true, false}) {
    for (std::size_t b = 0; b < answer.night.batteries.size(); ++b) {
      if (answer.answer.outcomes[b].ready || (answer.night.batteries[b].rank >= 0) != needed) continue;
      out.push_back((needed ? "" : "Not needed: ") + why_words(answer, b, wording));
    }
  }
  for (std::size_t b = 0; b < answer.night.batteries.size(); ++b) {
    const recharge::Outcome& outcome = answer.answer.outcomes[b];
    if (outcome.warm_s > answer.night.from_s + 60.0)
      out.push_back(fmt::format("{} comes in too cold and warms until {} before it can charge.", label(answer, b),
                                wording.clock(outcome.warm_s)));
  }
  if (!answer.fresh.empty()) out.push_back(fmt::format("New cells instead of charging: {}.", joined(answer.fresh)));
  if (plan.get_up_s.empty()) {
    if (answer.asleep) out.emplace_back("Nobody has to get up.");
  } else {
    std::vector<std::string> moments;
    for (const double s : plan.get_up_s) moments.push_back(wording.clock(s));
    out.push_back(fmt::format("Somebody gets up at {}.", joined(moments)));
  }
  for (const recharge::Help& help : answer.help) out.push_back(help_words(answer, help, wording));
  if (answer.help.empty() && answer.answer.needed_ready < answer.answer.needed)
    out.emplace_back(
        "No single thing tried (bays, a charger, time, getting up, warmth, watts) makes more of them ready.");
  if (answer.again_reaches) {
    out.push_back(*answer.again_reaches ? fmt::format("The same day again on these packs lasts{}.",
                                                      answer.again_margin_is_least
                                                          ? std::string()
                                                          : " " + length_words(answer.again_margin_s) + " past off")
                                        : fmt::format("The same day again on these packs ends {} before off.",
                                                      length_words(-answer.again_margin_s)));
  }
  if (plan.complete) {
    out.emplace_back(
        "Best of all plans that move packs when somebody comes, goes or gets up (quarter hours), when the power comes "
        "or "
        "goes, or when a pack is done: most packs ready, earliest needed first, least getting up, least charging "
        "while you sleep, fewest swaps, least time spent full.");
  } else {
    const std::int64_t within = plan.cost[recharge::not_ready] - plan.bound[recharge::not_ready];
    out.push_back(within == 0
                      ? "The search was cut short; no plan makes more of the needed packs ready, but which ones, "
                        "swaps and time spent full are not proven best."
                      : fmt::format("The search was cut short: the plan is within {} of the best.",
                                    plural(within, "ready pack")));
  }
  if (answer.answer.differ_s > 120.0)
    out.push_back(fmt::format("Computed in full, a charge ends up to {} apart from what the plan reckoned with.",
                              length_words(answer.answer.differ_s)));
  for (const std::string& note : answer.notes) out.push_back(note);
  return out;
}

std::vector<RechargePause> recharge_pauses(const RechargeAnswer& answer) {
  constexpr double kWorth_s = 60.0;
  const recharge::Night& night = answer.night;
  std::vector<day::Span> watched = night.there;
  watched.insert(watched.end(), night.asleep.begin(), night.asleep.end());
  std::sort(watched.begin(), watched.end(), [](const day::Span& a, const day::Span& b) { return a.from_s < b.from_s; });
  watched.push_back({night.until_s, night.until_s});
  std::vector<RechargePause> out;
  double alone_s = night.from_s;
  for (const day::Span& span : watched) {
    RechargePause pause{.from_s = alone_s, .until_s = span.from_s};
    alone_s = std::max(alone_s, span.until_s);
    for (const recharge::Stay& stay : answer.answer.stays) {
      const double from_s = std::max(pause.from_s, stay.in_s);
      const double until_s = std::min(pause.until_s, stay.out_s);
      if (until_s - from_s < kWorth_s) continue;
      if (std::find(pause.chargers.begin(), pause.chargers.end(), stay.charger) == pause.chargers.end())
        pause.chargers.push_back(stay.charger);
    }
    if (!pause.chargers.empty()) out.push_back(std::move(pause));
  }
  return out;
}

std::string pause_words(const RechargeAnswer& answer, const RechargePause& pause) {
  const Wording wording(answer.file.inventory.settings);
  std::vector<std::string> names;
  for (const int c : pause.chargers) names.push_back(answer.night.chargers[at(c)].name);
  if (pause.until_s >= answer.night.until_s - 1.0)
    return fmt::format("Nobody is there from {}: take out by then what is in {}, or switch it off.",
                       wording.clock(pause.from_s), joined(names));
  return fmt::format(
      "Nobody is there from {} to {}: switch {} off, and on again after; what is in stays in and is reckoned to charge "
      "on then.",
      wording.clock(pause.from_s), wording.clock(pause.until_s), joined(names));
}

std::vector<std::string> recharge_cautions(const RechargeAnswer& answer) {
  const Wording wording(answer.file.inventory.settings);
  std::vector<std::string> out;
  if (answer.asleep)
    out.emplace_back(
        "Safety authorities say never to charge lithium packs while you sleep. If you do it all the same: in the room "
        "with you, a smoke alarm over it, nothing that burns near it, the way out free.");
  out.push_back(fmt::format(
      "Estimates, not a safety clearance. Charge with the maker's charger only, never unattended, on a surface that "
      "does "
      "not burn, away from bedding, doors and exits; nothing below {}. A pack that is swollen, hot, wet or was dropped "
      "stays off the charger. Mains, generator and vehicle power belong to licensed people; local codes, the house's "
      "and "
      "the operator's rules come first.",
      wording.temperature(273.15)));
  return out;
}

}  // namespace tillwrap::app
