// Fresh cells on the power sheet.
#include <fmt/format.h>

#include <algorithm>

#include "app/expendables_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using expendables::Moment;
using expendables::Option;
using expendables::Use;

std::string blank_or(int cells) { return cells == 0 ? std::string() : std::to_string(cells); }

// A row for each device that throws cells away; devices alike in cells and moments together.
sheet::Table when_table(const ExpendablesReport& report) {
  sheet::Table table;
  table.columns = {{.title = "for"},
                   {.title = "cells, each"},
                   {.title = "call", .right = true, .share = 0.0},
                   {.title = "meal", .right = true, .share = 0.0},
                   {.title = "between", .right = true, .share = 0.0},
                   {.title = "last reach", .right = true, .share = 0.0},
                   {.title = "if late", .right = true, .share = 0.0}};
  for (const Use& use : report.answer->as_written.uses) {
    if (use.kind == nullptr) continue;
    std::vector<std::string> row{fed_words(report, use), cell_words(*use.kind)};
    for (const Moment moment : {Moment::call, Moment::meal, Moment::between, Moment::last_reach, Moment::overrun})
      row.push_back(blank_or(cells_at(report, use.holder, moment)));
    const auto same = std::find_if(table.rows.begin(), table.rows.end(), [&](const auto& other) {
      return std::equal(other.begin() + 1, other.end(), row.begin() + 1);
    });
    if (same != table.rows.end()) {
      same->front() += ", " + row.front();
    } else {
      table.rows.push_back(std::move(row));
    }
  }
  sheet::drop_empty_columns(table);
  return table;
}

std::string over_words(int days) { return days == 1 ? "a day" : fmt::format("in {} days", days); }

// The rechargeable cells that carry every device from window to window for the least money; nothing when none do.
const Option* best_rechargeable(const ExpendablesReport& report) {
  const Option* best = nullptr;
  double least = 0.0;
  for (const Option& option : report.answer->options) {
    if (!option.rechargeable || !option.lasts) continue;
    const Money money = run_cost(report, option).money;
    if (best != nullptr && money.rough() >= least) continue;
    best = &option;
    least = money.rough();
  }
  return best;
}

}  // namespace

std::optional<sheet::Section> expendables_section(const ExpendablesReport& report) {
  const expendables::Answer& answer = *report.answer;
  if (answer.as_written.cells + answer.as_written.cells_overrun == 0) return std::nullopt;
  const Wording wording(report.file->inventory.settings);
  sheet::Section section{.title = "Fresh cells", .rank = 3, .where = sheet::Section::Where::right};
  section.table = when_table(report);
  const RunCost cost = run_cost(report, answer.as_written);
  std::string thrown = fmt::format("{:.0f} {}, {} of waste, {}", cost.cells_thrown, over_words(report.days),
                                   wording.weight(cost.mass_thrown_kg), wording.money(cost.money));
  if (answer.as_written.cells_overrun > 0) thrown += fmt::format("; {} more if late", answer.as_written.cells_overrun);
  section.lines.push_back(thrown + ". A spare set a device besides.");
  for (const Use& use : answer.as_written.uses) {
    if (use.fails_s < expendables::kNever)
      section.lines.push_back(fmt::format("{} goes dark at {}: bring more, or change earlier.", fed_words(report, use),
                                          wording.clock(use.fails_s)));
  }
  if (const Option* option = best_rechargeable(report)) {
    const RunCost stock = run_cost(report, *option);
    std::string words =
        fmt::format("Rechargeable instead, {}: {} to own, {} and a charger", cell_words(*option->uses.front().kind),
                    stock.cells_bought, wording.money(stock.money));
    if (stock.cells_thrown >= 0.05)
      words += fmt::format("; {:.1f} worn out {}", stock.cells_thrown, over_words(report.days));
    const int pays = pays_off_after_days(report, *option, answer.as_written);
    if (pays > 0) words += fmt::format("; its cells are cheaper from day {} on", pays);
    section.lines.push_back(words + ".");
  } else {
    section.lines.emplace_back("No rechargeable cells of the same size carry every device from window to window.");
  }
  return section;
}

}  // namespace tillwrap::app
