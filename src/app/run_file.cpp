#include "app/run_file.hpp"

#include "app/dates.hpp"
#include "app/rest_table.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::app {

namespace {
constexpr std::size_t kMostDays = 60;
}

bool is_run(const decode::Document& document) {
  const decode::Node* days = document.root.find("day");
  return days != nullptr && days->kind == decode::Kind::array;
}

RunFile read_run(const decode::Document& document) {
  decode::TableReader root(document, document.root, "the run file");
  RunFile run{.source = document.source};
  if (!root.has("format")) root.fail_here("the run file has no key \"format\"", "add format = 1");
  if (root.integer("format", 0, 1'000'000) != 1)
    root.fail("format", "this program reads run files of format 1 only", "write format = 1");
  run.title = root.text_or("title", "");
  run.fresh_cells = root.boolean_or("fresh_cells", true);
  for (decode::TableReader& reader : root.tables("day", "day")) {
    RunDay day{.file = reader.text("file"), .place = reader.place("file")};
    if (const decode::Node* date = reader.take("date")) {
      const bool text = date->kind == decode::Kind::date || date->kind == decode::Kind::text;
      if (!text || !is_iso_date(date->text)) reader.fail("date", "this is no date", "write it as 2026-11-25");
      day.date = date->text;
    }
    day.where = reader.text_or("place", "");
    if (auto rest = reader.maybe_table("rest", "the rest")) {
      day.travel_s = rest->quantity_or("travel", decode::Dimension::duration, 0.0, {.least = 0.0, .most = 3 * 86400.0});
      day.charging = rest->boolean_or("charging", true);
      day.chargers = rest->texts_or_none("chargers");
      kit::Rest own = read_rest_table(*rest, day.rest_place);
      rest->finish();
      const bool said = !own.there.empty() || own.from_s || own.until_s || own.asleep || own.air_k ||
                        !own.power.empty() || own.watts > 0.0 || !day.rest_place.empty();
      if (said) day.rest = std::move(own);
    }
    reader.finish();
    if (!run.days.empty() && run.days.back().date && day.date && *day.date <= *run.days.back().date)
      reader.fail("date", "this day is not after the one before it", "write the days in order");
    run.days.push_back(std::move(day));
  }
  root.finish();
  if (run.days.size() < 2)
    root.fail_here("a run has at least two days", "write a [[day]] with file = \"day1.toml\" for each");
  if (run.days.size() > kMostDays) root.fail_here("a run has at most 60 days", "split the production");
  return run;
}

}  // namespace tillwrap::app
