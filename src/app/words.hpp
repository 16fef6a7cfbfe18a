// Numbers as a recordist says them. Every value that reaches a person is formatted here.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "app/wording.hpp"
#include "day/scenario.hpp"
#include "forecast/result.hpp"

namespace tillwrap::app {

std::string clock_words(double at_s);                      // "07:10"; next day "01:10 +1"
std::string length_words(double seconds);                  // "1 h 10 min", "45 s"
std::string celsius_words(double temperature_k);           // "−6 °C"
std::string percent_words(double fraction);                // "96 %"
std::string share_words(double share);                     // "97 %", "99.6 %"; "all" and "none" only when it is so
std::string volts_words(double volts);                     // "14.06 V"
std::string wh_words(double joules);                       // "65.7 Wh"
std::string plural(std::int64_t n, std::string_view one);  // "1 pack", "3 packs"

// Columns a terminal needs for UTF-8 text without wide characters, and padding to a width.
std::size_t columns(std::string_view text);
std::string padded(std::string_view text, std::size_t width);  // cut with "…" when longer
std::string right_padded_left(std::string_view text, std::size_t width);
// Words broken over lines of at most `width` columns; every line but the first indented.
std::string wrapped(std::string_view text, std::size_t width, std::string_view indent);

// "C3 is flat (4 % left, 12.0 V, −2 °C)": what took the power away, without the device.
std::string cause_words(const day::Scenario& day, const forecast::CauseNote& why, const Wording& words = {});
// The key used in JSON: "pack_flat".
std::string_view cause_key(forecast::Cause cause);

}  // namespace tillwrap::app
