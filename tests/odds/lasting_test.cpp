// Days left out because worse days lasted: never one that would have ended sooner, as computing every day shows.
#include "odds/lasting.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "catalogue/catalogue.hpp"
#include "decode/node.hpp"
#include "odds/replay.hpp"

namespace tillwrap::test {
namespace {

app::DayFile example(const std::string& name) {
  std::ifstream in(std::string(TILLWRAP_SOURCE_DIR) + "/" + name);
  std::ostringstream text;
  text << in.rdbuf();
  app::DayFile file = app::read_day(decode::read_toml(text.str(), name), catalogue::builtin());
  app::apply_measured(file);
  return file;
}

// Whether a cell's worst corner lasts is computed by the day at hand in closed form here.
TEST(Lasting, AnswersOnlyFromWorseDays) {
  odds::Lasting lasting;
  int computed = 0;
  const auto corner = [&](const odds::Lasting::Badness& worst, double to_s) {
    ++computed;
    return std::min(to_s, 10000.0 - 1000.0 * (worst[odds::kLoad] + worst[odds::kCapacity]));
  };
  // 4.5 + 4.5 standard deviations leave 1,000 s: nothing else is asked.
  EXPECT_TRUE(lasting.lasts({0.1, 0.1, 0.0, 0.5, 0.0, 0.0}, 900.0, 1, corner));
  EXPECT_EQ(computed, 1);
  EXPECT_TRUE(lasting.lasts({2.0, 1.0, 0.0, 0.5, 0.0, 0.0}, 950.0, 1, corner));
  EXPECT_EQ(computed, 1);
  // Never claimed beyond what the day at hand has, whatever was computed before.
  for (int k = 0; k < 4000; ++k) {
    const double load = -1.0 + 0.001 * k;
    const double capacity = std::fmod(0.37 * k, 3.0) - 0.5;
    const double has_s = 10000.0 - 1000.0 * (load + capacity);
    EXPECT_FALSE(lasting.lasts({load, capacity, 0.2, 0.1, 0.3, 0.5}, has_s + 1.0, 1, corner)) << k;
  }
  // Beyond the last edge nothing is known.
  EXPECT_FALSE(lasting.lasts({5.0, 0.0, 0.0, 0.0, 0.0, 0.0}, 1.0, 1, corner));
}

// Of a bag both sides are asked, and the worse one counts.
TEST(Lasting, LooksAtBothSidesOfTheBag) {
  odds::Lasting lasting;
  const auto corner = [](const odds::Lasting::Badness& worst, double to_s) {
    return std::min(to_s, worst[odds::kBag] < 0.0 ? 100.0 : 500.0);
  };
  EXPECT_FALSE(lasting.lasts({}, 200.0, 2, corner));
  EXPECT_TRUE(lasting.lasts({}, 90.0, 2, corner));
  odds::Lasting without;
  EXPECT_TRUE(without.lasts({}, 200.0, 1, corner));
}

// Every part of the example days on 300 drawn days: asked a minute past its loss the answer is never "it lasts",
// however many worse days are known by then.
TEST(Lasting, NeverClaimsMoreThanTheDayItselfHas) {
  for (const char* name : {"examples/saltmarsh-ferry.toml", "examples/cinema-plate.toml", "examples/news-bag.toml",
                           "examples/aa-only.toml", "bench/bench-day.toml"}) {
    const app::DayFile file = example(name);
    odds::Replay replay(file.scenario, {.spread = file.spread});
    int asked = 0;
    for (odds::Part& part : replay.parts()) {
      for (std::uint32_t day = 0; day < 300; ++day) {
        const odds::Luck luck = replay.draw().luck_of(day);
        const double lost_s = replay.first_loss_s(part, luck, replay.until_s());
        const double beyond_s = lost_s + 60.0;
        if (beyond_s >= replay.until_s()) continue;
        ++asked;
        EXPECT_LT(replay.first_loss_s(part, luck, beyond_s), beyond_s) << name << " day " << day;
      }
    }
    EXPECT_GT(asked, 100) << name;
  }
}

}  // namespace
}  // namespace tillwrap::test
