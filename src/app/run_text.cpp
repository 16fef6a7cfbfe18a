#include <fmt/format.h>

#include <algorithm>

#include "app/forecast_report.hpp"
#include "app/recharge_report.hpp"
#include "app/run_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string heading(const std::string& words) { return "\n" + words + "\n"; }
std::string paragraph(const std::string& words) { return "  " + wrapped(words, kWidth - 2, "  ") + "\n"; }
std::string plural(int n, const std::string& one) { return fmt::format("{} {}{}", n, one, n == 1 ? "" : "s"); }

std::string day_name(const RunAnswer& answer, std::size_t i) {
  const RunDay& day = answer.run.days[i];
  const std::string date = day.date ? *day.date : answer.days[i].file.date.value_or("");
  const std::string& title = answer.days[i].file.scenario.title;
  const std::string name = !day.where.empty() ? day.where : !title.empty() ? title : day.file;
  return date.empty() ? name : date + ", " + name;
}

std::string addition_words(const Addition& one) {
  std::vector<std::string> parts;
  if (one.packs > 0) parts.push_back(plural(one.packs, "more pack") + " of the kind " + one.pack_kind);
  if (one.bays > 0) parts.push_back(plural(one.bays, "more bay") + " beside those of " + one.charger);
  return fmt::format("{}", fmt::join(parts, " and "));
}

}  // namespace

std::vector<std::string> run_reasons(const RunAnswer& answer) {
  std::vector<std::string> out;
  if (answer.first_failure >= 0) {
    const DayOfRun& day = answer.days[at(answer.first_failure)];
    const Wording wording(day.file.inventory.settings);
    std::vector<std::string> low;
    for (const PackDay& pack : day.packs) {
      const day::Pack& of = day.file.scenario.packs[at(pack.pack)];
      if (pack.used && day::rechargeable(of) && pack.at_call < 0.95)
        low.push_back(fmt::format("{} ({})", pack.label, percent_words(pack.at_call)));
    }
    out.push_back(loss_words({.file = &day.file, .forecast = &day.forecast}, wording));
    if (!low.empty()) out.push_back(fmt::format("Not full at call that day: {}.", fmt::join(low, ", ")));
    if (answer.first_failure > 0) {
      const DayOfRun& before = answer.days[at(answer.first_failure - 1)];
      if (before.rest) out.push_back("The rest before it: " + recharge_verdict(*before.rest));
    }
  }
  if (!answer.additions.empty()) {
    std::vector<std::string> all;
    for (const Addition& one : answer.additions) all.push_back(addition_words(one));
    out.push_back(fmt::format("Every day lasts with {}.", fmt::join(all, "; or with ")));
  } else if (answer.looked) {
    out.emplace_back(
        "No addition of up to three packs and four bays makes every day last; remedies for that day alone look "
        "further.");
  }
  const bool chosen =
      std::any_of(answer.days.begin(), answer.days.end(), [](const DayOfRun& day) { return !day.chosen.empty(); });
  if (chosen) {
    out.emplace_back(
        "Packs are chosen day by day, the least worn of a kind first. Each day's choice is as tillwrap choose proves "
        "it; "
        "that no other sequence of choices over the run is better is not proven.");
    for (std::size_t i = 0; i < answer.days.size(); ++i) {
      if (answer.days[i].chosen != "chosen") out.push_back(fmt::format("Day {}: {}.", i + 1, answer.days[i].chosen));
    }
  }
  if (answer.journal) {
    std::vector<std::string> all;
    for (const JournalPack& pack : answer.journal->packs) {
      if (pack.charge || pack.capacity) all.push_back(journal_pack_words(pack));
    }
    if (!all.empty())
      out.push_back(fmt::format("Begun with the packs as the journal has them: {}.", fmt::join(all, "; ")));
    out.insert(out.end(), answer.journal->notes.begin(), answer.journal->notes.end());
  }
  bool cut = false;
  for (const DayOfRun& day : answer.days) cut = cut || (day.rest && !day.rest->answer.plan.complete);
  out.push_back(cut ? "Some rests were planned with a search cut short."
                    : "Each rest is planned best for the day after it; not over the whole run at once.");
  return out;
}

std::vector<std::string> run_cautions(const RunAnswer& answer) {
  std::vector<std::string> out;
  for (const DayOfRun& day : answer.days) {
    if (!day.rest) continue;
    for (std::string& caution : recharge_cautions(*day.rest)) {
      if (std::find(out.begin(), out.end(), caution) == out.end()) out.push_back(std::move(caution));
    }
  }
  return out;
}

std::string run_text(const RunAnswer& answer) {
  std::string out =
      wrapped(answer.run.title.empty() ? std::string("Run of days") : answer.run.title, kWidth, "") + "\n";
  const std::size_t n = answer.days.size();
  out += answer.first_failure < 0
             ? fmt::format("All {} days last.\n", n)
             : wrapped(fmt::format("Day {} of {} is the first that does not last: {}.", answer.first_failure + 1, n,
                                   day_name(answer, at(answer.first_failure))),
                       kWidth, "") +
                   "\n";
  out += heading("DAYS");
  for (std::size_t i = 0; i < n; ++i) {
    const DayOfRun& day = answer.days[i];
    const Wording wording(day.file.inventory.settings);
    const forecast::Forecast& f = day.forecast;
    const std::string margin =
        f.margin_is_least ? ""
                          : ", " + length_words(std::abs(f.margin_s)) + (f.margin_s < 0.0 ? " too short" : " to spare");
    out +=
        "  " +
        wrapped(fmt::format("{}  {}: {}{}; off at {}", i + 1, day_name(answer, i),
                            f.reaches_wrap ? "lasts" : "DOES NOT LAST", margin, wording.clock(day.file.scenario.off_s)),
                kWidth - 2, "     ") +
        "\n";
    if (!f.reaches_wrap)
      out += "     " + wrapped(loss_words({.file = &day.file, .forecast = &f}, wording), kWidth - 5, "     ") + "\n";
    if (day.fresh_cells > 0) out += "     " + plural(day.fresh_cells, "set") + " of new cells used up\n";
    if (i + 1 == n) continue;
    if (!day.rest) {
      out += "     then: nothing is charged\n";
      continue;
    }
    const recharge::Plan& plan = day.rest->answer.plan;
    std::string rest = "then, " + wording.clock(day.rest->night.from_s) + " to " +
                       wording.clock(day.rest->night.until_s) + ": " + recharge_verdict(*day.rest);
    if (!plan.get_up_s.empty())
      rest += fmt::format(" Somebody gets up {}.", plan.get_up_s.size() == 1 ? "once" : "twice");
    out += "     " + wrapped(rest, kWidth - 5, "     ") + "\n";
  }
  out += heading("CHARGE AT CALL, AND LEFT AT OFF");
  std::string head = "  " + padded("pack", 16);
  const std::size_t shown = std::min<std::size_t>(n, 5);
  for (std::size_t i = 0; i < shown; ++i) head += right_padded_left("day " + std::to_string(i + 1), 12);
  out += head + "\n";
  for (const PackOfRun& pack : answer.packs) {
    std::string row = "  " + padded(pack.label, 16);
    bool any = false;
    for (std::size_t i = 0; i < shown; ++i) {
      const auto found = std::find_if(answer.days[i].packs.begin(), answer.days[i].packs.end(),
                                      [&](const PackDay& one) { return one.label == pack.label; });
      std::string cell = "-";
      if (found != answer.days[i].packs.end() &&
          day::rechargeable(answer.days[i].file.scenario.packs[at(found->pack)])) {
        any = true;
        const std::string from = percent_words(found->at_call);
        cell = found->used ? from.substr(0, from.find(' ')) + " to " +
                                 percent_words(found->at_off).substr(0, percent_words(found->at_off).find(' '))
                           : from.substr(0, from.find(' '));
      }
      row += right_padded_left(cell, 12);
    }
    if (any) out += row + "\n";
  }
  if (n > shown) out += fmt::format("  (days {} to {}: --json)\n", shown + 1, n);
  out += heading("WEAR");
  for (const PackOfRun& pack : answer.packs) {
    if (pack.drawn_ah <= 0.0) continue;
    bool charged = false;
    for (const DayOfRun& day : answer.days) {
      for (const PackDay& one : day.packs)
        charged = charged || (one.label == pack.label && day::rechargeable(day.file.scenario.packs[at(one.pack)]));
    }
    if (!charged) continue;
    out += "  " + padded(pack.label, 16) +
           fmt::format(" {:5.1f} full cycles on {}", pack.cycles, plural(pack.days_used, "day")) + "\n";
  }
  out += heading("WHY");
  for (const std::string& reason : run_reasons(answer)) out += paragraph(reason);
  out += heading("CAUTIONS");
  for (const std::string& caution : run_cautions(answer)) out += paragraph(caution);
  return out;
}

}  // namespace tillwrap::app
