#include "cli/track_command.hpp"

#include <algorithm>
#include <memory>
#include <thread>

#include "app/track_day.hpp"
#include "cli/files.hpp"
#include "cli/threads.hpp"

namespace tillwrap::cli {

namespace {

constexpr std::size_t kMostBytes = 16 * 1024 * 1024;
constexpr double kLongestTake_s = 12.0 * 3600.0;

struct Options {
  std::string path, readings, at, roll = "45 min";
  bool json = false;
};

int run(const Options& options) {
  app::TrackWords words;
  if (!options.at.empty()) words.at_s = asked("--at", options.at, decode::Dimension::clock, "14:05");
  words.roll_s = asked("--roll", options.roll, decode::Dimension::duration, "\"45 min\"");
  if (!(words.roll_s > 0.0 && words.roll_s <= kLongestTake_s))
    refuse("--roll " + options.roll + " is out of range", "allowed: above 0, up to 12 h");
  const app::DayFile file = read_day(options.path);
  const app::TrackAnswer answer = app::track_day(file, read_file(options.readings, kMostBytes), options.readings, words,
                                                 on_threads(std::max(1U, std::thread::hardware_concurrency())));
  if (print(options.json ? app::track_json(answer) : app::track_text(answer)) != 0) return 2;
  return answer.answer.probability >= 0.5 ? 0 : 1;
}

}  // namespace

void add_track(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words = program.add_subcommand("track", "what the day's readings say of how it will go on");
  add_day_option(*words, options->path);
  words->add_option("--readings", options->readings, "journal lines of the day: readings, changes, delays")->required();
  words->add_option("--at", options->at, "now, such as 14:05; the last line's time where left out");
  words->add_option("--roll", options->roll, "how long a take is asked about")->capture_default_str();
  words->add_flag("--json", options->json, "print JSON (schema/track.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
