// Bands of one log's health: packs drawn as the model says they differ, logged whole or in part, with noise. The logs
// are made by the bench's stepping, not the fit's.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "app/health_log.hpp"
#include "fit/logs.hpp"

namespace tillwrap::test {
namespace {

TEST(HealthBands, HoldNineTimesInTen) {
  std::mt19937 random(26);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  const catalogue::CellKind& kind = *catalogue::builtin().cell("nmc");
  constexpr int kDraws = 160;
  int capacity = 0;
  int resistance = 0;
  int told_resistance = 0;
  int implausible = 0;
  for (int k = 0; k < kDraws; ++k) {
    // This pack's own new state, as packs of a kind differ, and what age left of it.
    const cell::CellParams as_new =
        cell::aged(kind.params, {std::exp(0.03 * normal(random)), std::exp(0.3 * normal(random))});
    const double c = 0.7 + 0.3 * uniform(random);
    const double r = 1.0 + 4.0 * (1.0 - c) * uniform(random);
    Made made{.amps = kind.params.rated_ah * (0.2 + 0.8 * uniform(random)),
              .air_c = 5.0 + 25.0 * uniform(random),
              .noise_v = 0.003,
              .seed = static_cast<std::uint32_t>(k)};
    app::FitLogFile log = made_log("log.csv", cell::aged(as_new, {c, r}), made);
    if (k % 2 == 1)
      log.text.resize(log.text.rfind('\n', static_cast<std::size_t>((0.5 + 0.4 * uniform(random)) *
                                                                    static_cast<double>(log.text.size()))) +
                      1);
    const app::HealthAnswer answer = app::health_of_log({.log = log, .chemistry = "nmc"}, catalogue::builtin());
    if (!answer.plausible) {
      ++implausible;
      continue;
    }
    capacity += c >= answer.capacity.low && c <= answer.capacity.high ? 1 : 0;
    if (!answer.resistance_told) continue;
    ++told_resistance;
    resistance += r >= answer.resistance.low && r <= answer.resistance.high ? 1 : 0;
  }
  const int judged = kDraws - implausible;
  RecordProperty("capacity", fmt::format("{}/{}", capacity, judged));
  RecordProperty("resistance", fmt::format("{}/{}", resistance, told_resistance));
  // A new pack with half the catalogue's resistance is told as another's: rare.
  EXPECT_LE(implausible, kDraws / 16);
  // Binomial: 0.9 of 160 is 144, one standard deviation 3.8. The data's own doubt comes on top of what differs between
  // packs, so somewhat more may be covered.
  EXPECT_GE(capacity, static_cast<int>(0.9 * judged) - 8);
  EXPECT_LE(capacity, static_cast<int>(0.985 * judged) + 2);
  EXPECT_GE(resistance, static_cast<int>(0.9 * told_resistance) - 8);
}

}  // namespace
}  // namespace tillwrap::test
