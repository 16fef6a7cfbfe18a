// Quantities as people write them ("14.5 W", "28 °F", "1 h 30 min"), into SI.
#pragma once

#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace tillwrap::decode {

enum class Dimension {
  power,                   // W
  current,                 // A
  voltage,                 // V
  resistance,              // ohm
  charge,                  // A s         "6.8 Ah", "5000 mAh"
  energy,                  // J           "98 Wh"
  temperature,             // K           "-6 °C", "28 °F"
  temperature_difference,  // K           "5 K", "9 °F"
  length,                  // m           "0.5 m", "3 ft"
  mass,                    // kg          "500 g", "1.2 lb"
  duration,                // s           "1 h 30 min", "90 s"
  clock,                   // s after midnight of the day of call: "07:10", "25:30", "1:05 am"
  fraction,                // 0.. as such "30 %", "0.3"
  factor,                  // plain       "1.9", "1.9 ×"
  capacitance,             // F           "4700 uF"
  area,                    // m2          "0.5 mm²"
  conductance_heat,        // W/K
  heat_capacity,           // J/K
};

// "power", "voltage", ... and the accepted units, for messages: "W, mW, kW".
std::string_view dimension_word(Dimension dimension);
std::string_view units_word(Dimension dimension);

// Text that is no such quantity. what() says what is wrong; hint says what is allowed. Carries no place: TableReader
// adds it.
struct QuantityError : std::runtime_error {
  QuantityError(const std::string& wrong, std::string advice) : std::runtime_error(wrong), hint(std::move(advice)) {}
  std::string hint;
};

// The SI value; throws QuantityError.
double parse_quantity(std::string_view text, Dimension dimension);

// The SI value of a bare number under a key that carries its unit ("length_m", "load_w", "rated_ah", "ambient_c"):
// `suffix` without the underscore. Nothing if the suffix is no unit of that dimension.
std::optional<double> from_suffixed(double value, std::string_view suffix, Dimension dimension);
std::vector<std::string_view> suffixes(Dimension dimension);

// What a load takes: "14.5 W" (power), "1.2 A" (current), "10 ohm" (resistance), "1.2 A at 12 V" (power, with the
// amps and volts it came from).
struct Draw {
  enum class Kind { power, current, resistance };
  Kind kind = Kind::power;
  double value = 0.0;             // W, A or ohm
  std::optional<double> amps_a;   // as written
  std::optional<double> volts_v;  // as written
  friend bool operator==(const Draw&, const Draw&) = default;
};
Draw parse_draw(std::string_view text);

// What a meter or gauge showed: any of "1.4 A at 14.6 V", "1.4 A", "22 W", "13.9 V", "22 % at 12:40".
struct Reading {
  std::optional<double> amps_a;
  std::optional<double> volts_v;
  std::optional<double> watts_w;
  std::optional<double> fraction;
  std::optional<double> at_s;  // clock, seconds after midnight
  friend bool operator==(const Reading&, const Reading&) = default;
};
Reading parse_reading(std::string_view text);
// Comma-separated: "100 % at 07:10, 22 % at 12:40".
std::vector<Reading> parse_readings(std::string_view text);

// "AWG 22", "22 AWG", "0.5 mm²", "0.5 mm2".
struct WireSize {
  std::optional<int> awg;  // when written as a gauge
  double area_mm2 = 0.0;   // when written as an area; 0 for a gauge
  friend bool operator==(const WireSize&, const WireSize&) = default;
};
WireSize parse_wire_size(std::string_view text);

// "10s/2min", "15 s / 60 s": on for so long in every period. Seconds.
struct Duty {
  double on_s = 0.0;
  double period_s = 0.0;
  friend bool operator==(const Duty&, const Duty&) = default;
};
Duty parse_duty(std::string_view text);

// A value with its plain unit, for messages: "14.5 W", "07:10", "30 %".
std::string quantity_words(double si, Dimension dimension);
std::string number_words(double value);

// The nearest of `known` to `word` by edit distance, if it is near enough to be what was meant.
std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known);

}  // namespace tillwrap::decode
