#include "cli/run_command.hpp"

#include <algorithm>
#include <memory>

#include "app/measured.hpp"
#include "app/run_report.hpp"
#include "cli/files.hpp"
#include "cli/threads.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  app::RunWords words;
  bool no_help = false;
  bool json = false;
  unsigned threads = std::clamp(std::thread::hardware_concurrency(), 1U, 8U);
};

int run(const Options& options) {
  const app::RunFile file = app::read_run(read_document(options.path));
  const std::size_t slash = options.path.find_last_of('/');
  const std::string folder = slash == std::string::npos ? std::string() : options.path.substr(0, slash + 1);
  std::vector<app::DayFile> days;
  for (const app::RunDay& day : file.days) {
    const std::string where = day.file.starts_with('/') ? day.file : folder + day.file;
    if (day.file.empty() || day.file == "-" || !exists(where))
      throw decode::InputError(file.source, day.place, "there is no day file \"" + day.file.substr(0, 60) + "\"",
                               "a path is relative to the run file");
    days.push_back(read_day(where));
  }
  app::RunWords words = options.words;
  words.help = !options.no_help;
  const app::RunAnswer answer = app::run_days(file, std::move(days), words, catalogue::builtin(),
                                              [&](std::size_t count, const std::function<void(std::size_t)>& task) {
                                                run_on_threads(options.threads, count, task);
                                              });
  if (print(options.json ? app::run_json(answer) : app::run_text(answer)) != 0) return 2;
  return answer.first_failure < 0 ? 0 : 1;
}

}  // namespace

void add_run(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words = program.add_subcommand("run", "consecutive days on the same packs, with the rests between");
  words->add_option("RUN", options->path, "run file, TOML or JSON")->required();
  words->add_flag("--choose", options->words.choose, "choose packs each day, the least worn of a kind first");
  words->add_flag("--no-help", options->no_help, "do not look for what would make every day last");
  words->add_option("--threads", options->threads, "how many at once; the answer is the same")
      ->check(CLI::Range(1, 64));
  words->add_flag("--json", options->json, "print JSON (schema/run.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
