#include "cli/choose_command.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <stdexcept>

#include "app/choose_report.hpp"
#include "cli/threads.hpp"
#include "decode/units.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  std::string sure = "0.95";
  std::string overrun;
  app::ChooseWords words;
  bool json = false;
  unsigned threads = std::clamp(std::thread::hardware_concurrency(), 1U, 8U);
};

constexpr double kSurest = 0.999;  // 4,096 common days show no more
constexpr double kLongestOverrun_s = 12.0 * 3600.0;

int run(const Options& options) {
  app::ChooseWords words = options.words;
  words.sure = asked("--sure", options.sure, decode::Dimension::fraction, "0.95 or \"95 %\"");
  if (!(words.sure > 0.0 && words.sure <= kSurest)) {
    refuse("--sure " + options.sure + " is no probability that can be asked for",
           "allowed: above 0, up to 0.999; certainty is not to be had");
  }
  if (!options.overrun.empty()) {
    words.overrun_s = asked("--overrun", options.overrun, decode::Dimension::duration, "\"2 h\"");
    if (!(words.overrun_s >= 0.0 && words.overrun_s <= kLongestOverrun_s)) {
      refuse("--overrun " + options.overrun + " is out of range", "allowed: 0 to 12 h");
    }
  }
  const app::ChooseAnswer answer =
      app::choose_day(read_day(options.path), catalogue::builtin(), words,
                      [&](std::size_t count, const std::function<void(std::size_t)>& task) {
                        run_on_threads(options.threads, count, task);
                      });
  if (print(options.json ? app::choose_json(answer) : app::choose_text(answer)) != 0) return 2;
  return answer.choice.feasible ? 0 : 1;
}

}  // namespace

void add_choose(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words =
      program.add_subcommand("choose", "which packs to bring, which holder each goes in, in what order, changed when");
  add_day_option(*words, options->path);
  words->add_option("--sure", options->sure, "probability to be reached, such as 0.95")->capture_default_str();
  words->add_flag("--one-loss", options->words.one_loss, "with any one pack dead as well");
  words->add_option("--overrun", options->overrun, "how long after off it must still run, such as \"2 h\"");
  words->add_option("--fresh", options->words.fresh_days, "days the plan is tried on afterwards")
      ->capture_default_str()
      ->check(CLI::Range(512, 1000000));
  words->add_option("--seed", options->words.seed, "another seed draws other days")->capture_default_str();
  words->add_option("--threads", options->threads, "how many at once; the answer is the same")
      ->check(CLI::Range(1, 64));
  words->add_flag("--json", options->json, "print JSON (schema/choose.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
