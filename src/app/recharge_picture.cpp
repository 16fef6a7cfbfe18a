#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/recharge_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using drawing::Anchor;
using drawing::Colour;
using drawing::Fill;

constexpr double kLeft = 104.0;
constexpr double kWide = 440.0;
constexpr double kRow = 30.0;
constexpr double kName = 20.0;  // above a charger's bays
constexpr double kTop = 54.0;
constexpr Colour kStored{0x8fb3a4};
constexpr Colour kRoom{0xefe9dc};
constexpr Colour kAwake{0xd9c98f};

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string charger_words(const recharge::Charger& charger) {
  return charger.name + ", " + plural(charger.bays, "bay");
}

}  // namespace

drawing::Picture recharge_picture(const RechargeAnswer& answer) {
  const recharge::Night& night = answer.night;
  const Wording wording(answer.file.inventory.settings);
  drawing::Picture picture;
  const double per_s = kWide / (night.until_s - night.from_s);
  const auto x = [&](double s) { return kLeft + (std::clamp(s, night.from_s, night.until_s) - night.from_s) * per_s; };
  picture.width = kLeft + kWide + 20.0;
  picture.text({12.0, 20.0}, drawing::fitted(recharge_verdict(answer), picture.width - 24.0, 12.0, true), 12.0, true);
  // A charger that is used: its name, and a row for each bay that is; what stands in several bays is a row of them.
  struct Group {
    int charger;
    std::vector<int> bays;
  };
  std::vector<Group> groups;
  double foot = kTop;
  for (int c = 0; c < static_cast<int>(night.chargers.size()); ++c) {
    Group group{.charger = c, .bays = {}};
    for (int bay = 0; bay < night.chargers[at(c)].bays; ++bay) {
      if (std::any_of(answer.answer.stays.begin(), answer.answer.stays.end(),
                      [&](const recharge::Stay& s) { return s.charger == c && s.first_bay == bay; }))
        group.bays.push_back(bay);
    }
    if (group.bays.empty()) continue;
    foot += kName + kRow * static_cast<double>(group.bays.size());
    groups.push_back(std::move(group));
  }
  const double length_s = night.until_s - night.from_s;
  const double every_s = length_s > 20 * 3600.0 ? 4 * 3600.0 : length_s > 9 * 3600.0 ? 2 * 3600.0 : 3600.0;
  for (double s = std::ceil(night.from_s / every_s) * every_s; s <= night.until_s; s += every_s) {
    picture.line({x(s), kTop - 8.0}, {x(s), foot + 16.0}, 0.3, {1.5, 2.5}, drawing::kGreyInk);
    picture.text({x(s), kTop - 12.0}, wording.hour(s), 8.0, false, Anchor::middle, drawing::kGreyInk);
  }
  double y = kTop;
  for (const Group& group : groups) {
    const recharge::Charger& charger = night.chargers[at(group.charger)];
    picture.line({12.0, y}, {kLeft + kWide, y}, 0.6);
    picture.text({12.0, y + 14.0}, drawing::fitted(charger_words(charger), kLeft + kWide - 12.0, 10.0, true), 10.0,
                 true);
    y += kName;
    for (const int bay : group.bays) {
      picture.text({kLeft - 6.0, y + 17.0}, fmt::format("bay {}", bay + 1), 9.0, false, Anchor::end);
      for (const recharge::Stay& stay : answer.answer.stays) {
        if (stay.charger != group.charger || stay.first_bay != bay) continue;
        const double left = x(stay.in_s);
        const double right = x(stay.out_s);
        const double tall = kRow - 8.0;
        picture.box({left, y + 2.0}, right - left, tall, 0.6, Fill::plain, kRoom);
        drawing::Shape level{.closed = true, .fill = Fill::plain, .fill_colour = kStored};
        level.points.push_back({left, y + 2.0 + tall});
        for (const recharge::Row& row : stay.rows)
          level.points.push_back({x(row.at_s), y + 2.0 + tall * (1.0 - std::clamp(row.charge, 0.0, 1.0))});
        level.points.push_back({right, y + 2.0 + tall});
        picture.shape(std::move(level));
        if (stay.full_s < stay.out_s) picture.line({x(stay.full_s), y + 2.0}, {x(stay.full_s), y + 2.0 + tall}, 1.0);
        picture.box({left, y + 2.0}, right - left, tall, 0.8);
        picture.text({left + 4.0, y + 15.0}, drawing::fitted(stay_label(answer, stay), right - left - 6.0, 9.0, true),
                     9.0, true);
      }
      y += kRow;
    }
  }
  picture.text({kLeft - 6.0, foot + 13.0}, "somebody there", 8.0, false, Anchor::end, drawing::kGreyInk);
  for (const day::Span& span : night.there)
    picture.box({x(span.from_s), foot + 6.0}, x(span.until_s) - x(span.from_s), 9.0, 0.5, Fill::plain, kAwake);
  for (const day::Span& span : night.asleep)
    picture.box({x(span.from_s), foot + 6.0}, x(span.until_s) - x(span.from_s), 9.0, 0.5, Fill::hatch);
  for (const double s : answer.answer.plan.get_up_s) {
    picture.line({x(s), kTop - 4.0}, {x(s), foot + 15.0}, 1.4);
    picture.text({x(s), foot + 26.0}, "gets up " + wording.clock(s), 8.0, true, Anchor::middle);
  }
  double below = foot + 40.0;
  picture.text({12.0, below}, "bar: charge; line across it: full; hatched: asleep in the room", 8.0, false,
               Anchor::start, drawing::kGreyInk);
  std::vector<std::string> below_it;
  for (const RechargePause& pause : recharge_pauses(answer)) below_it.push_back(pause_words(answer, pause));
  for (std::string& caution : recharge_cautions(answer)) below_it.push_back(std::move(caution));
  for (const std::string& caution : below_it) {
    for (const std::string& words : drawing::wrapped(caution, picture.width - 24.0, 7.5)) {
      below += 10.0;
      picture.text({12.0, below}, words, 7.5, false, Anchor::start, drawing::kGreyInk);
    }
  }
  picture.height = below + 12.0;
  return picture;
}

sheet::Calendar recharge_calendar(const RechargeAnswer& answer, const std::string& first_date,
                                  const std::string& stamp_utc) {
  const std::string& title = answer.file.scenario.title;
  sheet::Calendar out{.name = (title.empty() ? std::string("Recharge") : title + ": recharge"),
                      .first_date = first_date,
                      .stamp_utc = stamp_utc};
  const Wording wording(answer.file.inventory.settings);
  const std::string never = "Never below " + wording.temperature(273.15) + " or unattended.";
  // All that happens at one moment is one entry.
  std::vector<double> moments;
  for (const recharge::Stay& stay : answer.answer.stays) {
    moments.push_back(stay.in_s);
    if (stay.out_s < answer.night.until_s - 1.0) moments.push_back(stay.out_s);
  }
  const std::vector<RechargePause> pauses = recharge_pauses(answer);
  for (const RechargePause& pause : pauses) {
    moments.push_back(pause.from_s);
    if (pause.until_s < answer.night.until_s - 1.0) moments.push_back(pause.until_s);
  }
  std::sort(moments.begin(), moments.end());
  moments.erase(std::unique(moments.begin(), moments.end(), [](double a, double b) { return b - a < 30.0; }),
                moments.end());
  for (const double s : moments) {
    std::string words;
    const auto say = [&](const std::string& one) { words += (words.empty() ? "" : "; ") + one; };
    for (const recharge::Stay& stay : answer.answer.stays) {
      if (std::fabs(stay.out_s - s) < 30.0)
        say(stay_label(answer, stay) + " out of " + bay_label(answer, stay) + ", " +
            percent_words(std::min(1.0, stay.end_charge)));
    }
    for (const recharge::Stay& stay : answer.answer.stays) {
      if (std::fabs(stay.in_s - s) < 30.0) say(stay_label(answer, stay) + " into " + bay_label(answer, stay));
    }
    for (const RechargePause& pause : pauses) {
      for (const int c : pause.chargers) {
        if (std::fabs(pause.from_s - s) < 30.0) say(answer.night.chargers[at(c)].name + " off, nobody is there");
        if (std::fabs(pause.until_s - s) < 30.0 && s < answer.night.until_s - 1.0)
          say(answer.night.chargers[at(c)].name + " on again");
      }
    }
    const std::vector<double>& up = answer.answer.plan.get_up_s;
    const bool gets_up = std::any_of(up.begin(), up.end(), [&](double u) { return std::fabs(u - s) < 30.0; });
    out.entries.push_back({.key = fmt::format("recharge {}", std::lround(s)),
                           .summary = (gets_up ? "Get up: " : "") + words,
                           .description = never,
                           .from_s = s,
                           .until_s = s + 300.0,
                           .alarm = true});
  }
  out.entries.push_back({.key = "ready",
                         .summary = recharge_verdict(answer),
                         .description = never,
                         .from_s = answer.night.until_s,
                         .until_s = answer.night.until_s + 300.0,
                         .alarm = false});
  return out;
}

}  // namespace tillwrap::app
