// Health of measured cells: NCA 18650, new and at the end of its campaign (doi:10.17632/wykht8y7tg.1, CC-BY-4.0), NMC
// 18650 (doi:10.17632/cp3473x7xv), VRLA 17 Ah (arXiv:1902.01771, BSD-3-Clause).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "app/health_log.hpp"
#include "fit/logs.hpp"

namespace tillwrap::test {
namespace {

app::HealthAnswer health(const app::FitLogFile& log, const std::string& chemistry, const std::string& ah,
                         int cells = 1) {
  app::HealthWords words{.log = log, .chemistry = chemistry, .capacity_ah = ah};
  if (cells > 1) words.cells = cells;
  return app::health_of_log(words, catalogue::builtin());
}

// What a 1C discharge to 2.5 V gives by that health.
double delivers_ah(const app::HealthAnswer& health) {
  const cell::CellParams cell = cell::aged(cell::scaled_to(catalogue::builtin().cell("nca")->params, 2.9),
                                           {health.capacity.middle, health.resistance.middle});
  return forecast::bench_run(forecast::single_cell(cell), {.kind = forecast::BenchLoad::Kind::current, .value = 2.9},
                             {.ambient_k = 298.15, .start_k = 298.15, .charge = 1.0}, {.stop_v = 2.5})
      .charge_ah;
}

app::FitLogFile first_rows(app::FitLogFile log, std::size_t rows) {
  std::size_t at = 0;
  for (std::size_t k = 0; k <= rows && at != std::string::npos; ++k) at = log.text.find('\n', at + 1);
  if (at != std::string::npos) log.text.resize(at + 1);
  return log;
}

#define NEED(name)                                   \
  const auto log_##name = measured_log(file_##name); \
  if (!log_##name) GTEST_SKIP() << "no measured data in " << data_folder() << " (set TILLWRAP_DATA)"

TEST(Measured, OneHourCapacityOfTheNewAndTheAgedCell) {
  const char* file_new = "nca18650/25C_1C_start1.csv";
  const char* file_aged = "nca18650/25C_1C_end1.csv";
  NEED(new);
  NEED(aged);
  const app::HealthAnswer fresh = health(*log_new, "nca", "2.9");
  const app::HealthAnswer aged = health(*log_aged, "nca", "2.9");
  EXPECT_TRUE(fresh.plausible && aged.plausible);
  // Delivered at 1C: 2.80 Ah at the start of the campaign, 2.434 Ah in this run at its end.
  EXPECT_NEAR(fresh.drawn_ah, 2.80, 0.01);
  EXPECT_NEAR(aged.drawn_ah, 2.434, 0.01);
  EXPECT_NEAR(delivers_ah(fresh), fresh.drawn_ah, 0.04 * fresh.drawn_ah);
  EXPECT_NEAR(delivers_ah(aged), aged.drawn_ah, 0.04 * aged.drawn_ah);
  EXPECT_NEAR(aged.capacity.middle / fresh.capacity.middle, 2.434 / 2.80, 0.04);
  EXPECT_GT(aged.resistance.middle, fresh.resistance.middle);
  RecordProperty("new_ah", fmt::format("{:.3f}", delivers_ah(fresh)));
  RecordProperty("aged_ah", fmt::format("{:.3f}", delivers_ah(aged)));
}

// The first three fifths alone: the band holds what the whole run says.
TEST(Measured, PartOfADischarge) {
  const char* file_aged = "nca18650/25C_1C_end1.csv";
  NEED(aged);
  const app::HealthAnswer whole = health(*log_aged, "nca", "2.9");
  const app::HealthAnswer part = health(first_rows(*log_aged, 190), "nca", "2.9");
  EXPECT_EQ(part.by, app::HealthAnswer::By::part);
  EXPECT_LT(part.covers, 0.7);
  EXPECT_LT(part.capacity.low, 2.434 / 2.80);
  EXPECT_GT(part.capacity.high, 2.434 / 2.80);
  EXPECT_GT(part.capacity.high - part.capacity.low, whole.capacity.high - whole.capacity.low);
}

// A day's loads: between what the cell had at the start of its campaign and at its end.
TEST(Measured, DriveProfilesStandForADay) {
  for (const char* name : {"nca18650/25C_la92.csv", "nca18650/25C_cycle1.csv"}) {
    const auto log = measured_log(name);
    if (!log) GTEST_SKIP() << "no measured data in " << data_folder() << " (set TILLWRAP_DATA)";
    const app::HealthAnswer answer = health(*log, "nca", "2.9");
    EXPECT_TRUE(answer.plausible) << answer.why_not;
    EXPECT_EQ(answer.by, app::HealthAnswer::By::part);
    EXPECT_GT(answer.capacity.high, 0.87);
    EXPECT_LT(answer.capacity.low, 1.0);
    EXPECT_NEAR(answer.capacity.middle, 0.94, 0.08) << name;
  }
}

TEST(Measured, AnotherChemistryIsNoticed) {
  const char* file_nmc = "nmc18650/25C_1C.csv";
  const char* file_nca = "nca18650/25C_1C_end1.csv";
  NEED(nmc);
  NEED(nca);
  EXPECT_TRUE(health(*log_nmc, "nmc", "3").plausible);
  EXPECT_FALSE(health(*log_nmc, "nca", "3").plausible);
  EXPECT_FALSE(health(*log_nca, "lco", "2.9").plausible);
  EXPECT_THROW(health(*log_nca, "lfp", "2.9"), decode::InputError);  // volts it never shows
  EXPECT_THROW(health(*log_nca, "nimh", "2.9"), decode::InputError);
  EXPECT_THROW(health(*log_nca, "nca", "1.5"), decode::InputError);  // another size
}

// Lithium runs taken for another lithium chemistry of the same size. Each right set must stay unquestioned; the aged
// nca cell's 1C run taken for nmc is off by 22 mV where nca is by 13: too little to be told apart for good.
TEST(Measured, LithiumsAreToldApart) {
  struct Run {
    const char* file;
    const char* is;
    const char* ah;
    std::vector<const char*> noticed_as;  // told to be these, the right one is named
  };
  const std::vector<Run> runs{{"nca18650/25C_1C_start1.csv", "nca", "2.9", {"nmc"}},
                              {"nca18650/25C_1C_end1.csv", "nca", "2.9", {}},
                              {"nca18650/25C_cycle1.csv", "nca", "2.9", {"nmc"}},
                              {"nca18650/25C_la92.csv", "nca", "2.9", {"nmc"}},
                              {"nca18650/25C_c20.csv", "nca", "2.9", {"nmc"}},
                              {"nca18650/n10C_hwfet.csv", "nca", "2.9", {"nmc"}},
                              {"nmc18650/25C_1C.csv", "nmc", "3", {"nca"}},
                              {"nmc18650/25C_us06.csv", "nmc", "3", {"nca"}},
                              {"nmc18650/0C_1C.csv", "nmc", "3", {"nca"}},
                              {"nmc21700/25C_1C.csv", "nmc-21700-5ah", "5", {"nca"}},
                              {"nmc21700/25C_0p1C.csv", "nmc-21700-5ah", "5", {"nca"}}};
  for (const Run& run : runs) {
    const auto log = measured_log(run.file);
    if (!log) GTEST_SKIP() << "no measured data in " << data_folder() << " (set TILLWRAP_DATA)";
    const app::HealthAnswer right = health(*log, run.is, run.ah);
    EXPECT_TRUE(right.plausible) << run.file;
    EXPECT_EQ(right.looks_like, "") << run.file;
    for (const char* other : run.noticed_as) {
      const app::HealthAnswer wrong = health(*log, other, run.ah);
      EXPECT_EQ(wrong.looks_like.substr(0, 3), std::string(run.is).substr(0, 3)) << run.file << " as " << other;
    }
  }
}

// Two sets follow the aged cell's 1C run, 13 and 18 mV off, and differ in what it holds: said either way, with what it
// would be, and the less kind one decides. What it gave says 2.434 of 2.80 Ah.
TEST(Measured, WhatVoltsCannotTellApartIsSaid) {
  const char* file_aged = "nca18650/25C_1C_end1.csv";
  NEED(aged);
  const app::HealthAnswer as_nca = health(*log_aged, "nca", "2.9");
  const app::HealthAnswer as_large = health(*log_aged, "nmc-21700-5ah", "2.9");
  for (const auto* one : {&as_nca, &as_large}) {
    const auto& other = one == &as_nca ? as_large : as_nca;
    const auto found = std::find_if(one->as_well.begin(), one->as_well.end(),
                                    [&](const app::OtherCells& cells) { return cells.cell == other.of; });
    ASSERT_NE(found, one->as_well.end()) << one->of;
    EXPECT_NEAR(found->capacity.middle, other.capacity.middle, 1e-9);
    EXPECT_NEAR(found->resistance.middle, other.resistance.middle, 1e-9);
    const health::Band least = app::least_capacity(*one);
    EXPECT_LE(least.middle, as_nca.capacity.middle);
    EXPECT_GE(least.high, 2.434 / 2.80);
    // As a test it is at least as wide as half the difference.
    EXPECT_GT(*app::log_as_test(*one, 0).capacity_sd,
              0.3 * std::fabs(as_nca.capacity.middle - as_large.capacity.middle));
  }
  // Taken for nmc, which is further off, the nearer one is named all the same.
  const app::HealthAnswer as_nmc = health(*log_aged, "nmc", "2.9");
  EXPECT_TRUE(std::any_of(as_nmc.as_well.begin(), as_nmc.as_well.end(),
                          [](const app::OtherCells& cells) { return cells.cell == "nca"; }));
  // A slower run tells them apart.
  const char* file_slow = "nca18650/25C_c20.csv";
  NEED(slow);
  EXPECT_TRUE(health(*log_slow, "nca", "2.9").as_well.empty());
}

// Under 80 % by one of two chemistries: the advice is that one's.
TEST(Health, AdviceGoesByTheLeastKind) {
  app::HealthAnswer log{.log = "log.csv", .of = "nmc", .by = app::HealthAnswer::By::run_down};
  log.capacity = {0.85, 0.9, 0.95};
  log.resistance = {0.9, 1.2, 1.6};
  app::HealthReport report{.log = &log};
  EXPECT_EQ(app::health_advice(report), "Good to use.");
  EXPECT_FALSE(app::to_retire(report));
  log.as_well.push_back({.cell = "nca", .rms_v = 0.01, .capacity = {0.7, 0.74, 0.78}, .resistance = {1.0, 1.4, 1.9}});
  EXPECT_EQ(app::health_advice(report).substr(0, 9), "Retire it");
  EXPECT_TRUE(app::to_retire(report));
}

TEST(Measured, ALeadBatteryGivesMoreThanItsLabel) {
  const char* file_lead = "lead17/3p0A.csv";
  NEED(lead);
  const app::HealthAnswer answer = health(*log_lead, "vrla-agm", "17", 6);
  EXPECT_TRUE(answer.plausible) << answer.why_not;
  // 19.7 Ah at 3.04 A by the set's description, of 17 Ah on the label.
  EXPECT_NEAR(answer.capacity.middle, 1.2, 0.06);
}

}  // namespace
}  // namespace tillwrap::test
