#include "app/wording.hpp"

#include <fmt/format.h>

#include <cmath>

#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr double kPound_kg = 0.45359237;  // exact, international yard and pound agreement of 1959
constexpr double kOunces = 16.0;          // a pound

struct Hands {
  long day, hour, minute;
};

// Seconds are cut, not rounded: what is flat at 15:40:59 is not safe to 15:41. 1e-6 min: a minute lost to rounding.
Hands hands_of(double at_s) {
  const auto minutes = static_cast<long>(std::floor(at_s / 60.0 + 1e-6));
  const long of_day = ((minutes % 1440) + 1440) % 1440;
  return {minutes >= 0 ? minutes / 1440 : -1, of_day / 60, of_day % 60};
}

// 12:00 am is midnight, 12:00 pm is noon.
long twelve(long hour) { return hour % 12 == 0 ? 12 : hour % 12; }
const char* half(long hour) { return hour < 12 ? "am" : "pm"; }

std::string degrees(double value, const char* unit) {
  const long whole = std::lround(value);
  return fmt::format("{}{} {}", whole < 0 ? "\u2212" : "", std::labs(whole), unit);
}

// Small sums to the cent, large ones whole.
std::string amount(double value) {
  const double cents = std::round(100.0 * value) / 100.0;
  return cents < 100.0 && cents != std::floor(cents) ? fmt::format("{:.2f}", cents) : fmt::format("{:.0f}", cents);
}

std::string guess_amount(double value) {
  return value < 10.0 ? fmt::format("{:.2f}", value) : fmt::format("{:.0f}", value);
}

}  // namespace

Money Money::of(double amount, bool own_price) {
  return own_price ? Money{.own = amount, .has_own = true} : Money{.guess_usd = amount, .has_guess = true};
}

Money& Money::operator+=(const Money& other) {
  own += other.own;
  guess_usd += other.guess_usd;
  has_own = has_own || other.has_own;
  has_guess = has_guess || other.has_guess;
  return *this;
}

Money operator*(double times, Money money) {
  money.own *= times;
  money.guess_usd *= times;
  return money;
}

std::string Wording::clock(double at_s) const {
  if (!settings_.twelve_hours) return clock_words(at_s);
  const Hands now = hands_of(at_s);
  return fmt::format("{}:{:02} {}{}", twelve(now.hour), now.minute, half(now.hour),
                     now.day > 0 ? fmt::format(" +{}", now.day) : "");
}

std::string Wording::hands(double at_s) const {
  const Hands now = hands_of(at_s);
  if (!settings_.twelve_hours) return fmt::format("{:02}:{:02}", now.hour, now.minute);
  return fmt::format("{:2}:{:02} {}", twelve(now.hour), now.minute, half(now.hour));
}

std::string Wording::hour(double at_s) const {
  const Hands now = hands_of(at_s);
  if (!settings_.twelve_hours) return fmt::format("{:02}", now.hour);
  return fmt::format("{} {}", twelve(now.hour), half(now.hour));
}

std::string Wording::temperature(double temperature_k) const {
  if (!settings_.fahrenheit) return celsius_words(temperature_k);
  return degrees((temperature_k - 273.15) * 1.8 + 32.0, "\u00b0F");
}

std::string Wording::temperature_difference(double difference_k) const {
  return settings_.fahrenheit ? degrees(difference_k * 1.8, "\u00b0F") : degrees(difference_k, "\u00b0C");
}

std::string Wording::weight(double mass_kg) const {
  if (settings_.pounds) {
    const double pounds = mass_kg / kPound_kg;
    return pounds < 0.995 ? fmt::format("{:.1f} oz", pounds * kOunces) : fmt::format("{:.1f} lb", pounds);
  }
  return mass_kg < 0.9995 ? fmt::format("{:.0f} g", 1000.0 * mass_kg) : fmt::format("{:.1f} kg", mass_kg);
}

std::string Wording::money(const Money& sum) const {
  if (!sum.has_guess) return fmt::format("{} {}", amount(sum.own), settings_.currency);
  if (!sum.has_own) return fmt::format("about {} USD", guess_amount(sum.guess_usd));
  if (settings_.currency == "USD") return fmt::format("about {} USD", guess_amount(sum.own + sum.guess_usd));
  return fmt::format("{} {} and about {} USD", amount(sum.own), settings_.currency, guess_amount(sum.guess_usd));
}

std::string Wording::guess_note(const std::string& checked) const {
  return fmt::format(
      "\"About\" prices are the catalogue's rough guess of {} in USD, not a shop's; give your own with "
      "price or [prices] in the day file.",
      checked.substr(0, 4));
}

}  // namespace tillwrap::app
