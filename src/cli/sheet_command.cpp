#include "cli/sheet_command.hpp"

#include <algorithm>
#include <filesystem>
#include <map>
#include <memory>
#include <thread>

#include "app/assess.hpp"
#include "app/power_sheet.hpp"
#include "app/sheet_json.hpp"
#include "cli/files.hpp"
#include "cli/local_zone.hpp"
#include "cli/threads.hpp"
#include "paper/pdf.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string day;
  std::string out;
  std::vector<std::string> formats;
  std::string paper = "a4";
  bool changes = false;
  int days = 1;
  bool json = false;
};

// Writes the files into the folder; says which.
std::string written(const std::string& folder, const std::map<std::string, std::string>& files) {
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  if (failed || !std::filesystem::is_directory(folder))
    throw decode::InputError(folder, {1, 1}, "this folder cannot be made", "name a folder you may write to");
  std::string said;
  for (const auto& [name, bytes] : files) {
    const std::string path = (std::filesystem::path(folder) / name).string();
    write_file(path, bytes);
    said += "wrote " + path + "\n";
  }
  return said;
}

int run(const Options& options) {
  const std::vector<std::string> all = {"html", "pdf", "svg", "ics", "csv", "json"};
  if (options.out.empty() && !options.json) refuse("--out is required", "name a folder, or ask for --json alone");
  if (options.out.empty() && !options.formats.empty())
    refuse("--format without --out", "name the folder the files go into with --out DIR");
  const std::vector<std::string> formats = options.out.empty()       ? std::vector<std::string>{}
                                           : options.formats.empty() ? std::vector<std::string>{"html", "pdf"}
                                                                     : options.formats;
  for (const std::string& format : formats) {
    if (std::find(all.begin(), all.end(), format) == all.end())
      refuse("--format: there is no \"" + format.substr(0, 40) + "\"", "allowed: html, pdf, svg, ics, csv, json");
  }
  const auto paper = sheet::paper_named(options.paper);
  if (!paper) refuse("--paper: there is no \"" + options.paper.substr(0, 40) + "\"", "allowed: a4, letter, a6");
  const auto wanted = [&](const char* format) {
    return std::find(formats.begin(), formats.end(), format) != formats.end();
  };
  const decode::Document document = read_document(options.day);
  app::DayFile file = day_of(document, options.day);
  if (wanted("ics") && !file.date)
    throw decode::InputError(file.source, {1, 1}, "a calendar needs the day's date",
                             "write date = \"2026-11-25\" under [day], or leave ics out of --format");
  forecast::ForecastOptions forecast_options;
  forecast_options.trace = true;
  forecast_options.longest_step_s = 60.0;
  const app::Assessment answer = app::assess(file, forecast_options);
  app::SheetAnswers answers = app::sheet_answers(file, &document, catalogue::builtin(),
                                                 on_threads(std::max(1U, std::thread::hardware_concurrency())));
  answers.days = options.days;
  const app::SheetParts parts = app::sheet_parts(
      {.file = &file, .forecast = &answer.forecast, .measured = &answer.measured, .odds = &answer.odds}, answers);
  const sheet::Sheet sheet = app::power_sheet(parts);

  // Everything is made before anything is written.
  std::map<std::string, std::string> files;
  const std::string& title = file.scenario.title.empty() ? std::string("Power sheet") : file.scenario.title;
  if (wanted("html")) files["sheet.html"] = sheet::html(sheet);
  if (wanted("pdf") || wanted("svg")) {
    const sheet::Laid laid = sheet::lay_out(sheet, *paper);
    if (wanted("svg")) files["sheet.svg"] = drawing::svg(laid.page, title);
    if (wanted("pdf")) files["sheet.pdf"] = paper::pdf(laid.page, {.title = title, .date = file.date.value_or("")});
  }
  if (wanted("ics"))
    files["power.ics"] = sheet::icalendar(app::day_calendar(parts, *file.date, now_utc(), options.changes));
  const std::string json =
      options.json || wanted("json") ? app::sheet_object(parts, answers, sheet).dump(2) + "\n" : std::string();
  if (wanted("json")) files["sheet.json"] = json;
  if (wanted("csv")) {
    for (const sheet::Section& section : sheet.sections) {
      if (!section.table) continue;
      std::string name = section.title;
      std::transform(name.begin(), name.end(), name.begin(), [](char c) {
        return c == ' ' ? '-' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
      });
      files[name + ".csv"] = sheet::csv(*section.table);
    }
  }
  std::string said;
  if (!options.out.empty()) said = written(options.out, files);
  if (print(options.json ? json : said) != 0) return 2;
  return answer.forecast.reaches_wrap ? 0 : 1;
}

}  // namespace

void add_sheet(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words = program.add_subcommand("sheet", "the power sheet: one page for the bag");
  add_day_option(*words, options->day);
  words->add_option("--out", options->out, "folder to write into; made when missing");
  words
      ->add_option("--format", options->formats,
                   "html, pdf, svg, ics, csv, json; several with commas; default html,pdf")
      ->delimiter(',');
  words->add_option("--paper", options->paper, "a4, letter or a6")->capture_default_str();
  words->add_option("--days", options->days, "a run of so many days like this one: fresh cells, their price and waste")
      ->capture_default_str()
      ->check(CLI::Range(1, 1000));
  words->add_flag("--changes", options->changes, "put pack changes into the calendar too, without alarms");
  words->add_flag("--json", options->json, "print it as JSON (schema/sheet.schema.json); --out may be left out");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
