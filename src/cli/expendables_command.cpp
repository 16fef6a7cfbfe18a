#include "cli/expendables_command.hpp"

#include <memory>

#include "app/expendables_report.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string day;
  int days = 1;
  double rest_h = 6.0;
  bool json = false;
};

int run(const Options& options) {
  const app::DayFile file = read_day(options.day);
  const expendables::Answer answer =
      expendables::answer(file.scenario, file.inventory, catalogue::builtin(), {.rest_s = 3600.0 * options.rest_h});
  const app::ExpendablesReport report{
      .file = &file, .catalogue = &catalogue::builtin(), .answer = &answer, .days = options.days};
  if (print(options.json ? app::expendables_json(report) : app::expendables_text(report)) != 0) return 2;
  return answer.as_written.lasts ? 0 : 1;
}

}  // namespace

void add_expendables(CLI::App& program, Commands& commands) {
  const auto options = std::make_shared<Options>();
  CLI::App* words =
      program.add_subcommand("expendables", "fresh cells at call, meal, last reach; disposable against rechargeable");
  add_day_option(*words, options->day);
  words->add_option("--days", options->days, "a run of so many days like this one")
      ->capture_default_str()
      ->check(CLI::Range(1, 1000));
  words->add_option("--rest", options->rest_h, "hours at a wall socket between two days")
      ->capture_default_str()
      ->check(CLI::Range(1.0, 48.0));
  words->add_flag("--json", options->json, "print JSON (schema/expendables.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
