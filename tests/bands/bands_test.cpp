// Are the odds' bands honest? On each measured steady discharge the engine predicts the length from a fit to the other
// files of its set, and the odds, with the spread they use for everybody, say where it lies nine times in ten.
//
// Coverage: two-sided exact binomial test at 5 % against 0.90. Sharpness: the mean interval score at 90 % (Gneiting and
// Raftery, J. Am. Stat. Assoc. 102(477) 359, 2007, doi:10.1198/016214506000001437, eq. 43) against a flat ±10 %.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <cmath>
#include <cstdio>
#include <optional>

#include "accuracy/sets.hpp"
#include "fit/fit.hpp"
#include "fit/trace.hpp"
#include "forecast/bench_run.hpp"
#include "forecast/kit.hpp"
#include "odds/odds.hpp"

namespace tillwrap::test {
namespace {

constexpr double kDeviceCutoff_v = 3.3;
constexpr double kMiss = 0.10;  // of the days outside a band

struct Band {
  double low_s = 0.0;
  double high_s = 0.0;
};

struct Discharge {
  std::string file;
  double stop_v = 0.0;
  double lasted_s = 0.0;
  double predicted_s = 0.0;
  Band band;
};

// What is not known of a cell on a bench: its capacity, resistance and how full it was, with the spread every day file
// gets; the current is measured, so no load; a chamber holds its temperature to 1 K (from memory); no bag.
odds::Spread bench_spread() {
  odds::Spread spread;
  spread.load = 0.0;
  spread.load_each = 0.0;
  spread.air_k = 1.0;
  spread.bag = 0.0;
  return spread;
}

// The run as a day: one cell in a holder, one device at constant current that stops at `stop_v`.
Band band_of(const cell::CellParams& cell, double charge, double amps, double air_k, double stop_v, double usual_s) {
  Kit kit(std::max(0.1, usual_s / kHour_s));
  kit.day.places.front() = {.name = "chamber", .kind = day::Place::Kind::air};
  kit.day.periods.front().air_k = air_k;
  const int bus = kit.port("bus");
  kit.holder("clamp", bus, kit.pack(forecast::single_cell(cell), charge));
  const int inner = kit.port("load");
  kit.device_at("load", inner, kit.lead(bus, inner, 0.0), {.name = "on", .current_a = amps}, stop_v, stop_v + 0.05);
  const odds::OddsOptions options{.days = 1024, .seed = 1, .spread = bench_spread()};
  std::vector<odds::DayOutcome> days(options.days);
  odds::Worker(kit.day, options).run(0, days);
  std::vector<double> lasts;
  for (const odds::DayOutcome& day : days) lasts.push_back(kit.day.off_s + day.margin_s);
  std::sort(lasts.begin(), lasts.end());
  const auto quantile = [&](double p) {
    return lasts[static_cast<std::size_t>(p * static_cast<double>(lasts.size()))];
  };
  return {quantile(0.5 * kMiss), quantile(1.0 - 0.5 * kMiss)};
}

// Relative to what was measured.
double interval_score(const Discharge& run, const Band& band) {
  const double width = band.high_s - band.low_s;
  const double below = std::max(0.0, band.low_s - run.lasted_s);
  const double above = std::max(0.0, run.lasted_s - band.high_s);
  return (width + 2.0 / kMiss * (below + above)) / run.lasted_s;
}

// Two-sided exact p: all outcomes at most as likely as this one.
double binomial_p(int hits, int n, double share) {
  const boost::math::binomial law(n, share);
  const double here = boost::math::pdf(law, hits);
  double p = 0.0;
  for (int k = 0; k <= n; ++k) {
    const double each = boost::math::pdf(law, k);
    if (each <= here * (1.0 + 1e-9)) p += each;
  }
  return std::min(1.0, p);
}

const std::vector<Discharge>& runs() {
  static const std::vector<Discharge> all = [] {
    std::vector<Discharge> out;
    for (const accuracy::Set& set : accuracy::sets()) {
      for (const accuracy::Case& one : set.cases) {
        if (one.slow || one.pulse || one.stop_v <= 0.0) continue;
        std::vector<accuracy::Case> rest;
        for (const accuracy::Case& other : set.cases) {
          if (other.file != one.file) rest.push_back(other);
        }
        accuracy::Case named = one;
        named.file = set.name + "/" + one.file;
        const fit::Log log = accuracy::read_log(named);
        const cell::CellParams cell = cell::aged(fit::fit(accuracy::problem_of(set, rest)).cell, log.known);
        const double charge = fit::start_charge(cell, log);
        const double amps = fit::charge_as(log) / (log.t_s.back() - fit::first_load_s(log));
        for (const double stop_v : {one.stop_v, kDeviceCutoff_v}) {
          const double to_end_s = log.t_s.back() - fit::first_load_s(log);
          const auto lasted_s = fit::measured_duration_s(log, stop_v);
          if (!lasted_s && stop_v != one.stop_v) continue;
          fit::Log to = log;
          to.cutoff_v = stop_v;
          Discharge run{.file = named.file, .stop_v = stop_v, .lasted_s = lasted_s.value_or(to_end_s)};
          run.predicted_s = fit::trace(cell, to, charge).duration_s;
          run.band = band_of(cell, charge, amps, log.ambient_k, stop_v, run.predicted_s);
          out.push_back(run);
        }
      }
    }
    return out;
  }();
  return all;
}

struct Verdict {
  int n = 0;
  int inside = 0;
  double p = 0.0;
  double score = 0.0;
  double flat_score = 0.0;
};

Verdict judge(bool device) {
  Verdict v;
  fmt::print(
      "| file | to, V | measured, s | predicted, % | band, % | inside |\n| --- | --- | --- | --- | --- | --- |\n");
  for (const Discharge& run : runs()) {
    if ((run.stop_v == kDeviceCutoff_v) != device) continue;
    const bool inside = run.lasted_s >= run.band.low_s && run.lasted_s <= run.band.high_s;
    const auto off = [&](double s) { return 100.0 * (s / run.lasted_s - 1.0); };
    fmt::print("| {} | {:.1f} | {:.0f} | {:+.1f} | {:+.1f} to {:+.1f} | {} |\n", run.file, run.stop_v, run.lasted_s,
               off(run.predicted_s), off(run.band.low_s), off(run.band.high_s), inside ? "yes" : "no");
    ++v.n;
    v.inside += inside ? 1 : 0;
    v.score += interval_score(run, run.band);
    v.flat_score += interval_score(run, {0.9 * run.predicted_s, 1.1 * run.predicted_s});
  }
  v.score /= v.n;
  v.flat_score /= v.n;
  v.p = binomial_p(v.inside, v.n, 1.0 - kMiss);
  fmt::print("{} of {} inside, p = {:.2f}; interval score {:.3f}, flat 10 % {:.3f}\n", v.inside, v.n, v.p, v.score,
             v.flat_score);
  std::fflush(stdout);
  return v;
}

bool no_data() { return !std::filesystem::exists(accuracy::data_folder()); }

// One test, as the fits behind it take their time.
TEST(Bands, CoverNineRunsInTen) {
  if (no_data()) GTEST_SKIP() << "no measured data in " << accuracy::data_folder() << " (set TILLWRAP_DATA)";
  int n = 0;
  int inside = 0;
  for (const bool device : {false, true}) {
    const Verdict v = judge(device);
    n += v.n;
    inside += v.inside;
    EXPECT_GE(v.p, 0.05) << (device ? "to a device's cut-off" : "to the end volts");
    EXPECT_LT(v.score, v.flat_score) << (device ? "to a device's cut-off" : "to the end volts");
  }
  // The two lengths of one run are not independent, so this says less than as many runs would.
  const double p = binomial_p(inside, n, 1.0 - kMiss);
  fmt::print("both: {} of {} inside, p = {:.2f}\n", inside, n, p);
  EXPECT_GE(p, 0.05);
}

// The test itself: known values of the binomial, worked out by its terms.
TEST(Bands, BinomialTestByHand) {
  EXPECT_NEAR(binomial_p(9, 9, 0.9), 1.0, 1e-9);  // the likeliest, as likely as 8
  EXPECT_NEAR(binomial_p(6, 9, 0.9), 1.0 - std::pow(0.9, 9) - 9 * std::pow(0.9, 8) * 0.1 - 36 * std::pow(0.9, 7) * 0.01,
              1e-9);
  EXPECT_LT(binomial_p(5, 9, 0.9), 0.05);
}

// A point inside pays the width; one outside pays twenty times how far.
TEST(Bands, IntervalScoreByHand) {
  Discharge run{.lasted_s = 100.0};
  EXPECT_DOUBLE_EQ(interval_score(run, {90.0, 110.0}), 0.2);
  EXPECT_DOUBLE_EQ(interval_score(run, {101.0, 110.0}), 0.09 + 0.2);
  EXPECT_DOUBLE_EQ(interval_score(run, {90.0, 98.0}), 0.08 + 0.4);
}

}  // namespace
}  // namespace tillwrap::test
