#include "decode/unit_table.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>

namespace tillwrap::decode {

const std::vector<DimensionUnits>& all_units() {
  using D = Dimension;
  constexpr double kInch = 0.0254;       // m, exact
  constexpr double kPound = 0.45359237;  // kg, exact
  static const std::vector<DimensionUnits> table = {
      {D::power,
       "power",
       "W, mW, kW",
       {{"W"}, {"mW", 1e-3}, {"kW", 1e3}, {"w"}, {"watt"}, {"watts"}},
       {{"w"}, {"mw", 1e-3}, {"kw", 1e3}}},
      {D::current,
       "current",
       "A, mA",
       {{"A"}, {"mA", 1e-3}, {"a"}, {"ma", 1e-3}, {"uA", 1e-6}, {"amp"}, {"amps"}},
       {{"a"}, {"ma", 1e-3}}},
      {D::voltage, "voltage", "V, mV", {{"V"}, {"mV", 1e-3}, {"v"}, {"volt"}, {"volts"}}, {{"v"}, {"mv", 1e-3}}},
      {D::resistance,
       "resistance",
       "ohm (Ω), mohm (mΩ), kohm (kΩ)",
       {{"ohm"}, {"mohm", 1e-3}, {"kohm", 1e3}, {"ohms"}, {"Ohm"}, {"mOhm", 1e-3}, {"kOhm", 1e3}, {"milliohm", 1e-3}},
       {{"ohm"}, {"mohm", 1e-3}, {"kohm", 1e3}}},
      {D::charge,
       "charge",
       "Ah, mAh",
       {{"Ah", 3600.0}, {"mAh", 3.6}, {"ah", 3600.0}, {"mah", 3.6}, {"As"}},
       {{"ah", 3600.0}, {"mah", 3.6}, {"as"}}},
      {D::energy,
       "energy",
       "Wh, mWh, kWh, J, kJ",
       {{"Wh", 3600.0}, {"mWh", 3.6}, {"kWh", 3.6e6}, {"wh", 3600.0}, {"J"}, {"kJ", 1e3}},
       {{"wh", 3600.0}, {"mwh", 3.6}, {"kwh", 3.6e6}, {"j"}}},
      {D::temperature,
       "temperature",
       "°C, °F, K",
       {{"degC", 1.0, 273.15},
        {"degF", 5.0 / 9.0, 459.67},
        {"K"},
        {"C", 1.0, 273.15},
        {"F", 5.0 / 9.0, 459.67},
        {"c", 1.0, 273.15},
        {"f", 5.0 / 9.0, 459.67},
        {"deg C", 1.0, 273.15},
        {"deg F", 5.0 / 9.0, 459.67}},
       {{"c", 1.0, 273.15}, {"f", 5.0 / 9.0, 459.67}, {"k"}}},
      {D::temperature_difference,
       "temperature difference",
       "K, °C, °F",
       {{"K"}, {"degC"}, {"degF", 5.0 / 9.0}, {"C"}, {"F", 5.0 / 9.0}},
       {{"k"}, {"c"}, {"f", 5.0 / 9.0}}},
      {D::length,
       "length",
       "m, cm, mm, ft, in",
       {{"m"},
        {"cm", 1e-2},
        {"mm", 1e-3},
        {"ft", 12.0 * kInch},
        {"in", kInch},
        {"foot", 12.0 * kInch},
        {"feet", 12.0 * kInch},
        {"inch", kInch},
        {"inches", kInch}},
       {{"m"}, {"cm", 1e-2}, {"mm", 1e-3}, {"ft", 12.0 * kInch}, {"in", kInch}}},
      {D::mass,
       "mass",
       "kg, g, lb, oz",
       {{"kg"}, {"g", 1e-3}, {"lb", kPound}, {"oz", kPound / 16.0}, {"lbs", kPound}},
       {{"kg"}, {"g", 1e-3}, {"lb", kPound}, {"oz", kPound / 16.0}}},
      {D::duration,
       "duration",
       "h, min, s, also \"1 h 30 min\"",
       {{"s"},
        {"min", 60.0},
        {"h", 3600.0},
        {"ms", 1e-3},
        {"sec", 1.0},
        {"mins", 60.0},
        {"minutes", 60.0},
        {"minute", 60.0},
        {"hours", 3600.0},
        {"hour", 3600.0},
        {"hr", 3600.0},
        {"d", 86400.0},
        {"days", 86400.0},
        {"day", 86400.0},
        {"seconds"},
        {"second"}},
       {{"s"}, {"min", 60.0}, {"h", 3600.0}, {"ms", 1e-3}}},
      {D::clock, "clock time", "\"07:10\", \"25:30\" (past midnight), \"1:05 pm\"", {}, {{"s"}}},
      {D::fraction,
       "fraction",
       "\"30 %\" or 0.3",
       {{"%", 0.01}, {"percent", 0.01}},
       {{"percent", 0.01}, {"pct", 0.01}}},
      {D::factor, "factor", "a plain number, \"1.9\" or \"1.9 ×\"", {{"x"}}, {}},
      {D::capacitance,
       "capacitance",
       "F, mF, uF (µF), nF",
       {{"F"}, {"mF", 1e-3}, {"uF", 1e-6}, {"nF", 1e-9}},
       {{"f"}, {"mf", 1e-3}, {"uf", 1e-6}}},
      {D::area, "area", "mm², cm²", {{"mm2", 1e-6}, {"mm^2", 1e-6}, {"cm2", 1e-4}, {"m2"}}, {{"mm2", 1e-6}, {"m2"}}},
      {D::conductance_heat,
       "heat conductance",
       "W/K",
       {{"W/K"}, {"mW/K", 1e-3}, {"W/degC"}},
       {{"w_k"}, {"mw_k", 1e-3}}},
      {D::heat_capacity, "heat capacity", "J/K, kJ/K", {{"J/K"}, {"kJ/K", 1e3}, {"J/degC"}}, {{"j_k"}, {"kj_k", 1e3}}},
  };
  return table;
}

const DimensionUnits& units_of(Dimension dimension) {
  for (const DimensionUnits& row : all_units()) {
    if (row.dimension == dimension) return row;
  }
  throw std::logic_error("a dimension without units");
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && std::string_view(" \t\r\n").find(text.front()) != std::string_view::npos)
    text.remove_prefix(1);
  while (!text.empty() && std::string_view(" \t\r\n").find(text.back()) != std::string_view::npos)
    text.remove_suffix(1);
  return text;
}

std::string plain_text(std::string_view text) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 17> kPlain = {{
      {"\xE2\x88\x92", "-"},    // minus sign
      {"\xE2\x80\x93", "-"},    // en dash
      {"\xE2\x80\x91", "-"},    // fixed hyphen
      {"\xC2\xA0", " "},        // fixed space
      {"\xE2\x80\xAF", " "},    // narrow fixed space
      {"\xE2\x80\x89", " "},    // thin space
      {"\xC2\xB5", "u"},        // micro sign
      {"\xCE\xBC", "u"},        // Greek mu
      {"\xCE\xA9", "ohm"},      // Greek omega
      {"\xE2\x84\xA6", "ohm"},  // ohm sign
      {"\xC2\xB0", "deg"},      // degree sign
      {"\xE2\x84\x83", "degC"},
      {"\xE2\x84\x89", "degF"},
      {"\xC2\xB2", "2"},    // superscript two
      {"\xC3\x97", "x"},    // multiplication sign
      {"\xC2\xBA", "deg"},  // masculine ordinal, often typed for the degree sign
      {"\t", " "},
  }};
  std::string out;
  for (std::size_t i = 0; i < text.size();) {
    bool found = false;
    for (const auto& [from, to] : kPlain) {
      if (text.substr(i).starts_with(from)) {
        out += to;
        i += from.size();
        found = true;
        break;
      }
    }
    if (!found) out += text[i++];
  }
  return std::string(trimmed(out));
}

namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

std::size_t digits_from(std::string_view text, std::size_t at) {
  while (at < text.size() && digit(text[at])) ++at;
  return at;
}

}  // namespace

std::optional<double> take_number(std::string_view& text) {
  std::size_t at = 0;
  if (at < text.size() && (text[at] == '-' || text[at] == '+')) ++at;
  const bool minus = at > 0 && text[0] == '-';
  while (at < text.size() && text[at] == ' ') ++at;
  const std::size_t whole = at;
  at = digits_from(text, at);
  bool any = at > whole;
  if (any && at + 1 < text.size() && text[at] == ',' && digit(text[at + 1])) {
    const std::size_t end = digits_from(text, at + 1);
    throw QuantityError("decimal comma in \"" + std::string(text.substr(0, end)) + "\"",
                        "write a point: \"" + std::string(text.substr(0, at)) + "." +
                            std::string(text.substr(at + 1, end - at - 1)) + "\"");
  }
  if (at < text.size() && text[at] == '.') {
    const std::size_t part = at + 1;
    const std::size_t end = digits_from(text, part);
    if (any || end > part) {
      any = any || end > part;
      at = end;
    }
  }
  if (!any) return std::nullopt;
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    std::size_t exponent = at + 1;
    if (exponent < text.size() && (text[exponent] == '-' || text[exponent] == '+')) ++exponent;
    const std::size_t end = digits_from(text, exponent);
    if (end > exponent) at = end;
  }
  double value = 0.0;
  const std::from_chars_result read = std::from_chars(text.data() + whole, text.data() + at, value);
  if (read.ec != std::errc{}) {
    throw QuantityError("\"" + std::string(text.substr(0, std::min<std::size_t>(at, 40))) + "\" is out of range",
                        "write a finite number");
  }
  text.remove_prefix(at);
  return minus ? -value : value;
}

namespace {

std::string_view shortened(std::string_view text) { return text.substr(0, 60); }

// The dimension a unit belongs to, for "length in W".
const DimensionUnits* owner_of(std::string_view unit) {
  for (const DimensionUnits& row : all_units()) {
    for (const Unit& u : row.units) {
      if (u.name == unit) return &row;
    }
  }
  return nullptr;
}

std::string join(const std::vector<Dimension>& wanted, std::string_view DimensionUnits::*part, std::string_view glue) {
  std::string out;
  for (const Dimension d : wanted) {
    if (!out.empty()) out += glue;
    out += units_of(d).*part;
  }
  return out;
}

}  // namespace

Measured measure(std::string_view plain, const std::vector<Dimension>& wanted) {
  const std::string quoted = "\"" + std::string(shortened(plain)) + "\"";
  const std::string word = join(wanted, &DimensionUnits::word, " or ");
  const std::string hint = "allowed: " + join(wanted, &DimensionUnits::allowed, ", ");
  std::string_view rest = plain;
  const auto number = take_number(rest);
  if (!number) throw QuantityError(quoted + " is no " + word, hint);
  const std::string_view unit = trimmed(rest);
  for (const Dimension d : wanted) {
    for (const Unit& u : units_of(d).units) {
      if (u.name == unit) return {(*number + u.offset) * u.factor, d, *number};
    }
  }
  if (unit.empty()) {
    const std::string plain_unit =
        units_of(wanted.front()).units.empty() ? "" : " " + std::string(units_of(wanted.front()).units.front().name);
    throw QuantityError(quoted + " has no unit", "write \"" + std::string(trimmed(plain)) + plain_unit + "\"; " + hint);
  }
  if (const DimensionUnits* owner = owner_of(unit)) {
    const std::string_view vowels = "aeiou";
    const char* article = vowels.find(owner->word.front()) != std::string_view::npos ? " is an " : " is a ";
    throw QuantityError(word + " in " + std::string(unit) + ": " + quoted + article + std::string(owner->word), hint);
  }
  throw QuantityError("unknown unit \"" + std::string(shortened(unit)) + "\" in " + quoted, hint);
}

std::vector<std::string> split_at(std::string_view plain) {
  std::vector<std::string> parts;
  std::string part;
  for (std::size_t i = 0; i < plain.size();) {
    const bool word = plain.substr(i).starts_with(" at ");
    if (word || plain[i] == '@') {
      parts.emplace_back(trimmed(part));
      part.clear();
      i += word ? 4 : 1;
    } else {
      part += plain[i++];
    }
  }
  parts.emplace_back(trimmed(part));
  return parts;
}

}  // namespace tillwrap::decode
