#include "door/decide.hpp"

#include <stdexcept>

#include "app/assess.hpp"
#include "app/choose_day.hpp"
#include "app/choose_report.hpp"
#include "app/dates.hpp"
#include "app/findings_report.hpp"
#include "app/meters_report.hpp"
#include "app/power_sheet.hpp"
#include "app/recharge_report.hpp"
#include "app/remedies.hpp"
#include "app/remedies_report.hpp"
#include "app/sheet_json.hpp"
#include "app/stretches.hpp"
#include "app/track_day.hpp"
#include "app/travel_report.hpp"
#include "app/wiring_picture.hpp"
#include "door/journal_questions.hpp"
#include "door/params_question.hpp"
#include "door/run_question.hpp"
#include "findings/findings.hpp"
#include "meters/meters.hpp"
#include "sheet/sheet.hpp"

namespace tillwrap::door {

namespace {

using app::Json;
using decode::TableReader;

constexpr std::uint32_t kSheetDays = 512;
constexpr std::size_t kDoorPairs = 100;  // one thread, and somebody waits

Json meters(KnownDay& of) {
  const meters::Answer answer =
      meters::meters(of.file.scenario, of.file.inventory, catalogue::builtin(), app::meters_options(of.file, -1));
  return app::meters_object({.file = &of.file, .answer = &answer, .one_device = false});
}

Json findings(KnownDay& of) {
  const auto found = findings::find(of.file.scenario, of.file.inventory, catalogue::builtin());
  Json out = app::findings_object(of.file, found);
  out["drawing"] = drawing::svg_element(app::wiring(of.file, found), of.file.scenario.title, "w");
  return out;
}

Json travel(KnownDay& of, TableReader& question) {
  const std::string on = question.text("on");  // the engine has no clock: the page says the date
  const auto travellers = static_cast<int>(question.integer_or("travellers", 1, 100, 1));
  const auto answer = app::travel_answer(of.file, catalogue::builtin(), of.file.date.value_or(on), travellers);
  return app::travel_object({.file = &of.file, .answer = &answer});
}

Json choose(KnownDay& of, TableReader& question, const odds::Tell& tell) {
  app::ChooseWords words;
  words.tell = tell;
  words.sure = question.number_or("sure", 0.95, {.most = 0.999, .above = 0.0});
  words.one_loss = question.boolean_or("one_loss", false);
  words.overrun_s = question.number_or("overrun_s", 0.0, {.least = 0.0, .most = 12.0 * 3600.0});
  words.fresh_days = static_cast<std::uint32_t>(question.integer_or("fresh", 512, 100000, 2000));
  const app::ChooseAnswer answer = app::choose_day(of.file, catalogue::builtin(), words, odds::one_after_another);
  Json out = app::choose_object(answer);
  out["text"] = app::choose_text(answer);
  return out;
}

Json remedies(KnownDay& of, TableReader& question, const odds::Tell& tell) {
  app::RemedyOptions how;
  how.tell = tell;
  how.days = static_cast<std::uint32_t>(question.integer_or("days", 32, 10000, 64));
  how.most_pairs = kDoorPairs;
  const app::RemedyAnswer answer =
      app::find_remedies(of.document, of.file, catalogue::builtin(), how, odds::one_after_another);
  return app::remedies_object(of.file, answer, how);
}

// What the page says: from_s, until_s (clock, seconds after midnight), there ("20:30-23:30, 06:00-06:30"), asleep,
// get_up, watts, left ([{pack, charge}]); what is left out comes from the day's [rest]. lines: journal lines of the
// day, so that the packs are as it left them. date (of the day, where its file has none) and stamp (UTC) for the
// calendar.
Json recharge_night(KnownDay& of, TableReader& question) {
  app::RechargeWords words;
  words.from_s = question.maybe_number("from_s", {.least = 0.0, .most = 3 * 86400.0});
  words.until_s = question.maybe_number("until_s", {.least = 0.0, .most = 3 * 86400.0});
  if (const auto there = question.maybe_text("there")) {
    try {
      words.there = app::parse_stretches(*there);
    } catch (const decode::QuantityError& error) {
      question.fail("there", error.what(), error.hint);
    }
  }
  question.allow("asleep");
  if (question.has("asleep")) words.asleep = question.boolean("asleep");
  question.allow("get_up");
  if (question.has("get_up")) words.get_ups = static_cast<int>(question.integer("get_up", 0, 2));
  words.watts = question.maybe_number("watts", {.most = 100000.0, .above = 0.0});
  words.enough = question.number_or("enough", 1.0, {.most = 1.0, .above = 0.0});
  for (TableReader& one : question.tables("left")) {
    const std::string pack = one.text("pack");
    words.left.emplace_back(pack, one.number("charge", {.least = 0.0, .most = 1.0}));
    one.finish();
  }
  words.most_nodes = 100000;
  app::DayFile file = of.file;
  if (const auto lines = question.maybe_text("lines"))
    file.scenario = app::day_as_it_stands(of.file, *lines, "the journal", {}).scenario;
  const std::string date = question.text_or("date", file.date.value_or(""));
  if (!date.empty() && !app::is_iso_date(date)) question.fail("date", "this is no date", "write it as 2026-11-25");
  const std::string stamp = question.text_or("stamp", "");
  const app::RechargeAnswer answer = app::recharge_day(std::move(file), words);
  Json out = app::recharge_object(answer);
  out["drawing"] = drawing::svg_element(app::recharge_picture(answer), of.file.scenario.title, "r");
  out["calendar"] = date.empty() || stamp.empty() ? Json(nullptr)
                                                  : Json(sheet::icalendar(app::recharge_calendar(answer, date, stamp)));
  return out;
}

Json sheet_page(KnownDay& of, TableReader& question) {
  forecast::ForecastOptions options;
  options.trace = true;
  forecast::Forecast forecast = forecast::forecast(of.file.scenario, options);
  const odds::OddsAnswer odds = odds::odds(of.file.scenario, app::odds_options(of.file, kSheetDays, 1));
  app::take_odds(of.file.scenario, odds, forecast);
  app::SheetAnswers answers = app::sheet_answers(of.file, &of.document, catalogue::builtin());
  answers.days = static_cast<int>(question.integer_or("days", 1, 1000, 1));
  const app::ForecastReport report{.file = &of.file, .forecast = &forecast, .measured = &of.measured, .odds = &odds};
  const app::SheetParts parts = app::sheet_parts(report, answers);
  const sheet::Sheet sheet = app::power_sheet(parts);
  Json out = app::sheet_object(parts, answers, sheet);
  out["html"] = sheet::html(sheet);
  for (std::size_t i = 0; i < sheet.sections.size(); ++i) {
    const sheet::Section& section = sheet.sections[i];
    out["sections"][i]["figure"] =
        section.figure ? Json(drawing::svg_element(*section.figure, section.title, "s" + std::to_string(i)))
                       : Json(nullptr);
  }
  return out;
}

Json decide(const std::string& asked, KnownDay& day, TableReader& question, const odds::Tell& tell) {
  if (asked == "meters") return meters(day);
  if (asked == "findings") return findings(day);
  if (asked == "travel") return travel(day, question);
  if (asked == "choose") return choose(day, question, tell);
  if (asked == "remedies") return remedies(day, question, tell);
  if (asked == "recharge") return recharge_night(day, question);
  if (asked == "sheet") return sheet_page(day, question);
  throw std::invalid_argument("no question on a day: " + asked);
}

Json without_day(const std::string& asked, TableReader& question, const odds::Tell& tell) {
  if (asked == "params") return params_question(question);
  if (asked == "run") return run_question(question, tell);
  return journal_question(asked, question);
}

}  // namespace

const Further& decisions() {
  static constexpr Further all{.decide = decide, .without_day = without_day};
  return all;
}

}  // namespace tillwrap::door
