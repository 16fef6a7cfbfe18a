// Numbers written the way the user asked for in [settings]: clock, temperature, weight, currency. What has no setting
// (volts, watts, lengths of time) is in words.hpp. JSON and CSV use the default settings whatever the day file says.
#pragma once

#include <string>

#include "kit/inventory.hpp"

namespace tillwrap::app {

// A sum of prices: what the user wrote, in the user's currency, and the catalogue's guesses, in USD. Kept apart
// because nothing here knows an exchange rate.
struct Money {
  double own = 0.0;
  double guess_usd = 0.0;
  bool has_own = false;
  bool has_guess = false;

  static Money of(double amount, bool own_price);
  static Money of(const kit::PackItem& pack) { return of(pack.price, pack.own_price); }
  // To put sums in order and no more: one of the user's currency counts as a dollar.
  [[nodiscard]] double rough() const { return own + guess_usd; }
  Money& operator+=(const Money& other);
  friend Money operator+(Money a, const Money& b) { return a += b; }
  friend Money operator*(double times, Money money);
  friend bool operator==(const Money&, const Money&) = default;
};

class Wording {
 public:
  Wording() = default;
  explicit Wording(kit::Settings settings) : settings_(std::move(settings)) {}

  [[nodiscard]] const kit::Settings& settings() const { return settings_; }

  [[nodiscard]] std::string clock(double at_s) const;  // "07:10", "01:10 +1" the next day; "7:10 am", "1:10 am +1"
  // Without the day's number and as wide as hands_columns(): for a table whose lines are in the order of time.
  [[nodiscard]] std::string hands(double at_s) const;
  [[nodiscard]] std::size_t hands_columns() const { return settings_.twelve_hours ? 8 : 5; }
  [[nodiscard]] std::size_t clock_columns() const { return hands_columns() + 3; }
  [[nodiscard]] std::string hour(double at_s) const;  // "07", "7 am": a tick of a scale

  [[nodiscard]] std::string temperature(double temperature_k) const;            // "−6 °C", "21 °F"
  [[nodiscard]] std::string temperature_difference(double difference_k) const;  // "3 °C", "5 °F"
  [[nodiscard]] std::string weight(double mass_kg) const;                       // "240 g", "1.2 kg"; "8.5 oz", "2.6 lb"

  // "45 EUR"; a guess is "about 120 USD"; both "45 EUR and about 120 USD", added up where the currency is USD.
  [[nodiscard]] std::string money(const Money& sum) const;
  // "\"About\" prices are the catalogue's rough guess of 2026 in USD, not a shop's." with the year of `checked`
  // (ISO 8601) of the entries they came from.
  [[nodiscard]] std::string guess_note(const std::string& checked) const;

 private:
  kit::Settings settings_;
};

}  // namespace tillwrap::app
