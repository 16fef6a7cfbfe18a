// Known numbers found again: logs made by the engine from a cell that is not the chemistry's set, with noise.
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "fit/trace.hpp"
#include "logs.hpp"

namespace tillwrap::test {
namespace {

const catalogue::CellKind& nmc() { return *catalogue::builtin().cell("nmc"); }

app::FitWords words_of(std::vector<app::FitLogFile> logs) {
  app::FitWords words;
  words.logs = std::move(logs);
  words.chemistry = "nmc";
  words.capacity_ah = fmt::format("{}", nmc().params.rated_ah);
  return words;
}

// A cell of the chemistry as another maker might build it.
cell::CellParams other_cell() {
  cell::CellParams truth = nmc().params;
  truth.capacity_as *= 0.95;
  truth.series_ohm *= 1.3;
  truth.rc_ohm *= 1.4;
  truth.diffusion_s *= 1.4;
  truth.exchange_a *= 0.7;
  truth.cooling_w_k *= 0.6;
  return truth;
}

// Loads of a kit that starts, records and rests, A.
const std::vector<double> kDriven{0.5, 0.5, 3.0, 3.0, 1.0, 1.0, 2.0, 0.2, 0.2, 4.0, 1.5, 1.5};

// What a truth does that no log shows: 1.5 A at 12 °C down to the end.
forecast::BenchResult elsewhere(const cell::CellParams& cell) {
  return forecast::bench_run(forecast::single_cell(cell), {.kind = forecast::BenchLoad::Kind::current, .value = 1.5},
                             {.ambient_k = 285.15, .start_k = 285.15, .charge = 1.0}, {.stop_v = cell.cutoff_v});
}

TEST(Recovery, NumbersWithinTheirStatedUncertainty) {
  const cell::CellParams truth = other_cell();
  const double c = truth.rated_ah;
  const app::FitAnswer answer = app::run_fit(
      words_of(
          {made_log("slow.csv", truth, {.amps = c / 20.0, .every_s = 120.0, .seed = 1}),
           made_log("1C.csv", truth, {.amps = c, .seed = 2}),
           made_log("driven.csv", truth, {.profile_a = kDriven, .longest_s = 7200.0, .seed = 3}),
           made_log("cold.csv", truth, {.amps = 0.5 * c, .air_c = 0.0, .seed = 4}),
           made_log("cold driven.csv", truth, {.profile_a = kDriven, .air_c = 0.0, .longest_s = 5400.0, .seed = 5})}),
      catalogue::builtin());
  const cell::CellParams& found = answer.fitted.cell;
  const std::map<std::string, std::pair<double, double>> both{
      {"diffusion_s", {found.diffusion_s, truth.diffusion_s}},
      {"diffusion_activation_k", {found.diffusion_activation_k, truth.diffusion_activation_k}},
      {"series_ohm", {found.series_ohm, truth.series_ohm}},
      {"electrolyte_ohm", {found.electrolyte_ohm, truth.electrolyte_ohm}},
      {"electrolyte_activation_k", {found.electrolyte_activation_k, truth.electrolyte_activation_k}},
      {"exchange_a", {found.exchange_a, truth.exchange_a}},
      {"exchange_activation_k", {found.exchange_activation_k, truth.exchange_activation_k}},
      {"rc_ohm", {found.rc_ohm, truth.rc_ohm}},
      {"rc_s", {found.rc_s, truth.rc_s}},
      {"heat_capacity_j_k", {found.heat_capacity_j_k, truth.heat_capacity_j_k}},
      {"cooling_w_k", {found.cooling_w_k, truth.cooling_w_k}},
  };
  int told = 0;
  for (const auto& [name, value] : both) {
    const fit::Estimated* e = number(answer.fitted, name);
    if (e == nullptr || !e->told) continue;
    ++told;
    EXPECT_NEAR(value.first, value.second, 2.0 * e->plus_minus) << name;
  }
  RecordProperty("told", told);
  EXPECT_GE(told, 4);
  EXPECT_NEAR(found.capacity_as, truth.capacity_as, 0.015 * truth.capacity_as);
  // At rest the curve is the truth's (the logs say nothing finer than their noise).
  for (double z = 0.1; z <= 0.95; z += 0.05)
    EXPECT_NEAR(
        found.ocv.value(z * truth.capacity_as / found.capacity_as + 1.0 - truth.capacity_as / found.capacity_as),
        truth.ocv.value(z), 0.010)
        << z;
  for (const fit::LogFit& log : answer.fitted.logs) EXPECT_LT(log.rms_v, 0.008) << log.name;
  EXPECT_NEAR(elsewhere(found).duration_s, elsewhere(truth).duration_s, 0.01 * elsewhere(truth).duration_s);
}

// Twenty cells drawn from the spread the fit believes in, each shown by the first quarter of one discharge: the volts
// over a whole other discharge come nearer the truth than with the chemistry's set.
TEST(Recovery, OneShortLogImprovesTheSet) {
  double squares_set = 0.0;
  double squares_fitted = 0.0;
  int better = 0;
  constexpr int kCells = 20;
  for (std::uint32_t seed = 1; seed <= kCells; ++seed) {
    std::mt19937 bits(seed);
    std::normal_distribution<double> n;
    cell::CellParams truth = nmc().params;
    for (double cell::CellParams::*field : {&cell::CellParams::series_ohm, &cell::CellParams::rc_ohm,
                                            &cell::CellParams::diffusion_s, &cell::CellParams::exchange_a})
      truth.*field *= std::exp(0.4 * n(bits));
    truth.capacity_as *= std::exp(0.05 * n(bits));
    const app::FitLogFile shown =
        made_log("short.csv", truth, {.amps = truth.rated_ah, .longest_s = 900.0, .seed = seed});
    const app::FitAnswer answer = app::run_fit(words_of({shown}), catalogue::builtin());
    // The whole other discharge as the engine runs it, with each set.
    std::vector<std::string> notes;
    const fit::Log whole = app::read_fit_log(
        made_log("whole.csv", truth, {.amps = 0.7 * truth.rated_ah, .noise_v = 0.0}), {}, truth, notes);
    const double with_set = fit::rms_v(nmc().params, whole, 1.0).value();
    const double with_fit = fit::rms_v(answer.fitted.cell, whole, 1.0).value();
    squares_set += with_set * with_set;
    squares_fitted += with_fit * with_fit;
    better += with_fit < with_set ? 1 : 0;
  }
  EXPECT_LT(std::sqrt(squares_fitted / kCells), 0.75 * std::sqrt(squares_set / kCells));
  RecordProperty("rms_over_sets", fmt::format("{:.2f}", std::sqrt(squares_fitted / squares_set)));
  RecordProperty("better", better);
  EXPECT_GE(better, 16) << "of 20";
}

TEST(Recovery, WhatALogCannotTellKeepsItsPriorAndIsNamed) {
  const cell::CellParams truth = other_cell();
  const app::FitAnswer answer =
      app::run_fit(words_of({made_log("1C.csv", truth, {.amps = truth.rated_ah})}), catalogue::builtin());
  const cell::CellParams& set = nmc().params;
  // One temperature says nothing of what temperature does.
  for (const auto& [name, found, before] :
       {std::tuple{"diffusion_activation_k", answer.fitted.cell.diffusion_activation_k, set.diffusion_activation_k},
        std::tuple{"electrolyte_activation_k", answer.fitted.cell.electrolyte_activation_k,
                   set.electrolyte_activation_k},
        std::tuple{"exchange_activation_k", answer.fitted.cell.exchange_activation_k, set.exchange_activation_k}}) {
    EXPECT_EQ(found, before) << name;
    ASSERT_NE(number(answer.fitted, name), nullptr);
    EXPECT_FALSE(number(answer.fitted, name)->told) << name;
  }
  EXPECT_NE(app::fit_text(answer, "").find("The logs cannot tell"), std::string::npos);
  EXPECT_NE(app::params_json(answer).find("the logs cannot tell it"), std::string::npos);
}

TEST(Recovery, HealthOfAnAgedCell) {
  const decode::Document as_new = decode::read_json(
      [] {
        const cell::CellParams& p = nmc().params;
        return app::params_json(
            app::run_fit(words_of({made_log("1C.csv", p, {.amps = p.rated_ah})}), catalogue::builtin()));
      }(),
      "new.json");
  const cell::CellParams fresh = catalogue::read_cell(as_new).params;
  for (const auto& [capacity, resistance] : {std::pair{0.85, 1.6}, {0.7, 2.2}, {1.0, 1.0}, {0.95, 1.2}}) {
    const cell::CellParams aged = cell::aged(fresh, {.capacity_fraction = capacity, .resistance_factor = resistance});
    app::FitWords words;
    words.health_only = true;
    words.params = as_new;
    words.logs = {made_log("now.csv", aged, {.amps = 0.5 * fresh.rated_ah})};
    const app::FitAnswer answer = app::run_fit(words, catalogue::builtin());
    const fit::Estimated* c = number(answer.fitted, "capacity_fraction");
    const fit::Estimated* r = number(answer.fitted, "resistance_factor");
    ASSERT_TRUE(c->told && r->told) << capacity;
    EXPECT_NEAR(answer.health.capacity_fraction, capacity, std::max(2.0 * c->plus_minus, 0.005));
    EXPECT_NEAR(answer.health.resistance_factor, resistance, 2.0 * r->plus_minus);
  }
}

}  // namespace
}  // namespace tillwrap::test
