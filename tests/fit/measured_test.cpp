// Health of a measured cell: NCA 18650, the same cell new and at the end of its campaign (doi:10.17632/wykht8y7tg.1).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "logs.hpp"

namespace tillwrap::test {
namespace {

double drawn_ah(const app::FitLogFile& file) {
  std::vector<std::string> notes;
  return fit::charge_as(app::read_fit_log(file, {}, catalogue::builtin().cell("nca")->params, notes)) / 3600.0;
}

app::FitAnswer health(const app::FitLogFile& log, const decode::Document& params) {
  app::FitWords words;
  words.health_only = true;
  words.params = params;
  words.logs = {log};
  return app::run_fit(words, catalogue::builtin());
}

// The cell as new by its slow discharge and pulse test; its 1C discharge is left for the check.
decode::Document as_new() {
  app::FitWords words;
  words.logs = {*measured_log("nca18650/25C_c20.csv")};
  words.pulses = {*measured_log("nca18650/25C_hppc.csv")};
  words.chemistry = "nca";
  words.capacity_ah = "2.9";
  return decode::read_json(app::params_json(app::run_fit(words, catalogue::builtin())), "new.json");
}

double delivers_ah(const cell::CellParams& cell, double amps) {
  return forecast::bench_run(forecast::single_cell(cell), {.kind = forecast::BenchLoad::Kind::current, .value = amps},
                             {.ambient_k = 298.15, .start_k = 298.15, .charge = 1.0}, {.stop_v = 2.5})
      .charge_ah;
}

TEST(MeasuredHealth, CapacityOfTheNewAndTheAgedCell) {
  const auto start = measured_log("nca18650/25C_1C_start1.csv");
  const auto end = measured_log("nca18650/25C_1C_end1.csv");
  if (!start || !end) GTEST_SKIP() << "no measured data in " << data_folder() << " (set TILLWRAP_DATA)";
  const decode::Document params = as_new();
  const app::FitAnswer now = health(*start, params);
  const app::FitAnswer later = health(*end, params);
  // What each delivers at 1C, as its health says and as it was measured.
  EXPECT_NEAR(delivers_ah(now.fitted.cell, 2.9), drawn_ah(*start), 0.04 * drawn_ah(*start));
  EXPECT_NEAR(delivers_ah(later.fitted.cell, 2.9), drawn_ah(*end), 0.04 * drawn_ah(*end));
  // And the capacity left of it: 2.80 Ah at the start, 2.35 to 2.44 Ah at the end.
  const double left = later.health.capacity_fraction / now.health.capacity_fraction;
  EXPECT_NEAR(left, drawn_ah(*end) / drawn_ah(*start), 0.04);
  RecordProperty("capacity_left", fmt::format("{:.3f}", left));
  // Resistance grows with age.
  EXPECT_TRUE(number(later.fitted, "resistance_factor")->told);
  EXPECT_GT(later.health.resistance_factor, now.health.resistance_factor);
}

// A log of one row a minute in the cold that begins under load: what the cell shows there lies 0.3 V under its rested
// volts, and it is full all the same (the set's description: charged before every run; 3 % of the capacity lost over
// five temperatures in the order 25, 40, 10, 0, -10, -20 °C, so 0.976 is left here).
TEST(MeasuredHealth, AColdRunThatBeginsUnderLoadBeganFull) {
  app::FitWords words;
  for (const char* file : {"nmc18650/25C_c20.csv", "nmc18650/25C_1C.csv", "nmc18650/0C_1C.csv"}) {
    const auto log = measured_log(file);
    if (!log) GTEST_SKIP() << "no measured data in " << data_folder() << " (set TILLWRAP_DATA)";
    words.logs.push_back(*log);
  }
  words.chemistry = "nmc";
  words.ambient = {"24", "24", "0"};
  const auto fitted = app::run_fit(words, catalogue::builtin());
  const auto cold = measured_log("nmc18650/n10C_0p5C.csv");
  ASSERT_TRUE(cold.has_value());
  const app::FitAnswer answer = health(*cold, decode::read_json(app::params_json(fitted), "new.json"));
  EXPECT_NEAR(answer.health.capacity_fraction, 0.976, 0.02);
  const auto start = std::find_if(answer.fitted.numbers.begin(), answer.fitted.numbers.end(),
                                  [](const fit::Estimated& one) { return one.name.starts_with("start charge"); });
  ASSERT_NE(start, answer.fitted.numbers.end());
  EXPECT_NEAR(start->value, 1.0, 0.02);
}

TEST(MeasuredHealth, ASlowDischargeTellsNothingOfResistance) {
  const auto slow = measured_log("nca18650/25C_c20.csv");
  if (!slow) GTEST_SKIP() << "no measured data in " << data_folder() << " (set TILLWRAP_DATA)";
  const app::FitAnswer answer = health(*slow, as_new());
  EXPECT_EQ(answer.health.resistance_factor, 1.0);
  EXPECT_FALSE(number(answer.fitted, "resistance_factor")->told);
  EXPECT_NE(app::fit_text(answer, "").find("taken as 1: resistance_factor"), std::string::npos);
  EXPECT_TRUE(number(answer.fitted, "capacity_fraction")->told);
}

}  // namespace
}  // namespace tillwrap::test
