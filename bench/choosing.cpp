// ./dev bench: how long `tillwrap choose` takes on fixed days, on one thread and on two, where the time goes, and
// whether what it chose is proven best. Prints a table and writes it as JSON. See bench/README.md.
#include <sys/resource.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "app/choose_day.hpp"
#include "app/choose_report.hpp"
#include "catalogue/catalogue.hpp"
#include "cli/threads.hpp"
#include "days.hpp"
#include "machine.hpp"

namespace tillwrap::bench {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kGoal_s = 2.0;  // wall, four holders and 24 packs of at most six kinds
constexpr int kRepetitions = 3;

struct Day {
  const char* name;
  const char* file;
  bool has_goal;
};
constexpr Day kDays[] = {{"easy", "bench/choose-easy.toml", true},
                         {"hard", "bench/choose-hard.toml", true},
                         {"demo", "examples/saltmarsh-ferry.toml", false}};

double wall_s() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }

// Of all threads.
double cpu_s() {
  rusage use{};
  getrusage(RUSAGE_SELF, &use);
  const auto seconds = [](const timeval& time) {
    return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
  };
  return seconds(use.ru_utime) + seconds(use.ru_stime);
}

struct Timed {
  double wall_s = 1e9;
  double cpu_s = 1e9;
  Json parts;  // processor seconds from where a part begins to where the next does
  app::ChooseAnswer answer;
};

// The quickest of several, processor and wall time each; the parts are those of the quickest by processor time.
Timed timed(const Day& day, unsigned threads) {
  Timed best;
  for (int k = 0; k < kRepetitions; ++k) {
    Json parts = Json::object();
    std::string part = "before the first";
    double since_s = cpu_s();
    const auto turn_over = [&](std::string_view next) {
      const double now_s = cpu_s();
      parts[part] = parts.value(part, 0.0) + now_s - since_s;
      since_s = now_s;
      part = next;
    };
    app::ChooseWords words;
    words.tell = {.begins = [&](std::string_view next, std::size_t) { turn_over(next); }, .piece_done = [] {}};
    app::DayFile file = day_file(day.file);
    const double wall_0 = wall_s();
    const double cpu_0 = cpu_s();
    app::ChooseAnswer answer = app::choose_day(std::move(file), catalogue::builtin(), words, cli::on_threads(threads));
    best.wall_s = std::min(best.wall_s, wall_s() - wall_0);
    const double spent_s = cpu_s() - cpu_0;
    turn_over("");
    if (spent_s < best.cpu_s) {
      best.cpu_s = spent_s;
      best.parts = std::move(parts);
    }
    best.answer = std::move(answer);
  }
  return best;
}

int run(const std::string& path, const std::string& commit) {
  Json result;
  result["commit"] = commit;
  result["machine"] = machine();
  result["compiler"] = std::string(TILLWRAP_COMPILER) + ", " + TILLWRAP_BUILD;
  double load = 0.0;  // of the last minute before: what else runs takes its share of wall time
  if (getloadavg(&load, 1) != 1) load = -1.0;
  result["load_average"] = load;
  result["days"] = Json::object();
  bool all_same = true;
  std::printf("CHOOSE (load average when begun: %.1f)\n", load);
  for (const Day& day : kDays) {
    std::fprintf(stderr, "choosing: %s\n", day.name);
    const Timed one = timed(day, 1);
    const Timed two = timed(day, 2);
    const bool same = app::choose_json(one.answer) == app::choose_json(two.answer);
    all_same = all_same && same;
    const choose::Choice& choice = two.answer.choice;
    const std::size_t packs = two.answer.file.scenario.packs.size();
    Json& out = result["days"][day.name];
    out = {{"file", day.file},
           {"packs", packs},
           {"kinds", choice.kinds},
           {"feasible", choice.feasible},
           {"proven_best", choice.proven_best},
           {"changes", choice.cost.changes()},
           {"packs_chosen", choice.cost.packs()},
           {"one_thread_s", one.wall_s},
           {"one_thread_cpu_s", one.cpu_s},
           {"two_threads_s", two.wall_s},
           {"two_threads_cpu_s", two.cpu_s},
           {"one_thread_parts_cpu_s", one.parts},
           {"same_bytes", same}};
    if (day.has_goal) {
      out["goal_s"] = kGoal_s;
      out["met"] = two.wall_s < kGoal_s;
    }
    std::printf("  %s: %.2f s on one thread, %.2f s on two", day.name, one.wall_s, two.wall_s);
    if (day.has_goal) std::printf(" (goal %.0f s)", kGoal_s);
    std::printf("; %.2f s of processor time\n", one.cpu_s);
    std::printf("    %zu packs of %d kinds: %ld changes, %ld packs, %s; same bytes with one thread and two: %s\n",
                packs, choice.kinds, static_cast<long>(choice.cost.changes()), static_cast<long>(choice.cost.packs()),
                !choice.feasible     ? "not feasible"
                : choice.proven_best ? "proven best"
                                     : "not proven",
                same ? "yes" : "NO");
    for (const auto& [part, seconds] : one.parts.items())
      std::printf("    %7.3f s %s\n", seconds.get<double>(), part.c_str());
  }
  std::ofstream out(path);
  out << result.dump(2) << "\n";
  if (!out.flush()) {
    std::fprintf(stderr, "choosing: cannot write %s\n", path.c_str());
    return 1;
  }
  // Slow is a result; wrong is a failure.
  if (!all_same) {
    std::fprintf(stderr, "choosing: threads change the choice\n");
    return 1;
  }
  return 0;
}

}  // namespace
}  // namespace tillwrap::bench

int main(int argc, char** argv) {
  if (argc != 3) {
    std::fprintf(stderr, "usage: choosing RESULT.json COMMIT\n");
    return 2;
  }
  try {
    return tillwrap::bench::run(argv[1], argv[2]);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "choosing: %s\n", error.what());
    return 1;
  }
}
