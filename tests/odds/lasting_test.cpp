// Days left out because worse days lasted: never one that would have ended sooner, as computing every day shows.
#include "odds/lasting.hpp"

#include <gtest/gtest.h>

#include <algorithm>
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

// Asked only whether they reach off, as choose asks on its fresh days: the pieces outside any bag come to the same days
// as when each is followed. Loads twice as uncertain as usual, so that many are lost.
TEST(Lasting, SettlesPiecesOutsideBagsAsFollowingThemDoes) {
  int lost = 0;
  for (const char* name : {"examples/saltmarsh-ferry.toml", "examples/cinema-plate.toml", "bench/choose-easy.toml"}) {
    const app::DayFile file = example(name);
    odds::Spread spread = file.spread;
    spread.load *= 2.0;
    const double off_s = file.scenario.off_s;
    odds::Replay settled(file.scenario, {.spread = spread, .search_beyond_s = 3600.0});
    odds::Replay followed(file.scenario, {.spread = spread, .search_beyond_s = 0.0});  // no day stands for another
    for (odds::Part& part : followed.parts()) {
      if (part.bag_sides == 2) continue;
      const auto same = std::find_if(settled.parts().begin(), settled.parts().end(), [&](const odds::Part& other) {
        return other.piece->devices == part.piece->devices;
      });
      ASSERT_NE(same, settled.parts().end());
      for (std::uint32_t day = 0; day < 2000; ++day) {
        const odds::Luck luck = followed.draw().luck_of(day);
        const bool lasts = followed.first_loss_s(part, luck, off_s) >= off_s;
        ASSERT_EQ(settled.first_loss_s(*same, luck, off_s) >= off_s, lasts) << name << " " << day;
        lost += lasts ? 0 : 1;
      }
    }
  }
  EXPECT_GT(lost, 100);
}

}  // namespace
}  // namespace tillwrap::test
