// The user's clock, temperature, weight and currency.
#include "app/wording.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "app/words.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {
namespace {

constexpr double kHour_s = 3600.0;

const Wording kPlain;
const Wording kOther(kit::Settings{.twelve_hours = true, .fahrenheit = true, .pounds = true, .currency = "EUR"});

// 12:00 am is midnight and 12:00 pm noon: usual in the USA (common practice).
TEST(Wording, TwelveHourClock) {
  EXPECT_EQ(kOther.clock(0.0), "12:00 am");
  EXPECT_EQ(kOther.clock(60.0), "12:01 am");
  EXPECT_EQ(kOther.clock(1 * kHour_s), "1:00 am");
  EXPECT_EQ(kOther.clock(12 * kHour_s - 1), "11:59 am");
  EXPECT_EQ(kOther.clock(12 * kHour_s), "12:00 pm");
  EXPECT_EQ(kOther.clock(13 * kHour_s), "1:00 pm");
  EXPECT_EQ(kOther.clock(24 * kHour_s - 1), "11:59 pm");
  EXPECT_EQ(kOther.clock(24 * kHour_s), "12:00 am +1");
  EXPECT_EQ(kOther.clock(36 * kHour_s), "12:00 pm +1");
  EXPECT_EQ(kOther.clock(49 * kHour_s), "1:00 am +2");
  EXPECT_EQ(kOther.hands(7 * kHour_s), " 7:00 am");
  EXPECT_EQ(kOther.hands(31 * kHour_s), " 7:00 am");
  EXPECT_EQ(kOther.hour(12 * kHour_s), "12 pm");
}

TEST(Wording, TwentyFourHourClock) {
  EXPECT_EQ(kPlain.clock(25.5 * kHour_s), "01:30 +1");
  EXPECT_EQ(kPlain.hands(25.5 * kHour_s), "01:30");
  EXPECT_EQ(kPlain.hour(31 * kHour_s), "07");
}

// What is printed can be typed in again: the day-file reader takes it for the same minute.
RC_GTEST_PROP(Wording, ClockReadsBack, ()) {
  const int minute = *rc::gen::inRange(0, 24 * 60);
  for (const Wording& wording : {kPlain, kOther}) {
    const double back_s = decode::parse_quantity(wording.clock(60.0 * minute), decode::Dimension::clock);
    RC_ASSERT(std::fabs(back_s - 60.0 * minute) < 0.5);
    RC_ASSERT(columns(wording.hands(60.0 * minute)) == wording.hands_columns());
  }
}

// °F = °C x 9/5 + 32: the fixed points of the scales, and −40 where both agree.
TEST(Wording, Fahrenheit) {
  EXPECT_EQ(kOther.temperature(273.15), "32 °F");
  EXPECT_EQ(kOther.temperature(373.15), "212 °F");
  EXPECT_EQ(kOther.temperature(273.15 - 40.0), "−40 °F");
  EXPECT_EQ(kOther.temperature(273.15 + 37.0), "99 °F");  // 98.6
  EXPECT_EQ(kOther.temperature(273.15 - 6.0), "21 °F");   // 21.2
  EXPECT_EQ(kOther.temperature(273.15 - 17.9), "0 °F");   // −0.22: no minus before nothing
  EXPECT_EQ(kOther.temperature(273.15 - 18.1), "−1 °F");  // −0.58
  EXPECT_EQ(kOther.temperature_difference(3.0), "5 °F");  // 5.4: no offset on a difference
  EXPECT_EQ(kPlain.temperature(273.15 - 6.0), "−6 °C");
  EXPECT_EQ(kPlain.temperature_difference(3.0), "3 °C");
}

// 1 lb = 0.45359237 kg (exact by the agreement of 1959), 16 oz.
TEST(Wording, Weight) {
  EXPECT_EQ(kOther.weight(0.45359237), "1.0 lb");
  EXPECT_EQ(kOther.weight(10.0), "22.0 lb");
  EXPECT_EQ(kOther.weight(0.45359237 / 2.0), "8.0 oz");
  EXPECT_EQ(kOther.weight(0.0235), "0.8 oz");  // an AA
  EXPECT_EQ(kPlain.weight(0.0235), "24 g");
  EXPECT_EQ(kPlain.weight(0.9996), "1.0 kg");
  EXPECT_EQ(kPlain.weight(0.999), "999 g");
  EXPECT_EQ(kPlain.weight(2.64), "2.6 kg");
}

TEST(Wording, MoneyKeepsGuessesApart) {
  const Money own = Money::of(45.0, true);
  const Money guess = Money::of(120.4, false);
  EXPECT_EQ(kOther.money(own), "45 EUR");
  EXPECT_EQ(kOther.money(Money::of(2.5, true)), "2.50 EUR");
  EXPECT_EQ(kOther.money(guess), "about 120 USD");
  EXPECT_EQ(kOther.money(Money::of(2.4, false)), "about 2.40 USD");
  EXPECT_EQ(kOther.money(own + guess), "45 EUR and about 120 USD");
  EXPECT_EQ(kPlain.money(own + guess), "about 165 USD");  // one currency: one sum
  EXPECT_EQ(kPlain.money(own), "45 USD");
  EXPECT_EQ(kOther.money(2.0 * own), "90 EUR");
  EXPECT_EQ(kOther.money({}), "0 EUR");
  EXPECT_NE(kOther.guess_note("2026-11-25").find("guess of 2026 in USD"), std::string::npos);
}

}  // namespace
}  // namespace tillwrap::app
