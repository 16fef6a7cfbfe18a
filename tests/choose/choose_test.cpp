// Whole choices on simulated days: closed forms, brute force over whole simulated days, promises about packs and
// places.
#include "choose/choose.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "choose/sure.hpp"
#include "forecast/by_hand.hpp"
#include "odds/draw.hpp"

namespace tillwrap::choose {
namespace {

using test::kHour_s;
using test::Kit;
using test::straight_pack;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

odds::Spread only_load(double together, double each = 0.0) {
  return {.load = together,
          .load_each = each,
          .capacity = 0.0,
          .capacity_each = 0.0,
          .resistance = 0.0,
          .start_charge = 0.0,
          .air_k = 0.0,
          .bag = 0.0};
}

Options options_of(const odds::Spread& spread, std::size_t packs) {
  Options options;
  options.odds.spread = spread;
  options.fresh_days = 512;
  options.costs.assign(packs, {.grams = 100});
  return options;
}

// One ideal pack under a load in doubt alone lasts T0/L: the days covered are those with T0/L >= T, to be counted by
// hand.
TEST(Choose, CoversTheDaysTheClosedFormSays) {
  const double lasts_s = test::lasts_s({.capacity_ah = 5.0}, 0.0, 10.0, 12.5);
  for (const double share : {0.80, 0.84, 0.86, 0.88, 0.92}) {
    Kit kit(share * lasts_s / kHour_s);
    const int bus = kit.port("bus");
    kit.holder("cup", bus, kit.pack(straight_pack({.capacity_ah = 5.0})));
    kit.device("load", bus, 10.0, 12.5, 13.0);
    const odds::Spread spread = only_load(0.08);
    const Choice choice = choose(kit.day, options_of(spread, 1));
    const odds::Draw draw(kit.day, spread, 1);
    int expected = 0;
    for (std::uint32_t d = 0; d < 512; ++d) expected += std::exp(0.08 * draw.luck_of(d).load) * share <= 1.0 ? 1 : 0;
    // 495 of 512 are needed (Clopper and Pearson); no share stands on that edge.
    ASSERT_EQ(choice.assignments.empty(), expected < 495) << share << " " << expected;
    if (choice.assignments.empty()) {
      ASSERT_EQ(choice.shortages.size(), 1U);
      EXPECT_EQ(choice.shortages.front().holder, 0);
      continue;
    }
    EXPECT_NEAR(choice.covered, expected, 1) << share;  // a day on the edge
    EXPECT_EQ(choice.differ, 0);
    EXPECT_TRUE(choice.proven_best);
  }
}

// A drawn kit: ideal packs of different sizes for one or two holders, a day with two stretches out of reach.
struct DrawnKit {
  explicit DrawnKit(unsigned seed, bool together = false) : kit(8.0) {
    std::mt19937 rng(seed);
    const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(rng); };
    kit.split(3.0 * kHour_s, "meal");
    kit.split(4.0 * kHour_s, "afternoon");
    kit.day.no_hands = {{0, 0.5 * kHour_s, 3.0 * kHour_s}, {0, 4.0 * kHour_s, 6.5 * kHour_s}};
    const int packs = together ? 2 : pick(2, 4);
    for (int p = 0; p < packs; ++p) {
      const double ah = 1.5 + 0.5 * pick(0, 5);
      kit.pack(straight_pack({.capacity_ah = ah}));
      grams.push_back(std::lround(100.0 * ah));
    }
    if (together) {  // two cups on one bus: what one carries depends on the other
      const int bus = kit.port("bus");
      for (int h = 0; h < 2; ++h) {
        kit.holder("cup " + std::to_string(h), bus, -1);
        kit.day.holders.back().one_way = true;
      }
      kit.device("load", bus, 6.0 + 1.5 * pick(0, 6), 12.5, 13.0);
      return;
    }
    const int holders = pick(1, 2);
    for (int h = 0; h < holders; ++h) {
      const int bus = kit.port("bus");
      kit.holder("cup " + std::to_string(h), bus, -1);
      kit.device("load " + std::to_string(h), bus, 5.0 + 1.0 * pick(0, 6), 12.5, 13.0);
    }
  }
  Kit kit;
  std::vector<std::int64_t> grams;
};

// Tries every assignment of named packs to holders and moments, each as a day of its own simulated whole 512 times.
class WholeDayBruteForce {
 public:
  WholeDayBruteForce(const day::Scenario& day, const std::vector<std::int64_t>& grams, const odds::Spread& spread,
                     const std::vector<double>& moments, bool may_stay_empty = false)
      : may_stay_empty_(may_stay_empty),
        day_(day),
        grams_(grams),
        spread_(spread),
        moments_(moments),
        used_(day.packs.size(), 0) {
    for (day::Holder& holder : day_.holders) holder.slots.clear();
    // All 512 days are looked at; a plan that fails does so sooner.
    const odds::Draw draw(day_, spread_, 1);
    for (std::uint32_t d = 0; d < 512; ++d) heaviest_first_.push_back(d);
    std::stable_sort(heaviest_first_.begin(), heaviest_first_.end(),
                     [&](std::uint32_t a, std::uint32_t b) { return draw.luck_of(a).load > draw.luck_of(b).load; });
    fill(0, 0);
  }
  bool found = false;
  std::array<std::int64_t, 3> best{};
  int plans = 0;

 private:
  void fill(int holder, std::size_t moment) {
    if (holder == static_cast<int>(day_.holders.size())) {
      judge();
      return;
    }
    std::vector<day::Slot>& slots = day_.holders[at(holder)].slots;
    if (may_stay_empty_ && slots.empty()) fill(holder + 1, 0);
    for (int p = 0; p < static_cast<int>(day_.packs.size()); ++p) {
      if (used_[at(p)] != 0) continue;
      used_[at(p)] = 1;
      slots.push_back({.pack = p, .at_s = moments_[moment]});
      fill(holder + 1, 0);
      for (std::size_t next = moment + 1; next < moments_.size(); ++next) fill_on(holder, next);
      slots.pop_back();
      used_[at(p)] = 0;
    }
  }
  void fill_on(int holder, std::size_t moment) { fill(holder, moment); }

  void judge() {
    std::array<std::int64_t, 3> cost{};
    for (const day::Holder& holder : day_.holders) {
      cost[0] += std::max<std::int64_t>(static_cast<std::int64_t>(holder.slots.size()) - 1, 0);
      cost[1] += static_cast<std::int64_t>(holder.slots.size());
      for (const day::Slot& slot : holder.slots) cost[2] += grams_[at(slot.pack)];
    }
    if (found && cost >= best) return;
    ++plans;
    const odds::Draw draw(day_, spread_, 1);
    std::vector<char> lost(512, 0);
    for (forecast::Piece& piece : forecast::split(day_)) {
      if (!piece.must_run) continue;
      const day::Scenario fresh = piece.day;
      const forecast::Model model(piece.day);
      const forecast::ChangePlan plan = forecast::plan_changes(model, day_.off_s);
      for (const std::uint32_t d : heaviest_first_) {
        draw.apply(piece, fresh, draw.luck_of(d), piece.day);
        // Finer steps than the search takes, no shortcuts.
        const forecast::DayRun run = forecast::run_day(model, plan, {.search_until_s = day_.off_s, .tolerance = 4.0});
        if (run.first_loss.device >= 0 && run.first_loss.at_s < day_.off_s) lost[d] = 1;
        if (std::count(lost.begin(), lost.end(), 1) > 17) return;
      }
    }
    found = true;
    best = cost;
  }

  bool may_stay_empty_;
  day::Scenario day_;
  const std::vector<std::int64_t>& grams_;
  odds::Spread spread_;
  std::vector<double> moments_;
  std::vector<char> used_;
  std::vector<std::uint32_t> heaviest_first_;
};

TEST(Choose, AgreesWithBruteForceOverWholeDays) {
  // Moments of this day by the stated rule: start; last moment before 0.5 h is out; 3 h; last before 4 h; 6.5 h. The
  // windows are given to the brute force in clock times, not taken from the code under test.
  const double gap_s = 20.0;
  const std::vector<double> moments{0.0, 0.5 * kHour_s - gap_s, 3.0 * kHour_s, 4.0 * kHour_s - gap_s, 6.5 * kHour_s};
  const odds::Spread spread = only_load(0.06, 0.03);
  int feasible = 0;
  int changing = 0;
  for (unsigned seed = 0; seed < 30; ++seed) {
    DrawnKit drawn(seed);
    Options options = options_of(spread, drawn.grams.size());
    for (std::size_t p = 0; p < drawn.grams.size(); ++p) options.costs[p].grams = drawn.grams[p];
    options.look_for_additions = false;
    options.fresh_days = 512;
    const Choice choice = choose(drawn.kit.day, options);
    const WholeDayBruteForce brute(drawn.kit.day, drawn.grams, spread, moments);
    const bool chosen = !choice.assignments.empty();
    if (choice.raised > 0) continue;  // another K than the brute force's
    EXPECT_EQ(chosen, brute.found) << seed;
    if (!chosen || !brute.found) continue;
    EXPECT_EQ(choice.cost.part[0], brute.best[0]) << seed;
    EXPECT_EQ(choice.cost.part[1], brute.best[1]) << seed;
    EXPECT_EQ(choice.cost.part[2], brute.best[2]) << seed;
    EXPECT_GE(choice.covered, choice.need) << seed;
    ++feasible;
    changing += choice.cost.changes() > 0 ? 1 : 0;
  }
  EXPECT_GT(feasible, 6);
  EXPECT_GT(changing, 3);
}

// The same for two cups on one bus, changed together or in turn, either of which may stay empty.
TEST(Choose, AgreesWithBruteForceOverWholeDaysWhereCupsShareALoad) {
  const double gap_s = 20.0;
  const std::vector<double> moments{0.0, 0.5 * kHour_s - gap_s, 3.0 * kHour_s, 4.0 * kHour_s - gap_s, 6.5 * kHour_s};
  const odds::Spread spread = only_load(0.06, 0.03);
  int feasible = 0;
  int both = 0;
  for (unsigned seed = 400; seed < 408; ++seed) {
    DrawnKit drawn(seed, true);
    Options options = options_of(spread, drawn.grams.size());
    for (std::size_t p = 0; p < drawn.grams.size(); ++p) options.costs[p].grams = drawn.grams[p];
    options.look_for_additions = false;
    const Choice choice = choose(drawn.kit.day, options);
    if (choice.raised > 0) continue;
    const WholeDayBruteForce brute(drawn.kit.day, drawn.grams, spread, moments, true);
    const bool chosen = !choice.assignments.empty();
    EXPECT_EQ(chosen, brute.found) << seed;
    EXPECT_TRUE(choice.complete) << seed;
    if (!chosen || !brute.found) continue;
    EXPECT_EQ(choice.together, 1);
    EXPECT_EQ(choice.cost.part[0], brute.best[0]) << seed;
    EXPECT_EQ(choice.cost.part[1], brute.best[1]) << seed;
    EXPECT_EQ(choice.cost.part[2], brute.best[2]) << seed;
    EXPECT_TRUE(choice.proven_best) << seed << " differ " << choice.differ;
    ++feasible;
    both += choice.assignments.size() == 2 ? 1 : 0;
  }
  // Changes are rare in kits small enough for this; joint_test.cpp has hundreds.
  EXPECT_GE(feasible, 2);
  EXPECT_GE(both, 1);
}

// No pack is in two places at once, no holder has two packs at once, every change lies in a window.
TEST(Choose, OnePackOnePlace) {
  int seen = 0;
  for (unsigned seed = 100; seed < 125; ++seed) {
    DrawnKit drawn(seed);
    // A charger that is live over the meal, so that packs come back.
    const int mains = static_cast<int>(drawn.kit.day.supplies.size());
    drawn.kit.day.supplies.push_back({.name = "charger"});
    for (day::Period& period : drawn.kit.day.periods)
      period.supply_live.push_back(period.from_s >= 2.9 * kHour_s ? 1 : 0);
    day::Holder bay{.name = "bay", .accepts = {"any"}, .port = drawn.kit.port("bay")};
    bay.charger_supply = mains;
    bay.charge_a = 2.0;
    drawn.kit.day.holders.push_back(bay);
    Options options = options_of(only_load(0.05), drawn.grams.size());
    options.look_for_additions = false;
    const Choice choice = choose(drawn.kit.day, options);
    if (choice.assignments.empty()) continue;
    ++seen;
    struct Span {
      int pack, holder;
      double from_s, until_s;
    };
    std::vector<Span> spans;
    for (const Assignment& assignment : choice.assignments) {
      for (const PackTurn& turn : assignment.turns)
        spans.push_back({turn.pack, assignment.holder, turn.in_s, turn.out_s});
      for (std::size_t t = 1; t < assignment.turns.size(); ++t) {
        const double in_s = assignment.turns[t].in_s;
        bool reachable = false;
        for (const day::Span& window : day::windows(drawn.kit.day, 0, choice.end_s)) {
          reachable = reachable || (in_s >= window.from_s && in_s + 20.0 <= window.until_s);
        }
        EXPECT_TRUE(reachable) << seed;
        EXPECT_GE(assignment.turns[t].last_safe_s, in_s);
      }
    }
    for (const Stay& stay : choice.charging) spans.push_back({stay.pack, stay.bay, stay.from_s, stay.until_s});
    for (std::size_t a = 0; a < spans.size(); ++a) {
      for (std::size_t b = 0; b < a; ++b) {
        const bool overlap = spans[a].from_s < spans[b].until_s && spans[b].from_s < spans[a].until_s;
        EXPECT_FALSE(overlap && (spans[a].pack == spans[b].pack || spans[a].holder == spans[b].holder)) << seed;
      }
    }
  }
  EXPECT_GT(seen, 5);
}

// The chosen day, simulated by the odds on their own days, comes to the share that was stated.
TEST(Choose, TheStatedShareIsThatOfTheOdds) {
  for (unsigned seed = 200; seed < 212; ++seed) {
    DrawnKit drawn(seed);
    Options options = options_of(odds::Spread{}, drawn.grams.size());
    options.look_for_additions = false;
    options.fresh_days = 1500;
    const Choice choice = choose(drawn.kit.day, options);
    if (choice.assignments.empty()) continue;
    odds::OddsOptions again = options.odds;
    again.seed = options.odds.seed + 1;
    again.days = 1500;
    EXPECT_DOUBLE_EQ(odds::odds(choice.scenario, again).probability, choice.probability) << seed;
  }
}

// A second pack of any size added to a kit never costs a change, a pack or a gram more.
TEST(Choose, AnotherPackNeverMakesItWorse) {
  for (unsigned seed = 300; seed < 320; ++seed) {
    DrawnKit drawn(seed);
    Options options = options_of(only_load(0.05), drawn.grams.size());
    options.look_for_additions = false;
    for (std::size_t p = 0; p < drawn.grams.size(); ++p) options.costs[p].grams = drawn.grams[p];
    const Choice before = choose(drawn.kit.day, options);
    drawn.kit.pack(straight_pack({.capacity_ah = 2.5}));
    options.costs.push_back({.grams = 250});
    const Choice after = choose(drawn.kit.day, options);
    if (before.assignments.empty() || before.raised + after.raised > 0) continue;
    ASSERT_FALSE(after.assignments.empty()) << seed;
    EXPECT_LE(std::vector<std::int64_t>(after.cost.part.begin(), after.cost.part.begin() + 3),
              std::vector<std::int64_t>(before.cost.part.begin(), before.cost.part.begin() + 3))
        << seed;
  }
}

}  // namespace
}  // namespace tillwrap::choose
