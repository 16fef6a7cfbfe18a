#include "app/recharge_run.hpp"

#include <fmt/format.h>

#include "app/dates.hpp"
#include "app/report_json.hpp"

namespace tillwrap::app {

namespace {

constexpr double kDay_s = 86400.0;

std::string date_after(const RunAnswer& answer, std::size_t i) {
  const std::optional<std::string>& said = answer.run.days[i].date;
  return said ? *said : answer.days[i].file.date.value_or("");
}

// "NIGHT 1: after harbour, 2026-11-23"
std::string night_words(const RunAnswer& answer, std::size_t i) {
  const RunDay& said = answer.run.days[i];
  std::string words = fmt::format("NIGHT {}: after {}", i + 1, said.where.empty() ? said.file : said.where);
  const std::string date = date_after(answer, i);
  return date.empty() ? words : words + ", " + date;
}

}  // namespace

bool nights_ready(const RunAnswer& answer) {
  for (const DayOfRun& day : answer.days) {
    if (day.rest && day.rest->answer.needed_ready < day.rest->answer.needed) return false;
  }
  return true;
}

std::string nights_text(const RunAnswer& answer) {
  std::string out;
  for (std::size_t i = 0; i + 1 < answer.days.size(); ++i) {
    if (i > 0) out += "\n";
    out += night_words(answer, i) + "\n";
    out += answer.days[i].rest ? recharge_text(*answer.days[i].rest) : "Nothing is charged.\n";
  }
  return out;
}

std::string nights_json(const RunAnswer& answer) {
  Json nights = Json::array();
  for (std::size_t i = 0; i + 1 < answer.days.size(); ++i) {
    const std::string date = date_after(answer, i);
    nights.push_back({{"after_day", i + 1},
                      {"file", answer.run.days[i].file},
                      {"place", answer.run.days[i].where},
                      {"date", date.empty() ? Json(nullptr) : Json(date)},
                      {"recharge", answer.days[i].rest ? recharge_object(*answer.days[i].rest) : Json(nullptr)}});
  }
  const Json out = {{"format", "tillwrap-recharge-run-1"},
                    {"title", answer.run.title},
                    {"all_ready", nights_ready(answer)},
                    {"nights", nights}};
  return out.dump(2) + "\n";
}

sheet::Calendar nights_calendar(const RunAnswer& answer, const std::string& stamp_utc) {
  sheet::Calendar out{.name = answer.run.title.empty() ? "Recharge" : answer.run.title + ": recharge",
                      .stamp_utc = stamp_utc};
  for (std::size_t i = 0; i + 1 < answer.days.size(); ++i) {
    if (!answer.days[i].rest) continue;
    const std::string date = date_after(answer, i);
    if (date.empty())
      throw decode::InputError(answer.run.source, answer.run.days[i].place, "a calendar needs this day's date",
                               "write date = \"2026-11-25\" under [[day]], or leave out --ics");
    if (out.first_date.empty()) out.first_date = date;
    const double later_s = kDay_s * static_cast<double>(days_of(date) - days_of(out.first_date));
    for (sheet::CalendarEntry entry : recharge_calendar(*answer.days[i].rest, date, stamp_utc).entries) {
      entry.key = fmt::format("night-{}-{}", i + 1, entry.key);
      entry.from_s += later_s;
      entry.until_s += later_s;
      out.entries.push_back(std::move(entry));
    }
  }
  return out;
}

}  // namespace tillwrap::app
