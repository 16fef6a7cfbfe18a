// The units each dimension accepts, and plain text handling shared by the quantity parsers.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "decode/units.hpp"

namespace tillwrap::decode {

// si = (written + offset) * factor
struct Unit {
  std::string_view name;
  double factor = 1.0;
  double offset = 0.0;
};

struct DimensionUnits {
  Dimension dimension;
  std::string_view word;       // "power"
  std::string_view allowed;    // "W, mW, kW"
  std::vector<Unit> units;     // the first is the plain one
  std::vector<Unit> suffixes;  // at the end of keys
};

const std::vector<DimensionUnits>& all_units();
const DimensionUnits& units_of(Dimension dimension);

// The writing of people brought to plain ASCII: trimmed, "−" to "-", "Ω" to "ohm", "°" to "deg", "µ" to "u",
// "²" to "2", "×" to "x", narrow and fixed spaces to a space.
std::string plain_text(std::string_view text);
std::string_view trimmed(std::string_view text);

// A decimal number at the start of `text`, which is cut by it; nothing if there is none. Throws QuantityError for a
// decimal comma and for what overflows.
std::optional<double> take_number(std::string_view& text);

// A number and its unit in one of the dimensions given; throws QuantityError with all of them as the hint.
struct Measured {
  double si = 0.0;
  Dimension dimension = Dimension::factor;
  double written = 0.0;
};
Measured measure(std::string_view plain, const std::vector<Dimension>& wanted);

// Splits "1.4 A at 14.6 V" at " at " and "@".
std::vector<std::string> split_at(std::string_view plain);

}  // namespace tillwrap::decode
