#include "cli/choose_command.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <stdexcept>

#include "app/choose_report.hpp"
#include "app/chosen_day.hpp"
#include "app/measured.hpp"
#include "cli/files.hpp"
#include "cli/threads.hpp"
#include "cli/watched.hpp"
#include "decode/units.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  std::string sure = "0.95";
  std::string overrun;
  app::ChooseWords words;
  std::string write;
  bool replace = false;
  bool json = false;
  unsigned threads = std::clamp(std::thread::hardware_concurrency(), 1U, 8U);
};

constexpr double kSurest = 0.999;  // 4,096 common days show no more
constexpr double kLongestOverrun_s = 12.0 * 3600.0;

// Before anything is computed: whether the chosen day may go there.
void check_target(const Options& options, const std::string& text, const decode::Document& document) {
  const auto no = [&](const std::string& wrong, const std::string& advice) {
    throw decode::InputError(options.write, {1, 1}, wrong, advice + "; nothing was changed");
  };
  const auto folder = [](const std::string& path) {
    const std::string found = folder_of(path);
    return found.empty() ? std::string(".") : found;
  };
  if (options.write == "-") no("the chosen day goes into a file", "name one after --write");
  if (!decode::is_json(text) && options.write.ends_with(".json"))
    no("the day is TOML, and so is the chosen one", "name a file that ends in .toml");
  if (!exists(folder(options.write))) no("there is no such folder", "make it, or name another");
  if (exists(options.write) && !options.replace)
    no("this file exists already", "name another, or add --replace to write over it");
  const std::vector<app::NamedFile> params = app::params_named(document);
  const auto relative =
      std::find_if(params.begin(), params.end(), [](const app::NamedFile& one) { return !one.name.starts_with('/'); });
  if (relative != params.end() && !same_file(folder(options.write), folder(options.path)))
    no("the day names the parameter file \"" + relative->name + "\" relative to its own folder",
       "write the chosen day into that folder");
}

// The day with this choice in it: read back and held to what was judged, then written. Gauge readings that would mean
// another draw with the packs chosen are written as the draw they come to.
void write_chosen(const Options& options, const std::string& text, const decode::Document& document,
                  const std::vector<app::MeasuredOutcome>& measured, app::ChooseAnswer& answer) {
  const auto same = [&](const std::string& chosen) {
    return app::same_as_chosen(day_of(document_of(chosen, options.write), options.write), answer);
  };
  std::string chosen = app::chosen_day(text, document, answer);
  if (!same(chosen)) {
    std::vector<app::MeasuredOutcome> gauges;
    for (std::size_t k = 0; k < measured.size(); ++k) {
      app::MeasuredOutcome one = measured[k];
      one.draw = &answer.file.measured[k];
      if (one.draw->holder < 0) continue;
      gauges.push_back(one);
      answer.notes.push_back(app::as_draw_words(one, answer.file.scenario));
    }
    chosen = app::chosen_day(text, document, answer, gauges);
    if (!same(chosen)) throw std::logic_error("measured draws were not written as they were");
  }
  write_file(options.write, chosen);
  answer.written = options.write;
}

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
  if (options.replace && options.write.empty()) refuse("--replace without --write", "name the file with --write FILE");
  const std::string text = read_text(options.path);
  const decode::Document document = document_of(text, options.path);
  app::DayFile file = day_of(document, options.path);
  const std::vector<app::MeasuredOutcome> measured = app::apply_measured(file);
  if (!options.write.empty()) check_target(options, text, document);
  Watched watched("choosing");
  words.tell = watched.tell();
  app::ChooseAnswer answer = app::choose_day(std::move(file), catalogue::builtin(), words, on_threads(options.threads));
  watched.over();
  if (!options.write.empty() && answer.choice.feasible) write_chosen(options, text, document, measured, answer);
  if (!options.write.empty() && !answer.choice.feasible)
    answer.notes.push_back("Nothing was written to " + options.write + ".");
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
  add_seed_option(*words, options->words.seed);
  words->add_option("--threads", options->threads, "how many at once; the answer is the same")
      ->check(CLI::Range(1, 64));
  words->add_option("--write", options->write, "write the day with this plan in it into a new day file");
  words->add_flag("--replace", options->replace, "with --write: the file may exist and is written over");
  words->add_flag("--json", options->json, "print JSON (schema/choose.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
