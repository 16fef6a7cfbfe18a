// A set of days.
#pragma once

#include <bit>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace tillwrap::choose {

class DayBits {
 public:
  DayBits() = default;
  explicit DayBits(std::size_t days) : words_((days + 63) / 64, 0) {}

  void add(std::size_t day) { words_[day / 64] |= std::uint64_t{1} << (day % 64); }
  [[nodiscard]] bool has(std::size_t day) const { return (words_[day / 64] >> (day % 64) & 1U) != 0; }
  void join(const DayBits& other) {
    for (std::size_t k = 0; k < words_.size(); ++k) words_[k] |= other.words_[k];
  }
  [[nodiscard]] int count() const {
    int sum = 0;
    for (const std::uint64_t word : words_) sum += std::popcount(word);
    return sum;
  }
  [[nodiscard]] bool within(const DayBits& other) const {
    for (std::size_t k = 0; k < words_.size(); ++k) {
      if ((words_[k] & ~other.words_[k]) != 0) return false;
    }
    return true;
  }
  friend bool operator==(const DayBits&, const DayBits&) = default;

 private:
  std::vector<std::uint64_t> words_;
};

}  // namespace tillwrap::choose
