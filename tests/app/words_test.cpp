// How times, amounts and lines are written for people.
#include "app/words.hpp"

#include <gtest/gtest.h>

#include "app/forecast_report.hpp"

namespace tillwrap::app {
namespace {

constexpr double kHour_s = 3600.0;

TEST(Words, ClockTimesPassMidnight) {
  EXPECT_EQ(clock_words(7 * kHour_s + 10 * 60), "07:10");
  EXPECT_EQ(clock_words(25.5 * kHour_s), "01:30 +1");
  EXPECT_EQ(clock_words(49 * kHour_s), "01:00 +2");
  EXPECT_EQ(clock_words(0.0), "00:00");
  // Seconds are cut, not rounded: a pack flat at 15:40:59 is not safe to 15:41.
  EXPECT_EQ(clock_words(15 * kHour_s + 40 * 60 + 59), "15:40");
  EXPECT_EQ(clock_words(24 * kHour_s - 1e-9), "00:00 +1");
}

TEST(Words, Lengths) {
  EXPECT_EQ(length_words(0.0), "0 s");
  EXPECT_EQ(length_words(89.4), "89 s");
  EXPECT_EQ(length_words(90.0), "2 min");
  EXPECT_EQ(length_words(59 * 60.0), "59 min");
  EXPECT_EQ(length_words(3600.0), "1 h");
  EXPECT_EQ(length_words(3660.0), "1 h 01 min");
  EXPECT_EQ(length_words(-3660.0), "1 h 01 min");
  EXPECT_EQ(length_words(3599.9), "1 h");
}

TEST(Words, Amounts) {
  EXPECT_EQ(celsius_words(273.15), "0 °C");
  EXPECT_EQ(celsius_words(273.15 - 6.0), "−6 °C");
  EXPECT_EQ(celsius_words(273.15 - 0.4), "0 °C");
  EXPECT_EQ(percent_words(0.294), "29 %");
  EXPECT_EQ(percent_words(1.002), "100 %");
  EXPECT_EQ(percent_words(-1e-9), "0 %");
  EXPECT_EQ(volts_words(14.404), "14.40 V");
  EXPECT_EQ(wh_words(3600.0 * 97.92), "97.9 Wh");
}

TEST(Words, PadsAndCutsByCharactersNotBytes) {
  EXPECT_EQ(columns("Überstunden °C"), 14U);
  EXPECT_EQ(padded("°C", 4), "°C  ");
  EXPECT_EQ(padded("Überstunden", 6), "Übers…");
  EXPECT_EQ(padded("exact", 5), "exact");
  EXPECT_EQ(right_padded_left("°C", 4), "  °C");
  EXPECT_EQ(right_padded_left("toolong", 4), "toolong");
}

TEST(Words, WrapsByWords) {
  EXPECT_EQ(wrapped("one two three", 7, "  "), "one two\n  three");
  EXPECT_EQ(wrapped("one", 2, "  "), "one");  // a single long word is not cut
  EXPECT_EQ(wrapped("", 10, ""), "");
  // A number stays with its unit.
  EXPECT_EQ(wrapped("it gives 12.0 V now", 13, ""), "it gives\n12.0 V now");
  for (const std::size_t width : {20U, 40U, 80U}) {
    const std::string text =
        wrapped("set 2 (37 % left, 6.42 V, 24 °C) no longer holds its volts up. Its input is at its cut-off of 6.20 V.",
                width, "  ");
    std::size_t start = 0;
    while (start < text.size()) {
      const std::size_t end = std::min(text.find('\n', start), text.size());
      EXPECT_LE(columns(std::string_view(text).substr(start, end - start)), width) << text;
      start = end + 1;
    }
  }
}

TEST(Words, EveryCauseHasAKeyOfItsOwn) {
  using forecast::Cause;
  std::vector<std::string_view> seen;
  for (int c = static_cast<int>(Cause::low_volts); c <= static_cast<int>(Cause::not_connected); ++c) {
    const std::string_view key = cause_key(static_cast<Cause>(c));
    EXPECT_NE(key, "none");
    EXPECT_EQ(std::count(seen.begin(), seen.end(), key), 0) << key;
    seen.push_back(key);
  }
}

}  // namespace
}  // namespace tillwrap::app
