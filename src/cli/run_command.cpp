#include "cli/run_command.hpp"

#include <algorithm>
#include <memory>
#include <thread>

#include "app/kit_now.hpp"
#include "app/run_report.hpp"
#include "cli/journal_file.hpp"
#include "cli/local_zone.hpp"
#include "cli/run_files.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  app::RunWords words;
  std::string journal;
  bool kit_now = false;
  bool no_help = false;
  bool json = false;
  unsigned threads = std::clamp(std::thread::hardware_concurrency(), 1U, 8U);
};

int run(const Options& options) {
  app::RunWords words = options.words;
  words.help = !options.no_help;
  RunFiles files = run_files(read_document(options.path), options.path);
  if (options.kit_now) {
    const std::int64_t now = now_us();
    store::Store store(journal_path(options.journal), store::Open::read);
    words.journal = app::take_from_journal(files.days, app::kit_now(folded(store, now), catalogue::builtin(), now),
                                           catalogue::builtin());
  }
  const app::RunAnswer answer = follow_run(files, words, options.threads);
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
  words->add_flag("--kit-now", options->kit_now,
                  "begin with the packs as the journal has them now (tillwrap kit): charge and health");
  add_journal_option(*words, options->journal);
  words->add_option("--threads", options->threads, "how many at once; the answer is the same")
      ->check(CLI::Range(1, 64));
  words->add_flag("--json", options->json, "print JSON (schema/run.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
