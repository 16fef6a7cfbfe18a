#include "app/sheet_answers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/assess.hpp"
#include "app/findings_report.hpp"
#include "app/meters_report.hpp"
#include "app/remedy_steps.hpp"
#include "app/wiring_picture.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr std::uint32_t kChangeDays = 128;
constexpr std::uint32_t kRemedyDays = 64;
constexpr std::size_t kMostSteps = 4;
constexpr std::size_t kMostFindings = 6;
constexpr std::size_t kMostReadings = 14;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string typed(double volts) { return fmt::format("{:.1f}", volts); }

// One row a device and kind of pack; devices with the same answer together.
sheet::Table meters_table(const SheetAnswers& answers, const day::Scenario& day) {
  sheet::Table table;
  table.columns = {{.title = "on"},
                   {.title = "profile"},
                   {.title = "warn V", .right = true, .share = 0.0},
                   {.title = "change V", .right = true, .share = 0.0},
                   {.title = "cut-off V", .right = true, .share = 0.0},
                   {.title = "go by", .share = 0.0}};
  std::vector<std::string> last_device;  // of each row
  for (const meters::DeviceMeter& meter : answers.meters.meters) {
    if (meter.profiles.empty()) continue;
    std::string packs;
    for (const int pack : meter.feed.packs) packs += (packs.empty() ? "" : ", ") + day.packs[at(pack)].params.label;
    const std::string& device = day.devices[at(meter.feed.device)].name;
    const bool cells_of_its_own =
        day.holders[at(meter.feed.holder)].place == day.devices[at(meter.feed.device)].place &&
        meter.feed.packs.size() <= 3 && meter.discharge.curve.usable_j < 20.0 * 3600.0;
    std::vector<std::string> row = {cells_of_its_own ? device : device + " on " + packs,
                                    meter.fits() ? meter.profiles.front().profile.title : std::string("none fits"),
                                    meter.volts.warns ? typed(meter.volts.warn_v) : std::string("-"),
                                    meter.volts.warns ? typed(meter.volts.change_v) : std::string("-"),
                                    typed(meter.volts.cutoff_v),
                                    meter.guidance.guide == meters::Guide::volts   ? "volts"
                                    : meter.guidance.guide == meters::Guide::clock ? "the clock"
                                                                                   : "both"};
    const auto same = std::find_if(table.rows.begin(), table.rows.end(), [&](const auto& other) {
      return std::equal(other.begin() + 1, other.end(), row.begin() + 1);
    });
    if (same != table.rows.end()) {
      std::string& last = last_device[static_cast<std::size_t>(same - table.rows.begin())];
      same->front() += ", " + (last == device && !cells_of_its_own ? packs : row.front());
      last = device;
    } else {
      last_device.push_back(device);
      table.rows.push_back(std::move(row));
    }
  }
  return table;
}

// Of the device that carries most: when, which pack, what it should show, from where on to change early.
std::optional<sheet::Table> readings_table(const SheetAnswers& answers, const day::Scenario& day,
                                           const Wording& wording) {
  const meters::ReadingList* most = nullptr;
  double delivered_j = 0.0;
  for (const meters::ReadingList& list : answers.meters.readings) {
    for (const meters::DeviceMeter& meter : answers.meters.meters) {
      if (meter.feed.device != list.device || list.rows.empty() || meter.feed.delivered_j <= delivered_j) continue;
      const bool unbroken = day.devices[at(list.device)].need == day::Need::unbroken;
      if (most != nullptr && !unbroken) continue;
      delivered_j = meter.feed.delivered_j;
      most = &list;
    }
  }
  if (most == nullptr) return std::nullopt;
  sheet::Table table;
  table.columns = {{.title = "at", .share = 0.0},
                   {.title = "pack", .share = 0.0},
                   {.title = day.devices[at(most->device)].name + " V"},
                   {.title = "gauge %"},
                   {.title = "amps"},
                   {.title = "change early at"},
                   {.title = "it read", .blank = true, .share = 0.0}};
  for (const meters::Reading& row : most->rows) {
    if (row.moment == meters::Moment::hour && most->rows.size() > kMostReadings) continue;
    const int digits = row.volts.expected < 5.0 ? 2 : 1;
    std::string early;
    if (row.moment == meters::Moment::before_change) early = "change now";
    if (row.early_v)
      early =
          *row.early_v > row.volts.high + 0.05 ? "whatever it reads" : fmt::format("{:.{}f} V", *row.early_v, digits);
    table.rows.push_back(
        {wording.clock(row.at_s), day.packs[at(row.pack)].params.label,
         fmt::format("{:.{}f}\u2013{:.{}f}", row.volts.low, digits, row.volts.high, digits),
         row.gauge ? fmt::format("{:.0f}\u2013{:.0f}", 100.0 * row.gauge->low, 100.0 * row.gauge->high) : std::string(),
         fmt::format("{:.1f}\u2013{:.1f}", row.amps.low, row.amps.high), early, ""});
  }
  sheet::drop_empty_columns(table);
  return table;
}

}  // namespace

std::vector<Help> helps(const RemedyAnswer& answer) {
  std::vector<Help> found;
  for (const int k : answer.ranked) {
    if (found.size() >= kMostSteps) break;
    const RemedyStep& step = answer.steps[at(k)];
    const remedies::Tried& tried = answer.tried[at(k)];
    if (!tried.possible || step.cost.buy) continue;  // on the day there is no shop
    const double gained_s = remedies::score(answer.goal, tried.outcome) - remedies::score(answer.goal, answer.base);
    if (gained_s < remedies::kWorthWhile_s) continue;
    found.push_back({step.words, gained_s});
  }
  return found;
}

SheetAnswers sheet_answers(const DayFile& file, const decode::Document* document, const catalogue::Catalogue& catalogue,
                           const odds::Each& each) {
  SheetAnswers out{.catalogue = &catalogue};
  out.meters = meters::meters(file.scenario, file.inventory, catalogue, meters_options(file, -1));
  out.findings = findings::find(file.scenario, file.inventory, catalogue);
  out.changes = odds::change_odds(file.scenario, odds_options(file, kChangeDays, 1));
  out.expendables = expendables::answer(file.scenario, file.inventory, catalogue);
  if (document != nullptr)
    out.remedies = find_remedies(*document, file, catalogue, {.days = kRemedyDays, .most_pairs = 0}, each);
  return out;
}

ExpendablesReport expendables_of(const DayFile& file, const SheetAnswers& answers) {
  return {.file = &file, .catalogue = answers.catalogue, .answer = &answers.expendables, .days = answers.days};
}

SheetParts sheet_parts(const ForecastReport& report, const SheetAnswers& answers) {
  const day::Scenario& day = report.file->scenario;
  const Wording wording(report.file->inventory.settings);
  SheetParts parts{.forecast = report, .changes = &answers.changes};
  sheet::Table meters = meters_table(answers, day);
  if (!meters.rows.empty()) parts.meters = std::move(meters);
  parts.readings = readings_table(answers, day, wording);
  if (answers.remedies) {
    for (const Help& help : helps(*answers.remedies)) {
      std::string words = help.words;
      if (!words.empty() && words.front() >= 'a' && words.front() <= 'z')
        words.front() = static_cast<char>(words.front() - 'a' + 'A');
      parts.slip_lines.push_back(fmt::format("{}: {} more.", words, length_words(help.gained_s)));
    }
  }
  for (std::size_t i = 0; i < answers.findings.size(); ++i) {
    if (answers.findings[i].severity == findings::Severity::note || parts.finding_lines.size() >= kMostFindings)
      continue;
    const FindingWords words = finding_words(answers.findings[i], wording);
    parts.finding_lines.push_back(fmt::format("{} {}: {}", i + 1, words.title, words.advice));
  }
  parts.fresh_cells = expendables_section(expendables_of(*report.file, answers));
  parts.wiring = wiring(*report.file, answers.findings,
                        {.width = 420.0, .height = 360.0, .margin = 4.0, .title = false, .list = false});
  return parts;
}

}  // namespace tillwrap::app
