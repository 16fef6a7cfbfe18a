#include "cli/health_command.hpp"

#include <memory>

#include "app/health_log.hpp"
#include "app/journal_add.hpp"
#include "cli/files.hpp"
#include "cli/journal_file.hpp"
#include "cli/local_zone.hpp"
#include "decode/units.hpp"

namespace tillwrap::cli {

namespace {

constexpr std::size_t kMostLogBytes = 256U * 1024 * 1024;

struct Words {
  std::string subject, pack, journal, kind, chemistry, capacity, params, ambient, day, at = "now", by;
  int cells = 0;
  bool add = false, json = false;
};

std::optional<std::string> said(const std::string& text) { return text.empty() ? std::nullopt : std::optional(text); }

// A result as a line of the journal.
journal::Line tested_line(const Words& words, const std::string& label, const journal::Test& test,
                          const std::string& at, std::int64_t now, const std::string& after) {
  app::SaidEvent event{.what = "tested", .at = at, .by = words.by.empty() ? device_name() : words.by};
  for (const auto& [key, value] : app::tested_keys(label, test)) {
    event.words.push_back("--" + key);
    event.words.push_back(value);
  }
  const app::NewLine made = app::new_line(
      event, now, local_zone(), random_bytes(), catalogue::builtin(),
      [](const std::string&) { return std::vector<std::string>(); }, after);
  return made.line;
}

// What the day's lines in the journal say, by the day file.
app::DayHealth day_health(const std::string& path, store::Store& store) {
  const app::DayFile file = read_day(path);
  const app::DaySpan span = app::span_of(file);
  app::DayOfJournal day;
  const journal::Survey survey = store.survey();
  store.each([&](const journal::Line& line) {
    const bool of_it = line.at.us > span.from_us && line.at.us < span.until_us;
    if (of_it && !survey.void_ids.contains(line.id)) day.lines.push_back(line);
  });
  day.state_before = [&](std::int64_t until_us) { return folded(store, until_us); };
  return app::health_of_day(file, day, catalogue::builtin());
}

int run(const Words& words) {
  const bool is_log = words.subject == "-" || exists(words.subject);
  const std::string label = is_log ? words.pack : words.subject;
  if (!is_log && words.subject.find_first_of("./") != std::string::npos)
    throw decode::InputError(words.subject, {1, 1}, "there is no such file",
                             "check the path, or name a pack of the journal");
  if (!is_log && !words.pack.empty()) refuse("--pack beside a pack", "name the pack once, or a log and --pack");
  if (!words.day.empty() && is_log)
    refuse("--day beside a log", "name a pack of the journal and the day it was used on");
  if (words.add && (label.empty() || (!is_log && words.day.empty())))
    refuse("--add: what is to be added?", "name a log and --pack LABEL, or a pack and --day DAY");
  const std::int64_t now = now_us();
  std::optional<journal::State> state;
  const journal::PackState* pack = nullptr;
  std::optional<app::DayHealth> day;
  if (!label.empty()) {
    store::Store store(journal_path(words.journal), store::Open::read);
    state = folded(store, now);
    pack = state->pack(label);
    if (pack == nullptr) {
      std::vector<std::string> known;
      for (const journal::PackState& one : state->packs) known.push_back(one.label);
      const auto near = decode::nearest(label, known);
      refuse("there is no file and no pack \"" + label.substr(0, 60) + "\" in the journal",
             near ? "did you mean \"" + *near + "\"?" : "see the packs with: tillwrap kit");
    }
    if (!words.day.empty()) day = day_health(words.day, store);
  }
  std::optional<app::HealthAnswer> log;
  if (is_log) {
    app::HealthWords health;
    health.log = {words.subject, read_file(words.subject, kMostLogBytes)};
    health.kind = said(words.kind);
    health.chemistry = said(words.chemistry);
    health.capacity_ah = said(words.capacity);
    health.ambient = said(words.ambient);
    if (!words.params.empty()) health.params = read_document(words.params);
    if (words.cells != 0) health.cells = words.cells;
    if (pack != nullptr && !health.kind && !health.chemistry && !health.params) health.kind = pack->kind;
    log = app::health_of_log(health, catalogue::builtin());
  }
  std::vector<std::string> notes;
  const std::int64_t log_us = app::moment_of(words.at, now, local_zone(), notes).us;
  journal::PackState with_log;
  app::HealthReport report = app::health_report(log, day ? &*day : nullptr, pack, state ? *state : journal::State(),
                                                log_us, now, with_log, catalogue::builtin());
  std::vector<std::pair<std::string, journal::Test>> found;
  if (log && log->plausible && log->capacity_told) found.emplace_back(label, app::log_as_test(*log, log_us));
  if (day) found = app::tests_of_day(*day, *state);  // of all its packs: they were found together
  if (words.add && !found.empty()) {
    const std::string at = day ? journal::moment_text({day->until_us, day->offset_min}) : words.at;
    store::Store store(journal_path(words.journal), store::Open::add);
    store.begin();
    for (const auto& [of, test] : found) {
      const journal::Line line = tested_line(words, of, test, at, now, report.journal_id);
      store.put(line);
      report.journal_id = line.id;
    }
    store.commit();
  }
  if (log) log->notes.insert(log->notes.end(), notes.begin(), notes.end());
  if (print(words.json ? app::health_json(report) : app::health_text(report)) != 0) return 2;
  return (log && !log->plausible) || app::to_retire(report) ? 1 : 0;
}

}  // namespace

void add_health(CLI::App& program, Commands& commands) {
  const auto words = std::make_shared<Words>();
  CLI::App* command = program.add_subcommand(
      "health", "what is left of a pack: by a log of it, its registers, or its years in the journal");
  command
      ->add_option("LOG|PACK", words->subject,
                   "CSV: a bench discharge, a day, or a smart pack's registers; or a pack of the journal")
      ->required();
  command->add_option("--pack", words->pack, "the log is of this pack of the journal");
  command->add_option("--kind", words->kind, "the log is of a pack of this kind");
  command->add_option("--chemistry", words->chemistry,
                      "the log is of cells like this one of the catalogue, such as nmc");
  command->add_option("--capacity-ah", words->capacity, "with --chemistry: rated capacity of the cell, Ah");
  command->add_option("--params", words->params, "the log is of the cell of this parameter file, as new");
  command->add_option("--cells", words->cells, "cells in series in the log; 1, or as the kind has");
  command->add_option("--ambient", words->ambient, "air temperature of the log, °C");
  command->add_option("--day", words->day,
                      "day file a pack of the journal was used on: its readings of that date count by its wiring");
  command->add_flag("--add", words->add, "with --pack or --day: put the result into the journal");
  command->add_option("--at", words->at, "with --add: when the log was taken; now if left out");
  command->add_option("--by", words->by, "with --add: device of origin");
  add_journal_option(*command, words->journal);
  command->add_flag("--json", words->json, "print JSON (schema/health.schema.json)");
  command->footer("Exit codes: 0 good, 1 to be retired or the log is of another pack, 2 bad input.");
  commands.push_back({command, [words] { return run(*words); }});
}

}  // namespace tillwrap::cli
