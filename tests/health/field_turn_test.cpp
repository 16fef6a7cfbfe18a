// Readings of a pack in use against packs whose health is known: drawn as packs, loads, leads, air and readings differ,
// run by the bench's stepping, not the fit's. And coulombs counted by hand.
#include "fit/field_turn.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "app/health_bands.hpp"
#include "catalogue/catalogue.hpp"
#include "forecast/bench_run.hpp"
#include "health/trend.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::test {
namespace {

cell::PackParams smart_pack(const cell::Ageing& age = {}) {
  const catalogue::PackKind& kind = *catalogue::builtin().pack("smart-pack-14v4-98wh");
  return catalogue::pack_params(kind, *catalogue::builtin().cell(kind.cell), age);
}

double capacity_ah(const cell::PackParams& pack) { return pack.cell.capacity_as * pack.parallel / 3600.0; }

// 2 A for half an hour, straight up to 3 A over the next, 3 A for two hours: 1 + 1.25 + 6 = 8.25 Ah less the first
// quarter's 0.5 Ah, which lies before the first charge told, is 7.75 Ah; from 95 to 20 % that is 10.33 Ah.
TEST(FieldTurn, CoulombsCountedByHand) {
  const double minute = 60.0;
  const fit::FieldTurn turn{.until_s = 180.0 * minute,
                            .amps = {{0.0, 2.0}, {30 * minute, 2.0}, {60 * minute, 3.0}, {180 * minute, 3.0}},
                            .told = {{15 * minute, 0.95, 0.02}, {180 * minute, 0.20, 0.06}},
                            .volts = {}};
  const fit::FieldFound found = fit::field_turn(smart_pack(), turn);
  EXPECT_NEAR(found.drawn_ah, 7.75, 1e-9);
  ASSERT_TRUE(found.capacity);
  EXPECT_NEAR(found.capacity->value, 7.75 / 0.75 / capacity_ah(smart_pack()), 1e-9);
  // The mean 2.5 A, readings a fifth off it: (4 x 0.25^2 + 4 x 0.2^2) / (4 + 3) is 0.0586. The readings stand for 15,
  // 30, 75 and 60 of 180 minutes: (15^2 + 30^2 + 75^2 + 60^2) / 180^2 is 0.3194 of it. The instrument's 3 % and
  // sqrt(0.02^2 + 0.06^2)/0.75 = 0.0843 on top.
  EXPECT_NEAR(found.capacity->ln_sd, std::sqrt(0.0586 * 0.3194 + 0.03 * 0.03 + 0.0843 * 0.0843), 2e-4);
  EXPECT_FALSE(found.resistance);
}

TEST(FieldTurn, WhatCannotBeTold) {
  const auto told = [](std::vector<fit::FieldTurn::Read> amps, std::vector<fit::FieldTurn::Told> charge) {
    return fit::field_turn(smart_pack(),
                           {.until_s = 7200.0, .amps = std::move(amps), .told = std::move(charge), .volts = {}});
  };
  EXPECT_FALSE(told({{0.0, 2.0}, {7200.0, 2.0}}, {{0.0, 1.0, 0.02}}).capacity);                          // told once
  EXPECT_FALSE(told({{0.0, 0.5}, {7200.0, 0.5}}, {{0.0, 1.0, 0.02}, {7200.0, 0.85, 0.06}}).capacity);    // too little
  EXPECT_FALSE(told({{60.0, 2.0}}, {{0.0, 1.0, 0.02}, {7200.0, 0.4, 0.06}}).capacity);                   // one reading
  EXPECT_FALSE(told({{0.0, 2.0}, {7200.0, 2.0}}, {{0.0, 0.4, 0.06}, {7200.0, 0.9, 0.06}}).by_charge);    // it rose
  EXPECT_FALSE(told({{0.0, -2.0}, {7200.0, -2.0}}, {{0.0, 0.9, 0.06}, {7200.0, 0.3, 0.06}}).by_charge);  // charged
}

struct Drawn {
  fit::FieldTurn turn;
  double capacity = 1.0, resistance = 1.0;
};

// The profile's load at a third from each of those moments for a minute and a half.
void switch_off(forecast::BenchLoad& load, const std::vector<double>& from_s) {
  const auto at = [&](double t) {
    std::size_t k = 1;
    while (k + 1 < load.profile_t_s.size() && load.profile_t_s[k] < t) ++k;
    const double part = (t - load.profile_t_s[k - 1]) / (load.profile_t_s[k] - load.profile_t_s[k - 1]);
    return load.profile_value[k - 1] + part * (load.profile_value[k] - load.profile_value[k - 1]);
  };
  std::vector<std::pair<double, double>> points;
  for (const double from : from_s) {
    points.insert(points.end(), {{from, at(from)}, {from + 0.5, at(from + 0.5) / 3.0}});
    points.insert(points.end(), {{from + 90.0, at(from + 90.0) / 3.0}, {from + 90.5, at(from + 90.5)}});
  }
  for (std::size_t k = 0; k < load.profile_t_s.size(); ++k) {
    const double t = load.profile_t_s[k];
    const bool off = std::any_of(from_s.begin(), from_s.end(), [&](double f) { return t > f && t < f + 90.25; });
    points.emplace_back(t, load.profile_value[k] / (off ? 3.0 : 1.0));
  }
  std::sort(points.begin(), points.end());
  load.profile_t_s.clear();
  load.profile_value.clear();
  for (const auto& [t, a] : points) {
    if (!load.profile_t_s.empty() && t <= load.profile_t_s.back()) continue;
    load.profile_t_s.push_back(t);
    load.profile_value.push_back(a);
  }
}

struct Habits {
  bool left_told = true;
  bool volts_read = true;
  double converter_v = 0.0;
  int pairs = 0;  // times two thirds of the load are switched off for a minute and a half, volts and amps read
                  // before and meanwhile
};

Drawn drawn(std::uint32_t seed, const Habits& habits) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  Drawn out;
  out.capacity = 0.7 + 0.35 * uniform(random);
  out.resistance = 1.0 + 4.0 * std::max(0.0, 1.0 - out.capacity) * 2.0 * uniform(random);
  const cell::PackParams pack =
      smart_pack({out.capacity * std::exp(0.03 * normal(random)), out.resistance * std::exp(0.3 * normal(random))});
  // A load in steps of 4 to 30 minutes, around its mean by a quarter.
  const double mean_a = 1.0 + 1.5 * uniform(random);
  forecast::BenchLoad load{.kind = forecast::BenchLoad::Kind::current_profile};
  for (double t = 0.0; t < 12.0 * 3600.0;) {
    const double a = mean_a * std::max(0.15, 1.0 + 0.25 * normal(random));
    load.profile_t_s.push_back(t);
    load.profile_value.push_back(a);
    t += 60.0 * (4.0 + 26.0 * uniform(random));
    load.profile_t_s.push_back(t - 1.0);
    load.profile_value.push_back(a);
  }
  // A pair somewhere in each equal part of the first two hours, at the end of a second and third quarter.
  std::vector<double> pair_s;
  for (int k = 0; k < habits.pairs; ++k) pair_s.push_back(60.0 * (20.0 + 100.0 * (k + uniform(random)) / habits.pairs));
  if (habits.pairs > 0) switch_off(load, pair_s);
  const double air_k = celsius(15.0).si + 8.0 * normal(random);
  const double start = std::min(1.0, 1.0 + 0.02 * normal(random));
  const forecast::BenchResult run =
      forecast::bench_run(pack, load, {.ambient_k = air_k, .start_k = air_k, .charge = start},
                          {.longest_s = 11.9 * 3600.0, .volts_error = 1e-4});
  const double stop_charge = 0.1 + 0.4 * uniform(random);
  const auto at = [&](double t) {
    std::size_t k = 1;
    while (k + 1 < run.curve.size() && run.curve[k].t_s < t) ++k;
    const auto &a = run.curve[k - 1], &b = run.curve[k];
    const double part = std::clamp((t - a.t_s) / (b.t_s - a.t_s), 0.0, 1.0);
    return forecast::BenchPoint{t, a.volts + part * (b.volts - a.volts),
                                a.current_a + part * (b.current_a - a.current_a), a.temperature_k,
                                a.charge + part * (b.charge - a.charge)};
  };
  out.turn.until_s = run.curve.back().t_s;
  for (const forecast::BenchPoint& p : run.curve) {
    if (p.charge > stop_charge) continue;
    out.turn.until_s = p.t_s;
    break;
  }
  const double clamp = std::exp(0.03 * normal(random));
  const double lead_ohm = 0.06 * std::exp(0.7 * normal(random));
  out.turn.told.push_back({0.0, 1.0, 0.02});
  for (double t = 60.0 + 1500.0 * uniform(random); t < out.turn.until_s; t += 60.0 * (15.0 + 40.0 * uniform(random))) {
    const forecast::BenchPoint now = at(t);
    out.turn.amps.push_back({t, now.current_a * clamp});
    const double volts = habits.converter_v > 0.0 ? habits.converter_v : now.volts - lead_ohm * now.current_a;
    if (habits.volts_read) out.turn.volts.push_back({t, std::round(10.0 * volts) / 10.0});
  }
  for (const double pair : pair_s) {
    for (const double t : {pair - 20.0, pair + 60.0}) {
      if (t > out.turn.until_s) continue;
      const forecast::BenchPoint now = at(t);
      out.turn.amps.push_back({t, now.current_a * clamp});
      const double volts = now.volts - lead_ohm * now.current_a;
      out.turn.volts.push_back({t, std::round(10.0 * volts) / 10.0});
    }
  }
  for (auto* reads : {&out.turn.amps, &out.turn.volts})
    std::sort(reads->begin(), reads->end(), [](const auto& a, const auto& b) { return a.at_s < b.at_s; });
  if (habits.left_told)
    out.turn.told.push_back({out.turn.until_s, at(out.turn.until_s).charge + 0.06 * normal(random), 0.06});
  return out;
}

struct Tally {
  int told = 0, inside = 0;
  double spread = 0.0;
  void add(const std::optional<fit::Factor>& found, double truth, double more_sd) {
    if (!found) return;
    ++told;
    const double sd = std::hypot(found->ln_sd, more_sd);
    spread += sd;
    inside += std::fabs(std::log(truth / found->value)) <= health::kBand * sd ? 1 : 0;
  }
  void add(const std::optional<fit::Times>& found, double truth) {
    if (!found) return;
    ++told;
    spread += found->sd;
    const health::Band band = app::band_of(*found);
    inside += truth >= band.low && truth <= band.high ? 1 : 0;
  }
};

// Nine bands in ten hold the truth: of n, 0.9 n and two standard deviations of the binomial at most below, and no more
// than 98 % of them, so that they are no wider than they must be.
void expect_nine_in_ten(const Tally& tally, const std::string& what) {
  const double n = tally.told;
  ::testing::Test::RecordProperty(what, std::to_string(tally.inside) + "/" + std::to_string(tally.told) + ", sd " +
                                            std::to_string(tally.spread / n));
  EXPECT_GE(tally.inside, 0.9 * n - 2.0 * std::sqrt(0.09 * n)) << what << " of " << n;
  EXPECT_LE(tally.inside, 0.98 * n) << what << " of " << n;
}

TEST(FieldTurn, BandsHoldNineTimesInTen) {
  constexpr std::uint32_t kDraws = 300;
  Tally coulombs, both, volts_only, ohms;
  int doubted = 0;
  for (std::uint32_t seed = 1; seed <= kDraws; ++seed) {
    const auto found = [&](bool left, bool volts) {
      const Drawn one = drawn(seed, {.left_told = left, .volts_read = volts});
      return std::pair(fit::field_turn(smart_pack(), one.turn), one);
    };
    const auto [by_charge, a] = found(true, false);
    coulombs.add(by_charge.capacity, a.capacity, 0.03);
    const auto [by_both, b] = found(true, true);
    doubted += *by_both.volts_fit ? 0 : 1;
    both.add(by_both.capacity, b.capacity, 0.03);
    ohms.add(by_both.resistance, b.resistance);
    const auto [by_volts, c] = found(false, true);
    volts_only.add(by_volts.capacity, c.capacity, 0.03);
  }
  EXPECT_GT(coulombs.told, kDraws / 2);
  EXPECT_GT(volts_only.told, kDraws / 2);
  expect_nine_in_ten(coulombs, "coulombs");
  expect_nine_in_ten(both, "coulombs and volts");
  expect_nine_in_ten(volts_only, "volts without a charge left");
  EXPECT_LE(doubted, static_cast<int>(kDraws / 50)) << "the pack's own volts taken for another's";
  // A lead of unknown length, the cold and how packs differ hide the resistance nearly always.
  EXPECT_LT(ohms.told, kDraws / 10);
  // Volts add to what coulombs say.
  EXPECT_LT(both.spread / both.told, coulombs.spread / coulombs.told);
}

// Readings with two thirds of the load switched off for them are not of the load that empties the pack.
TEST(FieldTurn, WhatWasSwitchedForAReadingIsNoLoad) {
  Tally capacity;
  int doubted = 0;
  constexpr std::uint32_t kDraws = 200;
  for (std::uint32_t seed = 1; seed <= kDraws; ++seed) {
    const Drawn one = drawn(seed, {.pairs = 4});
    const fit::FieldFound found = fit::field_turn(smart_pack(), one.turn);
    doubted += *found.volts_fit ? 0 : 1;
    capacity.add(found.capacity, one.capacity, 0.03);
  }
  EXPECT_GT(capacity.told, static_cast<int>(kDraws / 2));
  expect_nine_in_ten(capacity, "with pairs");
  EXPECT_LE(doubted, static_cast<int>(kDraws / 25));
}

// Behind a converter the input has its 12 V (or 5 V) whatever the pack has: noticed, and coulombs alone are left.
TEST(FieldTurn, VoltsOfAConverterAreLeftAside) {
  int noticed = 0;
  for (std::uint32_t seed = 1; seed <= 80; ++seed) {
    const Drawn one = drawn(seed, {.left_told = seed % 4 < 2, .converter_v = seed % 2 == 0 ? 12.0 : 5.0});
    const fit::FieldFound found = fit::field_turn(smart_pack(), one.turn);
    ASSERT_TRUE(found.volts_fit);
    if (*found.volts_fit) continue;
    ++noticed;
    EXPECT_FALSE(found.resistance);
    if (found.capacity) {
      EXPECT_EQ(found.capacity->value, found.by_charge->value);
    }
  }
  EXPECT_GE(noticed, 76);
}

}  // namespace
}  // namespace tillwrap::test
