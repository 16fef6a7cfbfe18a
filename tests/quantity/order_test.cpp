// Sorting, against the standard library's stable sort.
#include "quantity/order.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <deque>
#include <random>
#include <string>
#include <vector>

namespace tillwrap {
namespace {

struct Thing {
  int key = 0;
  std::string name;
  friend bool operator==(const Thing&, const Thing&) = default;
};

bool by_key(const Thing& a, const Thing& b) { return a.key < b.key; }

TEST(Order, AsTheStandardStableSort) {
  std::mt19937 random(20261130);
  for (int round = 0; round < 200; ++round) {
    std::vector<Thing> ours;
    const auto size = static_cast<int>(random() % 60);
    for (int k = 0; k < size; ++k)
      ours.push_back(
          {static_cast<int>(random() % 7), "number " + std::to_string(k) + ", long enough to be kept apart"});
    std::vector<Thing> theirs = ours;
    std::stable_sort(theirs.begin(), theirs.end(), by_key);
    sort_stably(ours, by_key);
    EXPECT_EQ(ours, theirs);
  }
}

TEST(Order, IteratorsStayGood) {
  std::vector<int> numbers{5, 3, 4, 1, 2};
  const auto middle = numbers.begin() + 2;
  sort_stably(numbers);
  EXPECT_EQ(*middle, 3);
}

TEST(Order, OtherContainersAndNothingAtAll) {
  std::deque<int> numbers{2, 1};
  sort_stably(numbers);
  EXPECT_EQ(numbers, (std::deque<int>{1, 2}));
  std::vector<int> none;
  sort_stably(none);
  EXPECT_TRUE(none.empty());
}

}  // namespace
}  // namespace tillwrap
