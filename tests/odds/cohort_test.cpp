// Days left out because worse days lasted: never one that would have ended sooner, as computing every day shows.
#include "odds/cohort.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <random>
#include <sstream>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "catalogue/catalogue.hpp"
#include "decode/node.hpp"
#include "odds/replay.hpp"

namespace tillwrap::test {
namespace {

using odds::Asked;
using odds::Badness;

app::DayFile example(const std::string& name) {
  std::ifstream in(std::string(TILLWRAP_SOURCE_DIR) + "/" + name);
  std::ostringstream text;
  text << in.rdbuf();
  app::DayFile file = app::read_day(decode::read_toml(text.str(), name), catalogue::builtin());
  app::apply_measured(file);
  return file;
}

std::vector<Asked> drawn(int count, double until_s) {
  std::mt19937 random(7);
  std::normal_distribution<double> sigma;
  std::vector<Asked> days(static_cast<std::size_t>(count));
  for (Asked& day : days) {
    for (double& one : day.badness) one = sigma(random);
    day.badness[odds::kStartCharge] = std::fabs(day.badness[odds::kStartCharge]);
    day.until_s = until_s;
  }
  return days;
}

// A pack that dies of cold, of load, or hot in a closed bag: in closed form.
double lasts_s(const Badness& day) {
  const double plain_s = 20000.0 - 1500.0 * (day[odds::kLoad] + day[odds::kCapacity]) - 500.0 * day[odds::kAir];
  const double warmth = 0.5 * day[odds::kLoad] - day[odds::kAir] - day[odds::kBag];
  return warmth > 3.5 ? 5000.0 : plain_s;
}

TEST(Cohort, SettlesNoDayThatEndsSooner) {
  for (const double until_s : {8000.0, 14000.0, 18000.0, 22000.0}) {
    const std::vector<Asked> days = drawn(2000, until_s);
    int computed = 0;
    const std::vector<std::size_t> left =
        odds::Lasted().unsettled(days, 2, [&](const Badness& worst, double to_s, bool) {
          ++computed;
          return std::min(to_s, lasts_s(worst));
        });
    std::size_t ended = 0;
    for (std::size_t k = 0; k < days.size(); ++k) {
      if (lasts_s(days[k].badness) >= until_s) continue;
      ++ended;
      EXPECT_TRUE(std::binary_search(left.begin(), left.end(), k)) << k << " of those asked to " << until_s;
    }
    EXPECT_GT(ended, 5U);
    // Far from where the days end nearly all are settled by few.
    if (until_s == 8000.0) {
      EXPECT_LT(static_cast<double>(left.size()) + computed, 0.5 * 2000.0);
    }
  }
}

TEST(Cohort, OneCornerSettlesWhatLastsByFar) {
  int computed = 0;
  const auto left = odds::Lasted().unsettled(drawn(500, 1000.0), 1, [&](const Badness&, double to_s, bool) {
    ++computed;
    return to_s;
  });
  EXPECT_TRUE(left.empty());
  EXPECT_EQ(computed, 2);  // the coldest and the warmest
  EXPECT_TRUE(odds::Lasted().unsettled({}, 2, [](const Badness&, double to_s, bool) { return to_s; }).empty());
}

TEST(Cohort, LooksAtBothEndsOfTheBagAndTheAir) {
  for (const odds::Dimension of : {odds::kBag, odds::kAir}) {
    for (const double sign : {1.0, -1.0}) {
      const auto corner = [&](const Badness& worst, double to_s, bool) { return sign * worst[of] > 1.0 ? 0.0 : to_s; };
      const std::vector<Asked> days = drawn(400, 1000.0);
      const auto left = odds::Lasted().unsettled(days, 2, corner);
      for (std::size_t k = 0; k < days.size(); ++k) {
        if (sign * days[k].badness[of] > 1.0) {
          EXPECT_TRUE(std::binary_search(left.begin(), left.end(), k));
        }
      }
    }
  }
}

// The losses of 600 drawn days of each example, every part told in one go, against each day followed by itself. Twice
// the doubt of load and air, so that packs die of load, of cold and of warmth in a closed bag.
TEST(Cohort, ComesToTheLossesOfFollowingEveryDay) {
  for (const char* name : {"examples/saltmarsh-ferry.toml", "examples/cinema-plate.toml", "examples/news-bag.toml",
                           "examples/aa-only.toml", "bench/bench-day.toml", "bench/choose-hard.toml"}) {
    const app::DayFile file = example(name);
    odds::Spread spread = file.spread;
    spread.load *= 2.0;
    spread.air_k *= 2.0;
    odds::Replay together(file.scenario, {.spread = spread});
    odds::Replay alone(file.scenario, {.spread = spread});
    std::vector<odds::Luck> days;
    for (std::uint32_t day = 0; day < 600; ++day) days.push_back(together.draw().luck_of(day));
    std::vector<double> of_all(days.size(), together.until_s()), of_each = of_all;
    std::size_t settled = 0;
    for (std::size_t p = 0; p < together.parts().size(); ++p) {
      settled += days.size() - together.may_lose(together.parts()[p], days, of_all).size();
      together.first_losses_s(together.parts()[p], days, of_all);
      for (std::size_t k = 0; k < days.size(); ++k) {
        alone.apply(alone.parts()[p], days[k]);
        of_each[k] = alone.planned_loss_s(alone.parts()[p], of_each[k]);
        EXPECT_EQ(of_all[k], of_each[k]) << name << " day " << k << " part " << p;
      }
    }
    if (together.parts().size() > 1) {
      EXPECT_GT(settled, days.size() / 4) << name;
    }
  }
}

}  // namespace
}  // namespace tillwrap::test
