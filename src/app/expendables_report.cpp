#include "app/expendables_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/prices.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using expendables::Moment;
using expendables::Option;
using expendables::Use;

constexpr std::size_t kWidth = 80;
// Full cycles a rechargeable cell is good for: 300 to 500 by a secondary source; the lower end.
constexpr double kCycles = 300.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string paragraph(const std::string& text, std::string_view indent = "") {
  return wrapped(text, kWidth, indent) + "\n";
}

int cells_of(const catalogue::PackKind& kind) { return kind.series * kind.parallel; }

// One cell of a kind: the user's own price where a pack of the same cells has one.
Money cell_price(const ExpendablesReport& report, const catalogue::PackKind& kind) {
  for (const kit::PackItem& pack : report.file->inventory.packs) {
    if (pack.own_price && pack.kind->cell == kind.cell && pack.kind->travel.kind == kind.travel.kind)
      return Money::of(pack.price / cells_of(*pack.kind), true);
  }
  return (1.0 / cells_of(kind)) * pack_price(report.file->inventory, kind);
}

const char* moment_key(Moment moment) {
  switch (moment) {
    case Moment::call:
      return "call";
    case Moment::meal:
      return "meal";
    case Moment::last_reach:
      return "last_reach";
    case Moment::between:
      return "between";
    case Moment::overrun:
      return "overrun";
  }
  return "";
}

std::string option_words(const Option& option) {
  for (const Use& use : option.uses) {
    if (use.kind != nullptr) return cell_words(*use.kind);
  }
  return option.cell;
}

std::string count_words(int cells) { return cells == 0 ? "-" : std::to_string(cells); }

}  // namespace

std::string fed_words(const ExpendablesReport& report, const Use& use) {
  const day::Scenario& day = report.file->scenario;
  return use.device >= 0 ? day.devices[at(use.device)].name : day.holders[at(use.holder)].name;
}

std::string cell_words(const catalogue::PackKind& kind) {
  const std::string set = fmt::format("{} x ", kind.travel.pieces);
  const std::string title = kind.title.starts_with(set) ? kind.title.substr(set.size()) : kind.title;
  return title.substr(0, title.find(" ("));
}

int cells_at(const ExpendablesReport& report, int holder, Moment moment) {
  int cells = 0;
  for (const expendables::Fresh& fresh : report.answer->fresh) {
    if ((holder < 0 || fresh.holder == holder) && fresh.moment == moment) cells += cells_of(*fresh.kind);
  }
  return cells;
}

RunCost run_cost(const ExpendablesReport& report, const Option& option) {
  RunCost cost;
  for (const Use& use : option.uses) {
    if (use.kind == nullptr) continue;
    const int cells = cells_of(*use.kind);
    const double cell_kg = use.kind->mass_kg / cells;
    const int day_cells = cells * static_cast<int>(use.in_s.size());
    if (option.rechargeable) {
      const int stock = day_cells + cells * static_cast<int>(use.in_overrun_s.size());
      cost.cells_bought += stock;
      cost.money += static_cast<double>(stock) * cell_price(report, *use.kind);
      const double worn = day_cells * report.days / kCycles;
      cost.cells_thrown += worn;
      cost.mass_thrown_kg += worn * cell_kg;
    } else {
      const int all = day_cells * report.days;
      cost.cells_bought += all;
      cost.money += static_cast<double>(all) * cell_price(report, *use.kind);
      cost.cells_thrown += all;
      cost.mass_thrown_kg += all * cell_kg;
    }
  }
  return cost;
}

int pays_off_after_days(const ExpendablesReport& report, const Option& rechargeable, const Option& disposable) {
  ExpendablesReport one = report;
  one.days = 1;
  const Money stock = run_cost(one, rechargeable).money;
  const Money a_day = run_cost(one, disposable).money;
  const bool one_currency = report.file->inventory.settings.currency == "USD";
  if (!one_currency && (stock.has_own != a_day.has_own || stock.has_guess != a_day.has_guess)) return 0;
  const double stock_sum = stock.rough();
  const double day_sum = a_day.rough();
  if (day_sum <= 0.0 || (stock.has_own && stock.has_guess && !one_currency)) return 0;
  return std::max(1, static_cast<int>(std::floor(stock_sum / day_sum)) + 1);
}

std::string expendables_text(const ExpendablesReport& report) {
  const day::Scenario& day = report.file->scenario;
  const expendables::Answer& a = *report.answer;
  const Wording wording(report.file->inventory.settings);
  std::string text = day.title.empty() ? std::string() : day.title + "\n";
  if (a.as_written.uses.empty()) return text + "No holder starts with primary cells: nothing is thrown away.\n";

  std::string when;
  for (const auto& [moment, words] :
       {std::pair{Moment::call, "at call"}, std::pair{Moment::meal, "at the meal"},
        std::pair{Moment::between, "between"}, std::pair{Moment::last_reach, "at the last reach"}}) {
    const int cells = cells_at(report, -1, moment);
    if (cells > 0) when += fmt::format("{}{} {}", when.empty() ? "" : ", ", cells, words);
  }
  text += paragraph(fmt::format("Fresh cells a day: {} ({}){}.", a.as_written.cells, when,
                                a.as_written.cells_overrun > 0
                                    ? fmt::format("; {} more if it goes on to {}", a.as_written.cells_overrun,
                                                  wording.clock(day.off_s + day.overrun_s))
                                    : ""));
  for (const Use& use : a.as_written.uses) {
    if (use.fails_s < expendables::kNever)
      text += paragraph(fmt::format("{} goes dark at {}: bring more, or change earlier.", fed_words(report, use),
                                    wording.clock(use.fails_s)));
  }

  text += "\nAS THE DAY FILE PLANS IT, CELLS\n";
  text += fmt::format("  {} {} {} {} {} {} {}\n", padded("for", 18), padded("cells", 25), "call", "meal", "else",
                      "late", "last reached");
  for (const Use& use : a.as_written.uses) {
    if (use.kind == nullptr) continue;
    const int h = use.holder;
    text +=
        fmt::format("  {} {} {} {} {} {} {}\n", padded(fed_words(report, use), 18), padded(cell_words(*use.kind), 25),
                    right_padded_left(count_words(cells_at(report, h, Moment::call)), 4),
                    right_padded_left(count_words(cells_at(report, h, Moment::meal)), 4),
                    right_padded_left(
                        count_words(cells_at(report, h, Moment::between) + cells_at(report, h, Moment::last_reach)), 4),
                    right_padded_left(count_words(cells_at(report, h, Moment::overrun)), 4),
                    use.last_reach_s >= day.wrap_s - 1.0 ? "to wrap" : wording.clock(use.last_reach_s));
  }
  text += paragraph("  (late: if it goes on past off)", "  ");

  text += "\nWHICH CELLS, CHANGED ONLY WHEN NEEDED";
  text += report.days == 1 ? ", ONE DAY\n" : fmt::format(", {} DAYS\n", report.days);
  text += fmt::format("  {} {} {} {} {} {}\n", padded("cell", 29), " day", "late", padded("lasts", 11),
                      padded("thrown away", 12), "costs");
  bool guessed = false;
  const auto row = [&](const std::string& name, const Option& option) {
    const RunCost cost = run_cost(report, option);
    guessed = guessed || cost.money.has_guess;
    double fails_s = expendables::kNever;
    for (const Use& use : option.uses) fails_s = std::min(fails_s, use.fails_s);
    const std::string thrown =
        fmt::format("{:.{}f}, {}", cost.cells_thrown, option.rechargeable ? 1 : 0, wording.weight(cost.mass_thrown_kg));
    std::string line =
        fmt::format("  {} {} {} {} {}", padded(name, 29), right_padded_left(std::to_string(option.cells), 4),
                    right_padded_left(count_words(option.cells_overrun), 4),
                    padded(option.lasts ? "yes" : "to " + wording.clock(fails_s), 11), padded(thrown, 12));
    const std::string money = wording.money(cost.money);
    if (columns(line) + 1 + columns(money) > kWidth) line += "\n" + std::string(30, ' ');
    text += line + " " + money + "\n";
  };
  row("as planned above", a.as_written);
  for (const Option& option : a.options) row(option_words(option), option);

  text += "\n";
  for (const Option& option : a.options) {
    if (!option.rechargeable) continue;
    const std::string name = option_words(option);
    if (!option.lasts) {
      for (const Use& use : option.uses) {
        if (use.fails_s >= expendables::kNever) continue;
        text += paragraph(fmt::format("{}: not from window to window; {} goes dark at {}.", name,
                                      fed_words(report, use), wording.clock(use.fails_s)),
                          "  ");
      }
      continue;
    }
    std::string sentence = fmt::format("{}: carries every device from window to window; {} cells to own.", name,
                                       run_cost(report, option).cells_bought);
    const int pays = pays_off_after_days(report, option, a.as_written);
    if (pays > 0) sentence += fmt::format(" Cheaper than what is planned from day {} on.", pays);
    if (option.charger != nullptr)
      sentence += fmt::format(" To be full by the next call: {} x {}, {} a filling ({}, not in the costs).",
                              option.chargers, option.charger->title, length_words(option.charge_s),
                              wording.money(option.chargers * price_of(report.file->inventory, *option.charger)));
    text += paragraph(sentence, "  ");
  }
  text +=
      "\n" + paragraph(fmt::format("One expected day: bring a spare set a device as well. Rechargeable cells are taken "
                                   "as new and full, and to wear out after {:.0f} cycles (300 to 500, secondary "
                                   "source). Old and new cells do not mix; do not throw cells into the household "
                                   "waste; do not charge unattended.",
                                   kCycles));
  if (guessed) text += paragraph(wording.guess_note(report.catalogue->packs.front().provenance.checked));
  return text;
}

Json expendables_object(const ExpendablesReport& report) {
  const day::Scenario& day = report.file->scenario;
  const expendables::Answer& a = *report.answer;
  Json out;
  out["format"] = "tillwrap-expendables-1";
  out["title"] = day.title;
  out["days"] = report.days;
  out["fresh"] = Json::array();
  for (const expendables::Fresh& fresh : a.fresh) {
    out["fresh"].push_back({{"holder", day.holders[at(fresh.holder)].name},
                            {"device", fresh.device >= 0 ? Json(day.devices[at(fresh.device)].name) : Json(nullptr)},
                            {"kind", fresh.kind->id},
                            {"cells", cells_of(*fresh.kind)},
                            {"in_s", fresh.in_s},
                            {"moment", moment_key(fresh.moment)}});
  }
  const auto option_json = [&](const Option& option) {
    const RunCost cost = run_cost(report, option);
    Json json = {{"cell", option.cell.empty() ? Json(nullptr) : Json(option.cell)},
                 {"rechargeable", option.rechargeable},
                 {"lasts", option.lasts},
                 {"cells_a_day", option.cells},
                 {"cells_overrun", option.cells_overrun}};
    json["run"] = {{"cells_bought", cost.cells_bought},
                   {"cells_thrown", cost.cells_thrown},
                   {"mass_thrown_kg", cost.mass_thrown_kg},
                   {"cost_own", cost.money.has_own ? Json(cost.money.own) : Json(nullptr)},
                   {"currency", report.file->inventory.settings.currency},
                   {"cost_guess_usd", cost.money.has_guess ? Json(cost.money.guess_usd) : Json(nullptr)}};
    const int pays = option.rechargeable && option.lasts ? pays_off_after_days(report, option, a.as_written) : 0;
    json["pays_off_from_day"] = pays > 0 ? Json(pays) : Json(nullptr);
    json["charger"] =
        option.charger != nullptr
            ? Json({{"kind", option.charger->id}, {"count", option.chargers}, {"filling_s", option.charge_s}})
            : Json(nullptr);
    json["uses"] = Json::array();
    for (const Use& use : option.uses) {
      json["uses"].push_back({{"holder", day.holders[at(use.holder)].name},
                              {"device", use.device >= 0 ? Json(day.devices[at(use.device)].name) : Json(nullptr)},
                              {"kind", use.kind != nullptr ? Json(use.kind->id) : Json(nullptr)},
                              {"in_s", use.in_s},
                              {"in_overrun_s", use.in_overrun_s},
                              {"fails_s", use.fails_s < expendables::kNever ? Json(use.fails_s) : Json(nullptr)},
                              {"last_reach_s", use.last_reach_s}});
    }
    return json;
  };
  out["as_planned"] = option_json(a.as_written);
  out["options"] = Json::array();
  for (const Option& option : a.options) out["options"].push_back(option_json(option));
  return out;
}

std::string expendables_json(const ExpendablesReport& report) { return expendables_object(report).dump(2) + "\n"; }

}  // namespace tillwrap::app
