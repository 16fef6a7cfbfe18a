// ./dev bench: days a second through the same path as `tillwrap forecast`, against CVODE and ngspice in the same run,
// cost over the number of devices, odds on one and two threads. Prints a table and writes it as JSON. See
// bench/README.md.
#include <benchmark/benchmark.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <thread>

#include "days.hpp"
#include "machine.hpp"
#include "references.hpp"

namespace tillwrap::bench {
namespace {

constexpr double kSearch_s = 24.0 * 3600.0;
constexpr double kLongest_s = 7200.0;
constexpr double kTolerance = 8.0;  // what the odds step with
constexpr double kGoalDays = 20000.0;
constexpr double kLeastDays = 5000.0;
constexpr double kGoalSpice = 100.0;
constexpr double kGoalCvode = 20.0;
constexpr double kGoalOdds_s = 1.0;
constexpr std::uint32_t kOddsDays = 10000;

// One day as `forecast` computes it: pieces, models and simulators stand; what a run of days repeats is the running.
class Runner {
 public:
  explicit Runner(const day::Scenario& scenario) : scenario_(scenario), whole_(scenario_) {
    plans_ = whole_.plan(until_s());
    for (std::size_t p = 0; p < plans_.size(); ++p)
      simulators_.push_back(std::make_unique<forecast::Simulator>(whole_.model(p)));
  }
  Runner(const Runner&) = delete;
  Runner& operator=(const Runner&) = delete;

  [[nodiscard]] double until_s() const { return scenario_.off_s + kSearch_s; }
  [[nodiscard]] const forecast::WholeDay& whole() const { return whole_; }
  [[nodiscard]] const std::vector<forecast::ChangePlan>& plans() const { return plans_; }

  // First must-run loss, every piece followed as far as it can matter (WholeDay::run).
  double first_loss_s(bool loss_only, double tolerance) {
    forecast::RunOptions options{.search_until_s = until_s(),
                                 .longest_step_s = loss_only ? kLongest_s : 900.0,
                                 .tolerance = tolerance,
                                 .loss_only = loss_only};
    double lost_s = forecast::kNever;
    for (std::size_t p = 0; p < simulators_.size(); ++p) {
      forecast::RunOptions own = options;
      if (!whole_.pieces()[p].must_run) own.search_until_s = scenario_.off_s;
      const forecast::DayRun run = simulators_[p]->run(plans_[p], own);
      if (run.first_loss.device < 0) continue;
      lost_s = std::min(lost_s, run.first_loss.at_s);
      options.search_until_s = std::max(scenario_.off_s, std::min(options.search_until_s, lost_s));
    }
    return lost_s;
  }

 private:
  day::Scenario scenario_;
  forecast::WholeDay whole_;
  std::vector<forecast::ChangePlan> plans_;
  std::vector<std::unique_ptr<forecast::Simulator>> simulators_;
};

void losses(benchmark::State& state) {
  Runner runner(with_devices(bench_day().scenario, static_cast<std::size_t>(state.range(0))));
  for (auto _ : state) benchmark::DoNotOptimize(runner.first_loss_s(true, kTolerance));
  state.SetComplexityN(state.range(0));
}

void with_account(benchmark::State& state) {
  Runner runner(bench_day().scenario);
  const double tolerance = state.range(0) == 0 ? kTolerance : 1.0 / static_cast<double>(state.range(0));
  for (auto _ : state) benchmark::DoNotOptimize(runner.first_loss_s(false, tolerance));
}

// From the scenario to the loss, nothing kept: pieces, models, plan, run.
void from_scratch(benchmark::State& state) {
  const BenchDay day = bench_day();
  for (auto _ : state) {
    const forecast::WholeDay whole(day.scenario);
    const double until_s = day.scenario.off_s + kSearch_s;
    benchmark::DoNotOptimize(whole.run(
        whole.plan(until_s),
        {.search_until_s = until_s, .longest_step_s = kLongest_s, .tolerance = kTolerance, .loss_only = true}));
  }
}

// As `tillwrap odds` shares them out.
std::vector<odds::DayOutcome> odds_days(const BenchDay& day, const odds::OddsOptions& options, unsigned threads) {
  std::vector<odds::DayOutcome> days(options.days);
  std::vector<std::thread> running;
  for (unsigned k = 0; k < threads; ++k) {
    running.emplace_back([&, k] {
      const std::size_t first = options.days * std::size_t{k} / threads;
      const std::size_t last = options.days * std::size_t{k + 1} / threads;
      odds::Worker worker(day.scenario, options);
      std::vector<odds::DayOutcome> own(last - first);
      worker.run(static_cast<std::uint32_t>(first), own);
      std::copy(own.begin(), own.end(), days.begin() + static_cast<std::ptrdiff_t>(first));
    });
  }
  for (std::thread& thread : running) thread.join();
  return days;
}

void odds(benchmark::State& state) {
  const BenchDay day = bench_day();
  const odds::OddsOptions options{.days = kOddsDays, .spread = day.spread};
  for (auto _ : state) {
    const std::vector<odds::DayOutcome> days = odds_days(day, options, static_cast<unsigned>(state.range(0)));
    benchmark::DoNotOptimize(odds::summary(day.scenario, options, days));
  }
}

BENCHMARK(losses)->Arg(10)->Arg(20)->Arg(40)->Arg(80)->Unit(benchmark::kMicrosecond)->Repetitions(5);
BENCHMARK(with_account)->Arg(0)->Arg(10)->Unit(benchmark::kMicrosecond)->Repetitions(3);
BENCHMARK(from_scratch)->Unit(benchmark::kMicrosecond)->Repetitions(3);
BENCHMARK(odds)
    ->Arg(1)
    ->Arg(2)
    ->Unit(benchmark::kMillisecond)
    ->UseRealTime()
    ->MeasureProcessCPUTime()
    ->Repetitions(3)
    ->Iterations(1);

// Of each benchmark the quickest repetition: what else the machine does only adds. One line each.
class Quickest : public benchmark::BenchmarkReporter {
 public:
  struct Time {
    double wall_s = 1e9;
    double cpu_s = 1e9;  // of all threads
  };
  bool ReportContext(const Context&) override { return true; }
  void ReportRuns(const std::vector<Run>& runs) override {
    for (const Run& run : runs) {
      if (run.run_type != Run::RT_Iteration || run.error_occurred) continue;
      const double n = static_cast<double>(run.iterations);
      std::string name = run.run_name.function_name;
      if (!run.run_name.args.empty()) name += "/" + run.run_name.args;
      Time& time = times_[name];
      time.wall_s = std::min(time.wall_s, run.real_accumulated_time / n);
      time.cpu_s = std::min(time.cpu_s, run.cpu_accumulated_time / n);
    }
    const std::string name = runs.front().run_name.function_name + "/" + runs.front().run_name.args;
    if (name == last_) return;
    last_ = name;
    std::fprintf(stderr, "speed: %s\n", name.c_str());
  }
  [[nodiscard]] Time of(const std::string& name) const {
    const auto found = times_.find(name);
    return found == times_.end() ? Time{} : found->second;
  }

 private:
  std::map<std::string, Time> times_;
  std::string last_;
};

nlohmann::ordered_json shown(const Reference& reference, double ours_s, double goal) {
  if (!reference.available) return {{"available", false}};
  const double ratio = reference.seconds_a_day / ours_s;
  return {{"setting", reference.setting},
          {"ms_a_day", 1e3 * reference.seconds_a_day},
          {"steps", reference.steps},
          {"apart_percent", 100.0 * reference.apart},
          {"ratio", ratio},
          {"goal", goal},
          {"met", ratio >= goal}};
}

// seconds = a + b devices by least squares, the worst distance from it, and the power of n between 10 and 80.
nlohmann::ordered_json growth(const Quickest& quickest) {
  const double n[] = {10, 20, 40, 80};
  double t[4];
  double sn = 0, st = 0, snn = 0, snt = 0;
  nlohmann::ordered_json points;
  for (int k = 0; k < 4; ++k) {
    t[k] = 1e6 * quickest.of("losses/" + std::to_string(static_cast<int>(n[k]))).cpu_s;
    sn += n[k];
    st += t[k];
    snn += n[k] * n[k];
    snt += n[k] * t[k];
    points.push_back({{"devices", n[k]}, {"us_a_day", t[k]}});
  }
  const double slope = (4 * snt - sn * st) / (4 * snn - sn * sn);
  const double base = (st - slope * sn) / 4;
  double worst = 0;
  for (int k = 0; k < 4; ++k) worst = std::max(worst, std::fabs(t[k] / (base + slope * n[k]) - 1.0));
  return {{"points", points},
          {"us_without_devices", base},
          {"us_a_device", slope},
          {"worst_from_line_percent", 100.0 * worst},
          {"power_of_n_40_to_80", std::log(t[3] / t[2]) / std::log(2.0)}};
}

int run(const std::string& path, const std::string& commit) {
  Quickest quickest;
  benchmark::RunSpecifiedBenchmarks(&quickest);
  Runner runner(bench_day().scenario);
  const double call_s = runner.whole().model(0).day.call_s;
  const double tight_s = tight_loss_s(runner.whole(), runner.plans(), runner.until_s());
  const double ours_s = runner.first_loss_s(true, kTolerance);
  const double account_s = runner.first_loss_s(false, kTolerance);
  const double apart = (ours_s - tight_s) / (tight_s - call_s);
  const double account_apart = (account_s - tight_s) / (tight_s - call_s);
  const Reference cvode = by_cvode(runner.whole(), runner.plans(), runner.until_s(), tight_s);
  const Reference spice = by_spice(runner.whole(), runner.plans(), tight_s);
  const BenchDay day = bench_day();
  const odds::OddsOptions options{.days = kOddsDays, .spread = day.spread};
  const bool same = odds_days(day, options, 1) == odds_days(day, options, 2);
  const double day_s = quickest.of("losses/10").cpu_s;
  const double full_s = quickest.of("with_account/0").cpu_s;
  const Quickest::Time one = quickest.of("odds/1");
  const Quickest::Time two = quickest.of("odds/2");

  nlohmann::ordered_json result;
  result["commit"] = commit;
  result["machine"] = machine();
  result["compiler"] = std::string(TILLWRAP_COMPILER) + ", " + TILLWRAP_BUILD;
  result["day"] = {{"losses_only",
                    {{"us_a_day", 1e6 * day_s},
                     {"days_a_second", 1.0 / day_s},
                     {"goal", kGoalDays},
                     {"least", kLeastDays},
                     {"from_tight_cvode_percent", 100.0 * apart}}},
                   {"with_account",
                    {{"us_a_day", 1e6 * full_s},
                     {"days_a_second", 1.0 / full_s},
                     {"from_tight_cvode_percent", 100.0 * account_apart}}},
                   {"with_account_as_printed", {{"us_a_day", 1e6 * quickest.of("with_account/10").cpu_s}}},
                   {"from_scratch", {{"us_a_day", 1e6 * quickest.of("from_scratch").cpu_s}}}};
  result["cvode"] = shown(cvode, day_s, kGoalCvode);
  result["ngspice"] = shown(spice, day_s, kGoalSpice);
  result["devices"] = growth(quickest);
  result["odds"] = {{"days", kOddsDays},           {"one_thread_s", one.wall_s},
                    {"two_threads_s", two.wall_s}, {"two_threads_cpu_s", two.cpu_s},
                    {"goal_s", kGoalOdds_s},       {"same_bytes", same}};

  std::printf("\nDAY (losses only, as odds and planning run it)\n");
  std::printf("  %.0f days/s on one core (goal %.0f, least %.0f), %.1f us a day; %+.4f %% from tight CVODE\n",
              1.0 / day_s, kGoalDays, kLeastDays, 1e6 * day_s, 100.0 * apart);
  std::printf("  with the whole account, same tolerance: %.0f days/s, %+.4f %%; as forecast prints it: %.1f ms\n",
              1.0 / full_s, 100.0 * account_apart, 1e3 * quickest.of("with_account/10").cpu_s);
  const auto ratio = [&](const char* name, const Reference& r, double goal) {
    if (!r.available) {
      std::printf("  %s: not to be had here\n", name);
      return;
    }
    std::printf("  %s: %.2f ms a day at %s (%+.3f %%, %ld steps): ratio %.0f (goal %.0f), with account %.0f\n", name,
                1e3 * r.seconds_a_day, r.setting.c_str(), 100.0 * r.apart, r.steps, r.seconds_a_day / day_s, goal,
                r.seconds_a_day / full_s);
  };
  std::printf("\nREFERENCES, each at the quickest setting that reaches 0.1 %%\n");
  ratio("CVODE", cvode, kGoalCvode);
  ratio("ngspice", spice, kGoalSpice);
  std::printf(
      "  (ngspice: analysis time only; its circuit leaves out cut-offs, restarts, fuses opening, copper warming)\n");
  const auto& g = result["devices"];
  std::printf("\nDEVICES\n");
  for (const auto& point : g["points"]) {
    std::printf("  %2.0f devices %7.1f us a day\n", point["devices"].get<double>(), point["us_a_day"].get<double>());
  }
  std::printf("  line: %.1f us + %.2f us a device, worst %.1f %% off it; 40 to 80 goes with n^%.2f\n",
              g["us_without_devices"].get<double>(), g["us_a_device"].get<double>(),
              g["worst_from_line_percent"].get<double>(), g["power_of_n_40_to_80"].get<double>());
  std::printf("\nODDS\n  %u days: %.2f s on one thread, %.2f s on two (goal %.0f s); %.2f s of processor time\n",
              kOddsDays, one.wall_s, two.wall_s, kGoalOdds_s, two.cpu_s);
  std::printf("  same bytes with one thread and two: %s\n", same ? "yes" : "NO");
  std::ofstream out(path);
  out << result.dump(2) << "\n";
  if (!out.flush()) {
    std::fprintf(stderr, "speed: cannot write %s\n", path.c_str());
    return 1;
  }
  // Slow is a result; wrong is a failure.
  if (std::fabs(apart) > kRight || !same) {
    std::fprintf(stderr, "speed: the day is not within 0.1 %% of CVODE, or threads change the odds\n");
    return 1;
  }
  return 0;
}

}  // namespace
}  // namespace tillwrap::bench

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (argc != 3) {
    std::fprintf(stderr, "usage: speed RESULT.json COMMIT [--benchmark_...]\n");
    return 2;
  }
  try {
    return tillwrap::bench::run(argv[1], argv[2]);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "speed: %s\n", error.what());
    return 1;
  }
}
