#include "cli/travel_command.hpp"

#include <ctime>
#include <memory>

#include "app/travel_report.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string day, on;
  int travellers = 1;
  bool json = false;
};

std::string today() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  localtime_r(&now, &local);
  char text[16];
  return {text, std::strftime(text, sizeof text, "%Y-%m-%d", &local)};
}

int run(const Options& options) {
  const app::DayFile file = day_of(read_document(options.day), options.day);
  const std::string date = !options.on.empty() ? options.on : file.date ? *file.date : today();
  const travel::Answer answer = app::travel_answer(file, catalogue::builtin(), date, options.travellers);
  const app::TravelReport report{.file = &file, .answer = &answer};
  if (print(options.json ? app::travel_json(report) : app::travel_text(report)) != 0) return 2;
  return answer.all_fly ? 0 : 1;
}

}  // namespace

void add_travel(CLI::App& program, Commands& commands) {
  const auto options = std::make_shared<Options>();
  CLI::App* words =
      program.add_subcommand("travel", "may the batteries fly: cabin or hold, counts a person, what to ask");
  add_day_option(*words, options->day);
  words->add_option("--travellers", options->travellers, "how many carry the kit")
      ->capture_default_str()
      ->check(CLI::Range(1, 100));
  words->add_option("--on", options->on, "date of the flight, 2026-11-25; default the day's date, else today");
  words->add_flag("--json", options->json, "print JSON (schema/travel.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
