// One source on a bench against ngspice: time until its volts fall to the limit, within 0.1 %.
#include <gtest/gtest.h>

#include <cstdio>

#include "forecast/bench_run.hpp"
#include "reference/pack_circuit.hpp"
#include "reference/spice.hpp"

namespace tillwrap::forecast {
namespace {

using reference::Deck;

constexpr double kMostApart = 1e-3;
constexpr double kCharge = 0.95;
constexpr double kRoomK = 298.15;

// `load` draws from node `out`; both are stopped at `stop_v`.
void expect_same_end(const cell::PackParams& pack, const BenchLoad& load, const std::string& circuit, double stop_v,
                     double step_s) {
  if (!reference::have_spice()) GTEST_SKIP() << "ngspice is not installed";
  Deck deck;
  reference::add_pack(deck, "a", "out", pack, kCharge, kRoomK);
  deck.line(circuit);
  const double spice_s = reference::falls_through_at(deck, "out", stop_v, 40000.0, step_s);
  const BenchResult run =
      bench_run(pack, load, {.ambient_k = kRoomK, .start_k = kRoomK, .charge = kCharge}, {.stop_v = stop_v});
  EXPECT_EQ(run.end_reason, BenchEnd::stop_volts) << words(run.end_reason);
  EXPECT_NEAR(run.duration_s, spice_s, kMostApart * spice_s);
  std::printf("[ cut-off  ] ours %.1f s, ngspice %.1f s, %+.4f %%\n", run.duration_s, spice_s,
              100.0 * (run.duration_s / spice_s - 1.0));
}

TEST(BenchAgainstNgspice, ConstantPower) {
  for (const auto& pack : {reference::plain_pack(), reference::diffusing_pack()}) {
    expect_same_end(pack, {.kind = BenchLoad::Kind::power, .value = 15.5}, "Bload out 0 I=15.5/max(V(out),3)", 12.5,
                    2.0);
  }
}

TEST(BenchAgainstNgspice, ConstantCurrent) {
  expect_same_end(reference::diffusing_pack(), {.kind = BenchLoad::Kind::current, .value = 3.4}, "Iload out 0 3.4",
                  12.0, 2.0);
}

TEST(BenchAgainstNgspice, Resistance) {
  expect_same_end(reference::diffusing_pack(), {.kind = BenchLoad::Kind::resistance, .value = 8.0}, "Rload out 0 8",
                  12.0, 2.0);
}

// 20 s of every minute: volts recover between, and the first pulse that reaches the limit ends it.
TEST(BenchAgainstNgspice, Pulses) {
  expect_same_end(reference::diffusing_pack(),
                  {.kind = BenchLoad::Kind::current, .value = 6.0, .duty = {{.on_s = 20.0, .period_s = 60.0}}},
                  "Iload out 0 PULSE(0 6 0 1m 1m 19.999 60)", 12.5, 0.5);
}

// Power along straight lines, over and over; one line's spacing lies between the last line and the first again.
TEST(BenchAgainstNgspice, PowerProfile) {
  expect_same_end(reference::diffusing_pack(),
                  {.kind = BenchLoad::Kind::power_profile,
                   .profile_t_s = {0.0, 300.0, 600.0, 900.0},
                   .profile_value = {8.0, 25.0, 18.0, 6.0},
                   .repeat = true},
                  "Vpower power 0 PWL(0 8 300 25 600 18 900 6 1200 8) r=0\nBload out 0 I=V(power)/max(V(out),3)", 12.5,
                  1.0);
}

}  // namespace
}  // namespace tillwrap::forecast
