// tillwrap remedies DAY
#include "cli/remedies_command.hpp"

#include <algorithm>
#include <memory>

#include "app/measured.hpp"
#include "app/remedies_report.hpp"
#include "cli/threads.hpp"
#include "cli/watched.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  bool json = false;
  app::RemedyOptions how;
  unsigned threads = std::max(1U, std::thread::hardware_concurrency());
};

int run(const Options& options) {
  const decode::Document document = read_document(options.path);
  app::DayFile file = day_of(document, options.path);
  app::apply_measured(file);
  app::RemedyOptions how = options.how;
  Watched watched("remedies");
  how.tell = watched.tell();
  const app::RemedyAnswer answer =
      app::find_remedies(document, file, catalogue::builtin(), how, on_threads(options.threads));
  watched.over();
  const std::string text =
      options.json ? app::remedies_json(file, answer, options.how) : app::remedies_text(file, answer, options.how);
  if (print(text) != 0) return 2;
  if (answer.goal == remedies::Goal::more) return 0;
  return answer.cheapest >= 0 || answer.set.reaches ? 0 : 1;
}

}  // namespace

void add_remedies(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words =
      program.add_subcommand("remedies", "every step that would help, computed and ranked by what it buys");
  add_day_option(*words, options->path);
  words->add_option("--days", options->how.days, "drawn days for each step that helps")
      ->capture_default_str()
      ->check(CLI::Range(32, 100000));
  words
      ->add_option("--pairs", options->how.most_pairs,
                   "pairs computed at most, where no single step is enough; 0: none")
      ->capture_default_str()
      ->check(CLI::Range(0, 100000));
  add_seed_option(*words, options->how.seed);
  words->add_option("--threads", options->threads, "how many at once; the answer is the same")
      ->check(CLI::Range(1, 64));
  words->add_flag("--all", options->how.no_help_too, "list also the steps that do not help or are not possible here");
  words->add_flag("--json", options->json, "print JSON (schema/remedies.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
