#include "app/power_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "app/changes_json.hpp"
#include "app/strip.hpp"
#include "app/wording.hpp"
#include "app/words.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

using sheet::Section;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool in_bay(const day::Scenario& day, int holder) { return day.holders[at(holder)].charger_supply >= 0; }

Section bring(const SheetParts& parts, const Wording& wording) {
  const ForecastReport& report = parts.forecast;
  const day::Scenario& day = report.file->scenario;
  const kit::Inventory& kit = report.file->inventory;
  Section section{.title = "Bring", .rank = 1, .where = Section::Where::left};
  // Packs alike in kind, charge and place stand together.
  std::vector<std::pair<std::string, std::vector<std::string>>> groups;
  const BringList list = packs_to_bring(report);
  const double late_s = day.off_s + day.overrun_s;
  for (std::size_t k = 0; k < list.used.size(); ++k) {
    const int pack = list.used[k];
    const kit::PackItem& item = kit.packs[at(pack)];
    std::string rest = built_in(day, pack) ? "inside it" : item.kind->title;
    const double charge = day.packs[at(pack)].start_charge;
    if (day::rechargeable(day.packs[at(pack)])) rest += ", charged to " + percent_words(charge);
    if (!day::rechargeable(day.packs[at(pack)]) && charge >= 0.999) rest += ", fresh";
    const std::string& spare = day.places[at(day.packs[at(pack)].spare_place)].name;
    if (spare != "bag" && !built_in(day, pack))
      rest += spare == "indoors" ? ", spare indoors" : ", spare in the " + spare;
    if (list.first_s[k] > late_s) rest += ", only past " + wording.clock(late_s);
    auto group = std::find_if(groups.begin(), groups.end(), [&](const auto& known) { return known.first == rest; });
    if (group == groups.end()) group = groups.insert(groups.end(), {rest, {}});
    group->second.push_back(day.packs[at(pack)].params.label);
  }
  for (const auto& [rest, labels] : groups) {
    std::string label;
    for (const std::string& one : labels) label += (label.empty() ? "" : ", ") + one;
    section.checks.push_back({label, rest});
  }
  for (std::size_t s = 0; s < kit.supplies.size(); ++s) {
    if (kit.supplies[s].kind != nullptr) section.checks.push_back({day.supplies[s].name, kit.supplies[s].kind->title});
  }
  for (const kit::ChargerItem& charger : kit.chargers) {
    if (!charger.holders.empty()) section.checks.push_back({charger.name, charger.kind->title});
  }
  section.lines.push_back("Packs together " + wording.weight(list.mass_kg) + ".");
  std::string home;
  for (const int pack : list.home) home += (home.empty() ? "" : ", ") + day.packs[at(pack)].params.label;
  if (!home.empty()) section.lines.push_back("Spare, not in the plan: " + home + ".");
  return section;
}

// "C1 out, C2 in" by time, with the last safe minute.
Section changes(const SheetParts& parts, const Wording& wording) {
  const ForecastReport& report = parts.forecast;
  const day::Scenario& day = report.file->scenario;
  Section section{.title = "Changes", .rank = 0, .where = Section::Where::left};
  sheet::Table table;
  table.columns = {{.title = "at", .share = 0.0},
                   {.title = "where"},
                   {.title = "out, in"},
                   {.title = "at the latest", .share = 0.0},
                   {.title = "done", .blank = true, .share = 0.0}};
  struct Row {
    double at_s;
    int holder;
    std::string where, packs, latest;
  };
  std::vector<Row> rows;
  for (const forecast::Change& change : report.forecast->run.changes) {
    if (in_bay(day, change.holder) || change.out_pack < 0 || change.at_s > day.off_s) continue;
    std::string latest;
    if (parts.changes != nullptr) {
      for (const odds::ChangeOdds& odds : *parts.changes) {
        if (odds.holder != change.holder || odds.in_pack != change.in_pack ||
            std::fabs(odds.planned_s - change.at_s) > 120.0)
          continue;
        const std::optional<double> last_s = last_safe_s(day, odds, 0.0);
        latest = !last_s ? "no hands" : std::fabs(*last_s - change.at_s) > 60.0 ? wording.clock(*last_s) : "not later";
        const std::string warning = change_warning(day, odds, last_s, wording);
        if (!warning.empty()) section.lines.push_back(warning);
      }
    }
    const std::string packs =
        day.packs[at(change.out_pack)].params.label + ", " + day.packs[at(change.in_pack)].params.label;
    const std::string& where = day.holders[at(change.holder)].name;
    // Doors opened at one moment share a line.
    const auto same = std::find_if(rows.begin(), rows.end(), [&](const Row& row) {
      return std::fabs(row.at_s - change.at_s) < 120.0 && row.latest == latest &&
             day.holders[at(row.holder)].place == day.holders[at(change.holder)].place;
    });
    if (same != rows.end()) {
      same->where += ", " + where;
      same->packs += "; " + packs;
    } else {
      rows.push_back({change.at_s, change.holder, where, packs, latest});
    }
  }
  sort_stably(rows, [](const Row& a, const Row& b) { return a.at_s < b.at_s; });
  for (const Row& row : rows) table.rows.push_back({wording.clock(row.at_s), row.where, row.packs, row.latest, ""});
  if (table.rows.empty()) {
    section.lines.push_back("None: every pack stays in from its start to off.");
  } else {
    section.table = std::move(table);
  }
  return section;
}

std::optional<Section> charging(const SheetParts& parts, const Wording& wording) {
  const ForecastReport& report = parts.forecast;
  const day::Scenario& day = report.file->scenario;
  sheet::Table table;
  table.columns = {{.title = "pack", .share = 0.0},
                   {.title = "in"},
                   {.title = "from", .share = 0.0},
                   {.title = "to", .share = 0.0},
                   {.title = "charge", .share = 0.0}};
  for (const forecast::Stint& stint : report.forecast->run.stints) {
    if (!in_bay(day, stint.holder) || stint.in_s >= day.off_s) continue;
    table.rows.push_back({day.packs[at(stint.pack)].params.label, day.holders[at(stint.holder)].name,
                          wording.clock(stint.in_s), wording.clock(std::min(stint.out_s, day.off_s)),
                          percent_words(stint.start_charge) + " to " + percent_words(stint.end_charge)});
  }
  if (table.rows.empty()) return std::nullopt;
  return Section{.title = "Charge in the day", .rank = 3, .where = Section::Where::left, .table = std::move(table)};
}

Section if_it_slips(const SheetParts& parts, const Wording& wording) {
  const ForecastReport& report = parts.forecast;
  const day::Scenario& day = report.file->scenario;
  Section section{.title = "If it slips", .rank = 0, .where = Section::Where::left};
  const std::string loss = loss_words(report, wording);
  if (!loss.empty()) section.lines.push_back("First to go: " + loss);
  std::string more;
  for (const forecast::PlannedChange& change : changes_past_off(report)) {
    more += fmt::format("{}{} {} into {}", more.empty() ? "" : "; ", wording.clock(change.at_s),
                        day.packs[at(change.pack)].params.label, day.holders[at(change.holder)].name);
  }
  if (!more.empty()) section.lines.push_back("Past off: " + more + ".");
  section.lines.insert(section.lines.end(), parts.slip_lines.begin(), parts.slip_lines.end());
  return section;
}

// Names that the strip cuts short stand whole above it, but for packs, which stand so in "Bring".
Section strip_of_day(const ForecastReport& report) {
  StripOfDay day = strip(report, {.head = false, .paper = drawing::kPaper, .names_below = false});
  std::erase_if(day.shortened, [&](const std::string& name) {
    const std::vector<day::Pack>& packs = report.file->scenario.packs;
    return std::any_of(packs.begin(), packs.end(), [&](const day::Pack& pack) { return pack.params.label == name; });
  });
  Section section{.title = "The day", .rank = 6, .where = Section::Where::right, .figure = std::move(day.picture)};
  if (!day.shortened.empty()) section.lines.push_back(in_full(day.shortened));
  return section;
}

}  // namespace

double planned_to_s(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  const double overrun_s = day.off_s + day.overrun_s;
  return report.forecast->margin_is_least ? overrun_s : std::max(overrun_s, report.forecast->stated_s);
}

BringList packs_to_bring(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  std::vector<std::pair<double, int>> first;
  const auto use = [&](int pack, double from_s) {
    if (day.packs[at(pack)].params.label.empty() || from_s > planned_to_s(report)) return;
    const auto known =
        std::find_if(first.begin(), first.end(), [&](const auto& entry) { return entry.second == pack; });
    if (known == first.end()) first.emplace_back(from_s, pack);
  };
  for (const forecast::Stint& stint : report.forecast->run.stints) use(stint.pack, stint.in_s);
  for (const forecast::PlannedChange& change : report.forecast->plan) use(change.pack, change.at_s);
  BringList list;
  for (const auto& entry : first) {
    list.used.push_back(entry.second);
    list.first_s.push_back(entry.first);
    list.mass_kg += report.file->inventory.packs[at(entry.second)].kind->mass_kg;
  }
  for (int p = 0; p < static_cast<int>(day.packs.size()); ++p) {
    if (std::find(list.used.begin(), list.used.end(), p) == list.used.end()) list.home.push_back(p);
  }
  return list;
}

bool built_in(const day::Scenario& day, int pack) {
  return std::any_of(day.holders.begin(), day.holders.end(), [&](const day::Holder& holder) {
    return holder.built_in && std::any_of(holder.slots.begin(), holder.slots.end(),
                                          [&](const day::Slot& slot) { return slot.pack == pack; });
  });
}

std::vector<forecast::PlannedChange> changes_past_off(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  std::vector<forecast::PlannedChange> found;
  for (const forecast::PlannedChange& change : report.forecast->plan) {
    if (change.at_s > day.off_s && change.at_s <= planned_to_s(report)) found.push_back(change);
  }
  return found;
}

std::string caution_words(const Wording& wording) {
  return "Estimates, not a safety clearance. Lithium packs can burn: never open, short, crush or mix them; observe "
         "polarity; protect spare terminals. Do not charge below " +
         wording.temperature(273.15) +
         " or unattended. Mains, generator and vehicle power belong to licensed people and local codes; on an aircraft "
         "the operator's word wins.";
}

std::string computed_from(const ForecastReport& report) {
  const std::string odds = report.odds == nullptr ? std::string()
                                                  : fmt::format(" and {} days as they may turn out, seed {}",
                                                                report.odds->days, report.odds->seed);
  return fmt::format(
      "Computed by tillwrap from {}: one forecast{}; kinds and limits from its catalogue, each with its "
      "source (tillwrap catalogue KIND).",
      report.file->source, odds);
}

sheet::Sheet power_sheet(const SheetParts& parts) {
  const ForecastReport& report = parts.forecast;
  const day::Scenario& day = report.file->scenario;
  const forecast::Forecast& f = *report.forecast;
  const Wording wording(report.file->inventory.settings);
  sheet::Sheet out;
  out.title = day.title.empty() ? "Power sheet" : day.title;
  if (report.file->date) out.title += ", " + *report.file->date;
  out.title += fmt::format(". Call {}, wrap {}, off {}.", wording.clock(day.call_s), wording.clock(day.wrap_s),
                           wording.clock(day.off_s));
  const std::string safe = wording.clock(std::max(f.safe_s, day.call_s));
  if (f.margin_is_least) {
    out.verdict = "It lasts past " + wording.clock(day.off_s);
  } else if (!f.reaches_wrap) {
    out.verdict = fmt::format("It does not last. Safe to {}, likely {}", safe, wording.clock(f.likely_s));
  } else {
    out.verdict = fmt::format("Safe to {}, likely {}", safe, wording.clock(f.likely_s));
  }
  out.under.push_back(one_loss_words(report, wording));
  if (report.odds != nullptr) out.under.push_back(odds_words(*report.odds, day, wording));

  out.sections.push_back(bring(parts, wording));
  out.sections.push_back(changes(parts, wording));
  if (auto section = charging(parts, wording)) out.sections.push_back(std::move(*section));
  if (parts.meters || !parts.meter_lines.empty())
    out.sections.push_back({.title = "Set on the meters",
                            .rank = 2,
                            .where = Section::Where::left,
                            .lines = parts.meter_lines,
                            .table = parts.meters});
  if (parts.readings)
    out.sections.push_back(
        {.title = "It should read", .rank = 4, .where = Section::Where::left, .table = parts.readings});
  out.sections.push_back(if_it_slips(parts, wording));
  if (!parts.finding_lines.empty())
    out.sections.push_back(
        {.title = "Before you wire it", .rank = 5, .where = Section::Where::left, .lines = parts.finding_lines});
  if (!parts.flight_lines.empty())
    out.sections.push_back({.title = "By air", .rank = 8, .where = Section::Where::left, .lines = parts.flight_lines});
  if (parts.fresh_cells) out.sections.push_back(*parts.fresh_cells);
  out.sections.push_back(strip_of_day(report));
  if (parts.wiring)
    out.sections.push_back({.title = "Wiring", .rank = 7, .where = Section::Where::right, .figure = parts.wiring});
  out.sections.push_back({.title = "",
                          .rank = 0,
                          .where = Section::Where::foot,
                          .lines = {caution_words(wording), computed_from(report)}});
  return out;
}

sheet::Calendar day_calendar(const SheetParts& parts, const std::string& date, const std::string& stamp_utc,
                             bool with_changes) {
  const ForecastReport& report = parts.forecast;
  const day::Scenario& day = report.file->scenario;
  const Wording wording(report.file->inventory.settings);
  sheet::Calendar out{.name = day.title.empty() ? "Power" : day.title, .first_date = date, .stamp_utc = stamp_utc};
  // A ring in a take is worse than a late pack: where the bag is out of reach there is no alarm.
  const auto within_reach = [&](double at_s) {
    return std::none_of(day.no_hands.begin(), day.no_hands.end(), [&](const day::NoHands& stretch) {
      return at_s >= stretch.from_s - 1.0 && at_s < stretch.until_s;
    });
  };
  for (const forecast::Stint& stint : report.forecast->run.stints) {
    if (!in_bay(day, stint.holder)) continue;
    const std::string& label = day.packs[at(stint.pack)].params.label;
    const std::string& bay = day.holders[at(stint.holder)].name;
    const double out_s = std::min(stint.out_s, day.off_s + day.overrun_s);
    out.entries.push_back(
        {.key = "charge " + label + " " + bay + " " + std::to_string(std::lround(stint.in_s)),
         .summary = label + " into " + bay,
         .description = fmt::format("{} to {}. Never below {} or unattended.", percent_words(stint.start_charge),
                                    percent_words(stint.end_charge), wording.temperature(273.15)),
         .from_s = stint.in_s,
         .until_s = out_s,
         .alarm = within_reach(stint.in_s)});
    out.entries.push_back({.key = "out " + label + " " + bay + " " + std::to_string(std::lround(out_s)),
                           .summary = label + " out of " + bay + ", " + percent_words(stint.end_charge),
                           .description = "",
                           .from_s = out_s,
                           .until_s = out_s + 300.0,
                           .alarm = within_reach(out_s)});
  }
  if (with_changes) {
    for (const forecast::Change& change : report.forecast->run.changes) {
      if (in_bay(day, change.holder) || change.out_pack < 0 || change.at_s > day.off_s) continue;
      const std::string& holder = day.holders[at(change.holder)].name;
      const std::string& in = day.packs[at(change.in_pack)].params.label;
      out.entries.push_back(
          {.key = "change " + holder + " " + in + " " + std::to_string(std::lround(change.at_s)),
           .summary = fmt::format("{}: {} out, {} in", holder, day.packs[at(change.out_pack)].params.label, in),
           .description = "",
           .from_s = change.at_s,
           .until_s = change.at_s + 300.0,
           .alarm = false});
    }
  }
  sort_stably(out.entries,
              [](const sheet::CalendarEntry& a, const sheet::CalendarEntry& b) { return a.from_s < b.from_s; });
  return out;
}

}  // namespace tillwrap::app
