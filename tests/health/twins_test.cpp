// Pairs bought together, as days in use show them: how soon the weaker is named, and how often one of two alike is.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "app/pack_history.hpp"

namespace tillwrap::test {
namespace {

constexpr const char* kKind = "smart-pack-14v4-98wh";
constexpr int kDays = 24;
constexpr int kPairs = 400;
constexpr std::int64_t kNow_us = 1'780'000'000'000'000;

// One pack's `used` lines: from full to where its gauge shows 20 to 60 %. A charger's full is off by 2 %, what is read
// off by 6 %: half of its variance the gauge's own, the same each day.
journal::PackState pack(const std::string& label, double capacity, std::mt19937& random) {
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  journal::PackState out{.label = label, .kind = kKind, .bought = "2024-04-01"};
  const double own = 0.06 * std::sqrt(0.5) * normal(random);
  const double rated_ah = catalogue::builtin().pack(kKind)->rated_ah;
  for (int day = 0; day < kDays; ++day) {
    const double left = 0.2 + 0.4 * uniform(random);
    const double from = 1.0 + 0.02 * normal(random);
    const double shown = left + own + 0.06 * std::sqrt(0.5) * normal(random);
    out.field_days.push_back({.at_us = kNow_us - (kDays - day) * 5 * journal::kDay_us,
                              .ah = capacity * rated_ah * (from - left),
                              .from = 1.0,
                              .to = std::clamp(shown, 0.0, 1.0)});
  }
  return out;
}

struct Named {
  int right = 0, wrong = 0;
};

// After so many days, of pairs of which the second holds so much less.
Named named(double less, std::size_t days) {
  Named out;
  for (unsigned seed = 1; seed <= kPairs; ++seed) {
    std::mt19937 random(seed);
    std::normal_distribution<double> normal;
    const double both = 0.9 + 0.04 * normal(random);
    journal::State state;
    for (const auto& [label, share] : {std::pair("C2", 1.0), std::pair("C3", 1.0 - less)})
      state.packs.push_back(pack(label, both * share * std::exp(0.02 * normal(random)), random));
    for (journal::PackState& one : state.packs) one.field_days.resize(days);
    const auto history_of = [](const journal::PackState& one) {
      return app::pack_history(one, catalogue::builtin(), kNow_us);
    };
    const auto weak = [&](const char* label) {
      const journal::PackState& one = *state.pack(label);
      return app::weak_twin(state, one, history_of(one), history_of).has_value();
    };
    out.right += weak("C3") ? 1 : 0;
    out.wrong += weak("C2") ? 1 : 0;
  }
  return out;
}

TEST(Twins, TheWeakerOfAPairIsNamedAndOneOfTwoAlikeSeldom) {
  for (const double less : {0.0, 0.1, 0.15, 0.2, 0.3}) {
    std::printf("[ twins    ] %2.0f %% less:", 100.0 * less);
    for (const std::size_t days : {1U, 2U, 3U, 6U, 12U, 24U}) {
      const Named now = named(less, days);
      if (less == 0.0) {
        EXPECT_LE(std::max(now.right, now.wrong), 0.07 * kPairs) << days;
      } else {
        EXPECT_LE(now.wrong, 0.01 * kPairs) << less << ", " << days;
      }
      std::printf("  %zu days %.1f %% (the other %.1f %%)", days, 100.0 * now.right / kPairs,
                  100.0 * now.wrong / kPairs);
    }
    std::printf("\n");
  }
  EXPECT_GE(named(0.2, 3).right, kPairs / 2);
  EXPECT_GE(named(0.3, 2).right, 0.75 * kPairs);
}

}  // namespace
}  // namespace tillwrap::test
