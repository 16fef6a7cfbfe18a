#include "cli/recharge_command.hpp"

#include <memory>

#include "app/measured.hpp"
#include "app/recharge_run.hpp"
#include "app/stretches.hpp"
#include "cli/files.hpp"
#include "cli/local_zone.hpp"
#include "cli/run_files.hpp"
#include "decode/units.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path, from, until, there, asleep, watts, to, svg, ics;
  std::vector<std::string> left;
  int get_up = -1;
  bool json = false;
};

constexpr double kMostWatts = 100000.0;

app::RechargeWords words_of(const Options& options) {
  app::RechargeWords words;
  if (!options.from.empty()) words.from_s = asked("--from", options.from, decode::Dimension::clock, "20:30");
  if (!options.until.empty()) words.until_s = asked("--until", options.until, decode::Dimension::clock, "06:30");
  if (!options.there.empty()) {
    try {
      words.there = app::parse_stretches(options.there);
    } catch (const decode::QuantityError& error) {
      refuse(std::string("--there: ") + error.what(),
             error.hint.empty() ? "write stretches as \"20:30-23:30, 06:00-06:30\"" : error.hint);
    }
  }
  if (!options.asleep.empty()) {
    if (options.asleep != "yes" && options.asleep != "no")
      refuse("--asleep: not yes or no", "yes: it may charge while somebody sleeps in the room");
    words.asleep = options.asleep == "yes";
  }
  if (options.get_up >= 0) words.get_ups = options.get_up;
  if (!options.watts.empty()) {
    words.watts = asked("--watts", options.watts, decode::Dimension::power, "\"300 W\"");
    if (!(*words.watts > 0.0 && *words.watts <= kMostWatts))
      refuse("--watts " + options.watts + " is out of range", "allowed: above 0, up to 100 kW");
  }
  if (options.to == "needed") {
    words.to_needed = true;
  } else if (!options.to.empty()) {
    words.enough = asked("--to", options.to, decode::Dimension::fraction, "needed, or \"80 %\"");
    if (!(words.enough > 0.0 && words.enough <= 1.0))
      refuse("--to " + options.to + " is out of range", "allowed: above 0, up to 100 %");
  }
  for (const std::string& one : options.left) {
    const std::size_t equals = one.find('=');
    if (equals == std::string::npos)
      refuse("--left " + one.substr(0, 40) + ": no charge", "write it as --left \"C1=20 %\"");
    const double charge = asked("--left", one.substr(equals + 1), decode::Dimension::fraction, "\"C1=20 %\"");
    if (!(charge >= 0.0 && charge <= 1.0))
      refuse("--left " + one.substr(0, 40) + " is out of range", "allowed: 0 to 100 %");
    words.left.emplace_back(one.substr(0, equals), charge);
  }
  return words;
}

// A run's nights are said in its own file.
int run_nights(const Options& options, const decode::Document& document) {
  const bool more = !options.from.empty() || !options.until.empty() || !options.there.empty() ||
                    !options.asleep.empty() || !options.watts.empty() || !options.to.empty() || !options.left.empty() ||
                    options.get_up >= 0;
  if (more)
    throw decode::InputError(document.source, {1, 1}, "a run says of its nights itself when and how they charge",
                             "write rest = { from = \"20:30\", there = \"...\" } under its [[day]], or give one day");
  if (!options.svg.empty())
    throw decode::InputError(document.source, {1, 1}, "a run has more than one night to draw",
                             "give one day's file for --svg");
  const app::RunAnswer answer = follow_run(run_files(document, options.path), {.choose = false, .help = false}, 1);
  if (!options.ics.empty()) write_file(options.ics, sheet::icalendar(app::nights_calendar(answer, now_utc())));
  if (print(options.json ? app::nights_json(answer) : app::nights_text(answer)) != 0) return 2;
  return app::nights_ready(answer) ? 0 : 1;
}

int run(const Options& options) {
  const app::RechargeWords words = words_of(options);
  for (const std::string& out : {options.svg, options.ics}) {
    if (!out.empty() && same_file(options.path, out))
      throw decode::InputError(out, {1, 1}, "this is the file asked about itself",
                               "name another file to write; nothing was changed");
  }
  const decode::Document document = read_document(options.path);
  if (app::is_run(document)) return run_nights(options, document);
  app::DayFile file = day_of(document, options.path);
  app::apply_measured(file);
  if (!options.ics.empty() && !file.date)
    throw decode::InputError(file.source, {1, 1}, "a calendar needs the day's date",
                             "write date = \"2026-11-25\" under [day], or leave out --ics");
  const app::RechargeAnswer answer = app::recharge_day(std::move(file), words);
  if (!options.svg.empty()) {
    const std::string& title = answer.file.scenario.title;
    write_file(options.svg,
               drawing::svg(app::recharge_picture(answer), title.empty() ? "Recharge" : title + ": recharge"));
  }
  if (!options.ics.empty())
    write_file(options.ics, sheet::icalendar(app::recharge_calendar(answer, *answer.file.date, now_utc())));
  if (print(options.json ? app::recharge_json(answer) : app::recharge_text(answer)) != 0) return 2;
  return answer.answer.needed_ready == answer.answer.needed ? 0 : 1;
}

}  // namespace

void add_recharge(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words =
      program.add_subcommand("recharge", "which pack goes on which charger when, so that it is ready by call");
  words->add_option("DAY|RUN", options->path, "day or run file, TOML or JSON; - for a day on standard input")
      ->required();
  words->add_option("--from", options->from, "clock time charging can begin; default: the kit goes off");
  words->add_option("--until", options->until, "clock time the packs are wanted; default: call, the next day");
  words->add_option("--there", options->there, "when somebody is at the chargers: \"20:30-23:30, 06:00-06:30\"");
  words->add_option("--asleep", options->asleep, "yes: somebody sleeps in the room in between (read the cautions)");
  words->add_option("--get-up", options->get_up, "most times to get up at night")->check(CLI::Range(0, 2));
  words->add_option("--watts", options->watts, "what the supply gives all chargers together");
  words->add_option("--to", options->to,
                    "charge that is enough: \"80 %\", or needed: what the day draws and a reserve");
  words->add_option("--left", options->left, "a pack's charge where you know it: \"C1=20 %\"; may be given again");
  words->add_flag("--json", options->json, "print JSON (schema/recharge.schema.json)");
  words->add_option("--svg", options->svg, "draw the night into this file");
  words->add_option("--ics", options->ics, "write a calendar with an alarm at each swap into this file");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
