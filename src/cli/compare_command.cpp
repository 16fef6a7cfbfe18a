// tillwrap compare DAY
#include "cli/compare_command.hpp"

#include <algorithm>
#include <memory>
#include <optional>

#include "app/compare_report.hpp"
#include "app/measured.hpp"
#include "cli/threads.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  std::string options_path;
  bool json = false;
  app::CompareOptions how;
  unsigned threads = std::max(1U, std::thread::hardware_concurrency());
};

int run(const Options& given) {
  const decode::Document document = read_document(given.path);
  app::DayFile file = day_of(document, given.path);
  app::apply_measured(file);
  app::CompareOptions options = given.how;
  std::optional<decode::Document> options_file;
  if (!given.options_path.empty()) options_file = read_document(given.options_path);
  if (options_file) options.options_file = &*options_file;
  const app::CompareAnswer answer =
      app::compare_options(document, file, catalogue::builtin(), options, on_threads(given.threads));
  if (print(given.json ? app::compare_json(file, answer, options) : app::compare_text(file, answer, options)) != 0)
    return 2;
  const bool any =
      std::any_of(answer.rows.begin(), answer.rows.end(), [](const app::CompareRow& row) { return row.need.possible; });
  return any ? 0 : 1;
}

}  // namespace

void add_compare(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words =
      program.add_subcommand("compare", "other packs for the same load side by side: hours, changes, weight, money");
  add_day_option(*words, options->path);
  words->add_option("--options", options->options_path,
                    "options to compare, TOML or JSON, instead of the catalogue's packs");
  words->add_option("--holder", options->how.holder,
                    "the holder that is compared; else the one that gives most energy");
  words->add_option("--days", options->how.days, "days over which money is counted")
      ->capture_default_str()
      ->check(CLI::Range(1, 10000));
  words->add_option("--drawn-days", options->how.drawn_days, "days drawn for \"safe\" and \"likely\"")
      ->capture_default_str()
      ->check(CLI::Range(32, 100000));
  add_seed_option(*words, options->how.seed);
  words->add_option("--threads", options->threads, "how many at once; the answer is the same")
      ->check(CLI::Range(1, 64));
  words->add_flag("--all", options->how.left_out_too, "say why the other kinds are left out");
  words->add_flag("--json", options->json, "print JSON (schema/compare.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
