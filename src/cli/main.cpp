// The command line: reads files, calls the use cases, prints. Exit 0: done, the day reaches wrap; 1: it does not;
// 2: bad input, one line on standard error says where and what to do.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <string>
#include <thread>
#include <vector>

#include "app/assess.hpp"
#include "app/compose.hpp"
#include "app/day_file.hpp"
#include "app/discharge.hpp"
#include "app/forecast_report.hpp"
#include "app/measured.hpp"
#include "app/odds_report.hpp"
#include "app/starter.hpp"
#include "app/strip.hpp"
#include "catalogue/explain.hpp"
#include "cli/choose_command.hpp"
#include "cli/commands.hpp"
#include "cli/compare_command.hpp"
#include "cli/expendables_command.hpp"
#include "cli/files.hpp"
#include "cli/findings_command.hpp"
#include "cli/fit_command.hpp"
#include "cli/health_command.hpp"
#include "cli/help.hpp"
#include "cli/journal_command.hpp"
#include "cli/kit_command.hpp"
#include "cli/meters_command.hpp"
#include "cli/recharge_command.hpp"
#include "cli/remedies_command.hpp"
#include "cli/run_command.hpp"
#include "cli/sheet_command.hpp"
#include "cli/track_command.hpp"
#include "cli/travel_command.hpp"
#include "decode/units.hpp"

namespace {

using namespace tillwrap;

constexpr std::uint32_t kChangeDays = 128;  // for how long each pack would serve past its change
constexpr std::size_t kMostProfileBytes = 256U * 1024 * 1024;

using cli::print;
using cli::read_document;

int forecast_command(const std::string& path, bool json, const std::string& csv, const std::string& svg,
                     double step_s) {
  for (const std::string& out : {csv, svg}) {
    if (!out.empty() && cli::same_file(path, out))
      throw decode::InputError(out, {1, 1}, "this is the day file itself",
                               "name another file to write; nothing was changed");
  }
  const decode::Document document = read_document(path);
  app::DayFile file = cli::day_of(document, path);
  forecast::ForecastOptions options;
  options.trace = !csv.empty() || !svg.empty();
  if (options.trace) options.longest_step_s = step_s;
  const app::Assessment answer = app::assess(file, options);
  std::vector<odds::ChangeOdds> changes;
  if (!json) changes = odds::change_odds(file.scenario, app::odds_options(file, kChangeDays, 1));
  const app::ForecastReport report{.file = &file,
                                   .forecast = &answer.forecast,
                                   .measured = &answer.measured,
                                   .odds = &answer.odds,
                                   .changes = &changes};
  if (!csv.empty()) cli::write_file(csv, app::forecast_csv(report));
  if (!svg.empty()) cli::write_file(svg, app::strip_svg(report));
  if (print(json ? app::forecast_json(report) : app::forecast_text(report)) != 0) return 2;
  return answer.forecast.reaches_wrap ? 0 : 1;
}

// Days shared out over threads in fixed ranges: the answer has the same bytes with any number of them.
std::vector<odds::DayOutcome> odds_days(const day::Scenario& scenario, const odds::OddsOptions& options,
                                        unsigned threads) {
  std::vector<odds::DayOutcome> days(options.days);
  std::vector<std::exception_ptr> failed(threads);
  std::vector<std::thread> running;
  for (unsigned k = 0; k < threads; ++k) {
    running.emplace_back([&, k] {
      try {
        const std::size_t first = options.days * std::size_t{k} / threads;
        const std::size_t last = options.days * std::size_t{k + 1} / threads;
        odds::Worker worker(scenario, options);
        std::vector<odds::DayOutcome> own(last - first);
        worker.run(static_cast<std::uint32_t>(first), own);
        std::copy(own.begin(), own.end(), days.begin() + static_cast<std::ptrdiff_t>(first));
      } catch (...) {
        failed[k] = std::current_exception();
      }
    });
  }
  for (std::thread& thread : running) thread.join();
  for (const std::exception_ptr& error : failed) {
    if (error) std::rethrow_exception(error);
  }
  return days;
}

int odds_command(const std::string& path, bool json, std::uint32_t days, std::uint64_t seed, unsigned threads) {
  const decode::Document document = read_document(path);
  app::DayFile file = cli::day_of(document, path);
  app::apply_measured(file);
  const odds::OddsOptions options = app::odds_options(file, days, seed);
  const odds::OddsAnswer answer = odds::summary(file.scenario, options, odds_days(file.scenario, options, threads));
  odds::OddsOptions fewer = options;
  fewer.days = std::min(days, kChangeDays);
  const std::vector<odds::ChangeOdds> changes = odds::change_odds(file.scenario, fewer);
  const forecast::Forecast forecast = forecast::forecast(file.scenario);
  const app::OddsReport report{
      .file = &file, .options = &options, .odds = &answer, .changes = &changes, .forecast = &forecast};
  if (print(json ? app::odds_json(report) : app::odds_text(report)) != 0) return 2;
  return forecast.reaches_wrap ? 0 : 1;
}

int check_command(const std::string& path) {
  const decode::Document document = read_document(path);
  app::DayFile file = cli::day_of(document, path);
  app::apply_measured(file);
  const std::string& name = document.source;
  std::string text = name + ": ";
  const day::Scenario& day = file.scenario;
  text += std::to_string(day.packs.size()) + " packs, " + std::to_string(day.holders.size()) + " holders, " +
          std::to_string(day.devices.size()) + " devices, " + std::to_string(day.periods.size()) +
          " periods: no errors, " + std::to_string(file.warnings.size()) +
          (file.warnings.size() == 1 ? " warning\n" : " warnings\n");
  for (const app::Warning& warning : file.warnings) {
    text += name + ":" + std::to_string(warning.place.line) + ":" + std::to_string(warning.place.column) +
            ": warning: " + warning.text + "\n";
  }
  return print(text);
}

int catalogue_command(const std::string& what, const std::string& params, bool json) {
  if (!params.empty()) {
    if (!what.empty())
      throw decode::InputError("command line", {1, 1}, "--params: a kind with it", "a parameter file holds one cell");
    const decode::Document document = read_document(params);
    const catalogue::CellKind cell = catalogue::read_cell(document);
    return print(json ? catalogue::explain_cell_json(cell) : catalogue::explain_cell(cell));
  }
  const catalogue::Catalogue& known = catalogue::builtin();
  const auto text = json ? catalogue::explain_json(known, what) : catalogue::explain(known, what);
  if (!text) {
    std::fprintf(stderr, "tillwrap: %s\n", catalogue::unknown_words(known, what).c_str());
    return 2;
  }
  return print(*text);
}

int init_command(const std::string& path, const std::string& wishes_path) {
  if (cli::exists(path))
    throw decode::InputError(path, {1, 1}, "this file exists already", "name another; nothing was changed");
  std::string notes;
  if (wishes_path.empty()) {
    cli::write_file(path, app::starter_day());
  } else {
    if (!path.ends_with(".json"))
      throw decode::InputError(path, {1, 1}, "a day made from wishes is JSON", "name it with .json at the end");
    const decode::Document document = read_document(wishes_path);
    decode::TableReader reader(document, document.root, "the wishes");
    const app::Composed made = app::compose(reader, catalogue::builtin());
    const std::string text = made.day.dump(1) + "\n";
    app::read_day(decode::read_json(text, path), catalogue::builtin());
    for (const std::string& note : made.notes) notes += "note: " + note + "\n";
    cli::write_file(path, text);
  }
  return print(notes + "wrote " + path + "\nedit it, then: tillwrap forecast " + path + "\n");
}

// One line: what is wrong, what was meant, where the options are listed.
int usage_error(const CLI::App& program, const CLI::ParseError& error, int argc, char** argv) {
  std::string wrong = error.what();
  std::replace(wrong.begin(), wrong.end(), '\n', ' ');
  std::string help = "tillwrap --help";
  std::vector<std::string> known;
  const CLI::App* used = nullptr;
  // The deepest command named: "tillwrap journal add" as well as "tillwrap forecast".
  std::string named;
  int depth = 1;
  for (const CLI::App* level = &program; level != nullptr;) {
    const CLI::App* next = nullptr;
    const auto commands = level->get_subcommands([](const CLI::App*) { return true; });
    known.clear();
    for (const CLI::App* command : commands) {
      known.push_back(command->get_name());
      if (argc > depth && command->get_name() == argv[depth]) next = command;
    }
    if (next == nullptr) {
      used = commands.empty() ? level : nullptr;
      break;
    }
    named += next->get_name() + " ";
    level = next;
    ++depth;
  }
  std::string hint;
  const std::string first = argc > depth ? argv[depth] : "";
  if (used == nullptr) {
    if (!first.empty()) wrong = "there is no command \"" + (named + first).substr(0, 60) + "\"";
    for (const std::string& name : known) hint += (hint.empty() ? "commands: " : ", ") + name;
    if (const auto near = decode::nearest(first, known)) hint = "did you mean \"" + named + *near + "\"?";
    if (!named.empty()) help = "tillwrap " + named + "--help";
  } else {
    help = "tillwrap " + named + "--help";
    std::vector<std::string> options;
    for (const CLI::Option* option : used->get_options()) options.push_back(option->get_name());
    for (int i = depth; i < argc; ++i) {
      const std::string word = std::string(argv[i]).substr(0, std::string(argv[i]).find('='));
      if (word.rfind("--", 0) != 0 || std::find(options.begin(), options.end(), word) != options.end()) continue;
      wrong = "there is no option \"" + word.substr(0, 60) + "\"";
      if (const auto near = decode::nearest(word, options)) hint = "did you mean \"" + *near + "\"?";
      break;
    }
  }
  std::fprintf(stderr, "tillwrap: %s; %s%ssee: %s\n", wrong.c_str(), hint.c_str(),
               hint.empty()         ? ""
               : hint.back() == '?' ? " "
                                    : "; ",
               help.c_str());
  return 2;
}

// An option with nothing after it, as from a variable that was never set, is a mistake and not left out.
void refuse_empty_words(const CLI::App& level) {
  for (const CLI::Option* option : level.get_options()) {
    for (const std::string& word : option->results()) {
      if (word.empty())
        throw CLI::ValidationError(option->get_name(), "nothing stands there: write what is meant or leave it out");
    }
  }
  for (const CLI::App* command : level.get_subcommands()) refuse_empty_words(*command);
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App program{"tillwrap: will the power of a portable sound kit last till wrap?"};
  program.require_subcommand(1);
  program.set_version_flag("--version", "tillwrap 0.1.0");
  program.formatter(cli::help_formatter());
  bool json = false;

  std::string path;
  std::string csv;
  std::string svg;
  double step_s = 60.0;
  CLI::App* forecast =
      program.add_subcommand("forecast", "compute one day: does it last, what fails first, what if one pack is dead");
  forecast->add_option("DAY", path, "day file, TOML or JSON")->required();
  forecast->add_flag("--json", json, "print JSON (schema/forecast.schema.json)");
  forecast->add_option("--csv", csv, "write the curves to this file");
  forecast->add_option("--svg", svg, "draw the day as a strip into this file");
  forecast->add_option("--step", step_s, "longest step between rows of the curves, seconds (1 to 3600)");

  std::uint32_t days = 10000;
  std::uint64_t seed = 1;
  unsigned threads = std::max(1U, std::thread::hardware_concurrency());
  CLI::App* odds =
      program.add_subcommand("odds", "the same plan over many days: how likely it lasts, and what the doubt is");
  odds->add_option("DAY", path, "day file, TOML or JSON; - for standard input")->required();
  odds->add_option("--days", days, "how many days")->capture_default_str()->check(CLI::Range(16, 10000000));
  cli::add_seed_option(*odds, seed);
  odds->add_option("--threads", threads, "how many at once; the answer is the same")->check(CLI::Range(1, 64));
  odds->add_flag("--json", json, "print JSON (schema/odds.schema.json)");

  CLI::App* check = program.add_subcommand("check", "validate a day file: errors and warnings with line and column");
  check->add_option("DAY", path, "day file, TOML or JSON")->required();

  std::string what;
  CLI::App* catalogue =
      program.add_subcommand("catalogue", "list the generic kinds, or explain one with the source of every number");
  catalogue->add_option("KIND", what, "a list (packs, devices, ...) or one entry's id");
  std::string explained;
  catalogue->add_option("--params", explained, "explain the cell of a parameter file instead");
  catalogue->add_flag("--json", json, "print JSON (schema/catalogue.schema.json)");

  std::string starter = "day.toml";
  std::string wishes;
  CLI::App* init = program.add_subcommand("init", "write a commented starter day file, or one made from wishes");
  init->add_option("FILE", starter, "where to write it")->capture_default_str();
  init->add_option("--wishes", wishes, "devices, pack and times to make it from (docs/door.md)");

  app::DischargeWords words;
  std::string params_path;
  std::string profile_path;
  CLI::App* discharge = program.add_subcommand("discharge", "discharge one pack or cell on a bench");
  discharge->add_option("--pack", words.pack, "a pack kind of the catalogue");
  discharge->add_option("--cell", words.cell, "a cell of the catalogue");
  discharge->add_option("--params", params_path, "a cell's parameter file");
  discharge->add_option("--power", words.power, "constant power, W");
  discharge->add_option("--current", words.current, "constant current, A");
  discharge->add_option("--resistance", words.resistance, "constant resistance, ohm");
  discharge->add_option("--profile", profile_path,
                        "CSV with time_s and current_a or power_w; optionally voltage_v, surface_c, ambient_c");
  discharge->add_flag("--repeat", words.repeat, "start the profile again at its end");
  discharge->add_flag("--start-from-surface", words.start_from_surface, "start at the profile's first surface_c");
  discharge->add_option("--cells", words.cells, "cells in series")->capture_default_str();
  discharge->add_option("--ambient", words.ambient, "air temperature, °C");
  discharge->add_option("--start-temp", words.start_temperature, "temperature of the source at the start, °C");
  discharge->add_option("--start-charge", words.start_charge, "charge at the start, 0..1");
  discharge->add_option("--rested", words.rested, "rested volts at the start, whole source");
  discharge->add_option("--until", words.until, "end at these volts, whole source");
  discharge->add_option("--duty", words.duty, "on time over period, such as \"4 h / 24 h\"");
  discharge->add_option("--health", words.health, "capacity left of an aged source, such as \"86 %\"");
  discharge->add_option("--resistance-factor", words.resistance_factor, "resistance of an aged source over new");
  discharge->add_flag("--json", json, "print JSON (schema/discharge.schema.json)");

  cli::FitOptions fit_options;
  CLI::App* fit = cli::add_fit(program, fit_options);

  cli::Commands commands;  // those with a file of their own
  cli::add_choose(program, commands);
  cli::add_findings(program, commands);
  cli::add_meters(program, commands);
  cli::add_compare(program, commands);
  cli::add_remedies(program, commands);
  cli::add_travel(program, commands);
  cli::add_expendables(program, commands);
  cli::add_sheet(program, commands);
  cli::add_journal(program, commands);
  cli::add_kit(program, commands);
  cli::add_health(program, commands);
  cli::add_recharge(program, commands);
  cli::add_track(program, commands);
  cli::add_run(program, commands);
  cli::add_exit_codes(program);

  try {
    program.parse(argc, argv);
    refuse_empty_words(program);
    if (!(step_s >= 1.0 && step_s <= 3600.0)) throw CLI::ValidationError("--step", "allowed: 1 to 3600 seconds");
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return program.exit(error);  // help and version
    return usage_error(program, error, argc, argv);
  }
  try {
    for (const cli::Command& command : commands) {
      if (*command.words) return command.run();
    }
    if (*forecast) return forecast_command(path, json, csv, svg, step_s);
    if (*odds) return odds_command(path, json, days, seed, threads);
    if (*check) return check_command(path);
    if (*catalogue) return catalogue_command(what, explained, json);
    if (*init) return init_command(starter, wishes);
    if (*fit) return print(cli::fit_command(fit_options, read_document));
    if (!params_path.empty()) words.params = read_document(params_path);
    if (!profile_path.empty()) {
      words.profile_text = cli::read_file(profile_path, kMostProfileBytes);
      words.profile_name = profile_path;
    }
    const app::Discharge run = app::run_discharge(words, catalogue::builtin());
    return print(json ? app::discharge_json(run) : app::discharge_text(run));
  } catch (const decode::InputError& error) {
    if (error.source == "command line") {
      std::fprintf(stderr, "tillwrap: %s%s%s\n", error.message.c_str(), error.hint.empty() ? "" : "; ",
                   error.hint.c_str());
    } else {
      std::fprintf(stderr, "%s\n", error.what());
    }
    return 2;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "tillwrap: %s\n", error.what());
    return 2;
  }
}
