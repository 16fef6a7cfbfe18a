#include "decode/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "decode/unit_table.hpp"

namespace tillwrap::decode {

std::string_view dimension_word(Dimension dimension) { return units_of(dimension).word; }
std::string_view units_word(Dimension dimension) { return units_of(dimension).allowed; }

namespace {

std::string quoted(std::string_view text) { return "\"" + std::string(text.substr(0, 60)) + "\""; }

// "1 h 30 min", "90 s", "1h30min": parts from large to small units, each once.
double parse_duration(std::string_view plain) {
  const DimensionUnits& row = units_of(Dimension::duration);
  const std::string hint = "allowed: " + std::string(row.allowed);
  if (plain.find(':') != std::string_view::npos) {
    throw QuantityError(quoted(plain) + " is no duration", "write \"1 h 30 min\"; a colon is for clock times");
  }
  double total = 0.0;
  double smallest = 1e300;
  std::string_view rest = plain;
  bool any = false;
  while (!rest.empty()) {
    std::string_view from = rest;
    const auto number = take_number(rest);
    if (!number) throw QuantityError(quoted(plain) + " is no duration", hint);
    rest = trimmed(rest);
    std::size_t length = 0;
    while (length < rest.size() && rest[length] != ' ' && !(rest[length] >= '0' && rest[length] <= '9')) ++length;
    const std::string_view name = rest.substr(0, length);
    const auto unit = std::find_if(row.units.begin(), row.units.end(), [&](const Unit& u) { return u.name == name; });
    if (unit == row.units.end()) {
      if (any || name.empty()) {
        throw QuantityError(quoted(plain) + " is no duration: " + quoted(trimmed(from)) + " has no unit of time", hint);
      }
      return measure(plain, {Dimension::duration}).si;  // says what is wrong with the unit
    }
    if (unit->factor >= smallest || (any && *number < 0.0)) {
      throw QuantityError(quoted(plain) + " is no duration", "write hours before minutes before seconds");
    }
    smallest = unit->factor;
    total += *number * unit->factor;
    any = true;
    rest = trimmed(rest.substr(length));
  }
  if (!any) throw QuantityError("an empty text is no duration", hint);
  return total;
}

// "07:10", "7:10:30", "25:30", "1:05 pm". Up to three days, so that a night past midnight can be written.
double parse_clock(std::string_view plain) {
  const std::string hint = "allowed: " + std::string(units_word(Dimension::clock));
  const auto wrong = [&] { return QuantityError(quoted(plain) + " is no clock time", hint); };
  std::string_view rest = plain;
  const auto take_digits = [&](std::size_t most) -> int {
    std::size_t n = 0;
    int value = 0;
    while (n < rest.size() && n < most && rest[n] >= '0' && rest[n] <= '9') value = value * 10 + (rest[n++] - '0');
    if (n == 0) throw wrong();
    rest.remove_prefix(n);
    return value;
  };
  int hour = take_digits(2);
  if (!rest.starts_with(":")) throw wrong();
  rest.remove_prefix(1);
  if (rest.size() < 2) throw wrong();
  const int minute = take_digits(2);
  int second = 0;
  if (rest.starts_with(":")) {
    rest.remove_prefix(1);
    second = take_digits(2);
  }
  const std::string_view half = trimmed(rest);
  const bool am = half == "am" || half == "AM" || half == "a.m.";
  const bool pm = half == "pm" || half == "PM" || half == "p.m.";
  if (!half.empty() && !am && !pm) throw wrong();
  if (minute > 59 || second > 59 || hour > 71) {
    throw QuantityError(quoted(plain) + " is no clock time",
                        "hours 0 to 71 (25:30 is past midnight), minutes 00 to 59");
  }
  if (am || pm) {
    if (hour < 1 || hour > 12)
      throw QuantityError(quoted(plain) + " is no clock time", "with am or pm, hours are 1 to 12");
    hour = hour % 12 + (pm ? 12 : 0);
  }
  return hour * 3600.0 + minute * 60.0 + second;
}

double parse_fraction(std::string_view plain) {
  std::string_view rest = plain;
  const auto number = take_number(rest);
  if (number && trimmed(rest).empty()) {
    if (std::fabs(*number) > 1.0) {
      throw QuantityError(quoted(plain) + " is more than the whole",
                          std::fabs(*number) > 100.0
                              ? "allowed: 0 % to 100 %, or a fraction from 0 to 1"
                              : "write \"" + std::string(plain) + " %\", or a fraction from 0 to 1");
    }
    return *number;
  }
  return measure(plain, {Dimension::fraction}).si;
}

double parse_factor(std::string_view plain) {
  std::string_view rest = plain;
  if (rest.starts_with("x")) rest = trimmed(rest.substr(1));
  const std::string_view body = rest;
  const auto number = take_number(rest);
  if (number && (trimmed(rest).empty() || (trimmed(rest) == "x" && body.size() == plain.size()))) return *number;
  return measure(plain, {Dimension::factor}).si;
}

}  // namespace

double parse_quantity(std::string_view text, Dimension dimension) {
  const std::string plain = plain_text(text);
  if (plain.empty()) {
    throw QuantityError("an empty text is no " + std::string(dimension_word(dimension)),
                        "allowed: " + std::string(units_word(dimension)));
  }
  switch (dimension) {
    case Dimension::duration:
      return parse_duration(plain);
    case Dimension::clock:
      return parse_clock(plain);
    case Dimension::fraction:
      return parse_fraction(plain);
    case Dimension::factor:
      return parse_factor(plain);
    default:
      break;
  }
  const Measured m = measure(plain, {dimension});
  if (dimension == Dimension::temperature && m.si < 0.0) {
    throw QuantityError(quoted(text) + " is below absolute zero", "allowed: -273.15 °C and more");
  }
  return m.si;
}

std::optional<double> from_suffixed(double value, std::string_view suffix, Dimension dimension) {
  for (const Unit& u : units_of(dimension).suffixes) {
    if (u.name == suffix) return (value + u.offset) * u.factor;
  }
  return std::nullopt;
}

std::vector<std::string_view> suffixes(Dimension dimension) {
  std::vector<std::string_view> out;
  for (const Unit& u : units_of(dimension).suffixes) out.push_back(u.name);
  return out;
}

Draw parse_draw(std::string_view text) {
  const std::string plain = plain_text(text);
  const std::string advice = R"(allowed: "14.5 W", "1.2 A", "1.2 A at 12 V", "10 ohm")";
  const std::vector<std::string> parts = split_at(plain);
  if (parts.size() > 2) throw QuantityError(quoted(text) + " is no draw", advice);
  const auto read = [&](const std::string& part, const std::vector<Dimension>& wanted) {
    try {
      return measure(part, wanted);
    } catch (const QuantityError& error) {
      throw QuantityError(error.what(), advice);
    }
  };
  Draw draw;
  if (parts.size() == 2) {
    const Measured amps = read(parts[0], {Dimension::current});
    const Measured volts = read(parts[1], {Dimension::voltage});
    draw = {Draw::Kind::power, amps.si * volts.si, amps.si, volts.si};
  } else {
    const Measured m = read(parts[0], {Dimension::power, Dimension::current, Dimension::resistance});
    draw.value = m.si;
    if (m.dimension == Dimension::current) {
      draw.kind = Draw::Kind::current;
      draw.amps_a = m.si;
    } else if (m.dimension == Dimension::resistance) {
      draw.kind = Draw::Kind::resistance;
    }
  }
  return draw;
}

Reading parse_reading(std::string_view text) {
  const std::string plain = plain_text(text);
  const std::string advice = R"(allowed: "1.4 A at 14.6 V", "22 W", "13.9 V", "22 % at 12:40")";
  Reading reading;
  const auto set = [&](std::optional<double>& slot, double value) {
    if (slot) throw QuantityError(quoted(text) + " says the same thing twice", advice);
    slot = value;
  };
  for (const std::string& part : split_at(plain)) {
    if (part.find(':') != std::string::npos) {
      set(reading.at_s, parse_clock(part));
      continue;
    }
    Measured m;
    try {
      m = measure(part, {Dimension::current, Dimension::voltage, Dimension::power, Dimension::fraction});
    } catch (const QuantityError& error) {
      throw QuantityError(error.what(), advice);
    }
    switch (m.dimension) {
      case Dimension::current:
        set(reading.amps_a, m.si);
        break;
      case Dimension::voltage:
        set(reading.volts_v, m.si);
        break;
      case Dimension::power:
        set(reading.watts_w, m.si);
        break;
      default:
        set(reading.fraction, m.si);
        break;
    }
  }
  if (!reading.amps_a && !reading.volts_v && !reading.watts_w && !reading.fraction) {
    throw QuantityError(quoted(text) + " has a time but no reading", advice);
  }
  return reading;
}

std::vector<Reading> parse_readings(std::string_view text) {
  std::vector<Reading> out;
  std::string_view rest = text;
  for (std::size_t i = 1; i + 1 < text.size(); ++i) {
    const auto is_digit = [&](std::size_t at) { return text[at] >= '0' && text[at] <= '9'; };
    if (text[i] == ',' && is_digit(i - 1) && is_digit(i + 1)) {
      throw QuantityError("a comma between digits in " + quoted(text),
                          "write a decimal point (1.4 A), and a space after the comma between two readings");
    }
  }
  while (true) {
    const std::size_t comma = rest.find(',');
    out.push_back(parse_reading(rest.substr(0, comma)));
    if (comma == std::string_view::npos) return out;
    rest.remove_prefix(comma + 1);
  }
}

WireSize parse_wire_size(std::string_view text) {
  const std::string plain = plain_text(text);
  const std::string advice = R"(allowed: "AWG 22", "0.5 mm²")";
  std::string_view rest = plain;
  const auto is_awg = [](std::string_view word) { return word == "AWG" || word == "awg" || word == "Awg"; };
  const bool leads = is_awg(rest.substr(0, 3));
  if (leads) rest = trimmed(rest.substr(3));
  const std::string_view body = rest;
  const auto number = take_number(rest);
  const std::string_view unit = trimmed(rest);
  if (number && (leads ? unit.empty() : is_awg(unit))) {
    if (*number != std::floor(*number) || *number < 0.0 || *number > 40.0) {
      throw QuantityError("no wire gauge AWG " + std::string(body.substr(0, body.size() - rest.size())),
                          "AWG 0 to AWG 40, whole numbers");
    }
    return {static_cast<int>(*number), 0.0};
  }
  if (leads || !number) throw QuantityError(quoted(text) + " is no wire size", advice);
  Measured m;
  try {
    m = measure(plain, {Dimension::area});
  } catch (const QuantityError& error) {
    throw QuantityError(error.what(), advice);
  }
  if (m.si <= 0.0) throw QuantityError(quoted(text) + " is no wire size", "an area above 0 mm²");
  const std::string_view named = trimmed(unit);
  return {std::nullopt, named.starts_with("mm") ? m.written : m.si * 1e6};
}

Duty parse_duty(std::string_view text) {
  const std::string plain = plain_text(text);
  const std::size_t slash = plain.find('/');
  const std::string advice = R"(allowed: on / period, as in "15 s/1 min")";
  if (slash == std::string::npos) throw QuantityError(quoted(text) + " is no duty", advice);
  Duty duty;
  duty.on_s = parse_quantity(std::string_view(plain).substr(0, slash), Dimension::duration);
  duty.period_s = parse_quantity(std::string_view(plain).substr(slash + 1), Dimension::duration);
  if (!(duty.on_s > 0.0) || !(duty.period_s >= duty.on_s)) {
    throw QuantityError(quoted(text) + " is no duty", "on more than 0 s and at most the period");
  }
  return duty;
}

std::string number_words(double value) { return fmt::format("{:g}", value); }

std::string quantity_words(double si, Dimension dimension) {
  switch (dimension) {
    case Dimension::clock: {
      if (!(si >= 0.0 && si < 1e6)) return number_words(si) + " s after midnight";
      const auto minutes = static_cast<long>(si / 60.0);
      const auto two = [](long n) { return (n < 10 ? "0" : "") + std::to_string(n); };
      const auto seconds = static_cast<long>(si) % 60;
      return two(minutes / 60) + ":" + two(minutes % 60) + (seconds != 0 ? ":" + two(seconds) : "");
    }
    case Dimension::factor:
      return number_words(si);
    case Dimension::temperature:
      return number_words(si - 273.15) + " °C";
    case Dimension::resistance:
      return std::fabs(si) < 1.0 ? number_words(si * 1e3) + " mohm" : number_words(si) + " ohm";
    case Dimension::duration:
      if (std::fabs(si) >= 3600.0) return number_words(si / 3600.0) + " h";
      return std::fabs(si) >= 120.0 ? number_words(si / 60.0) + " min" : number_words(si) + " s";
    default:
      break;
  }
  const Unit& plain = units_of(dimension).units.front();
  return number_words(si / plain.factor - plain.offset) + " " + std::string(plain.name);
}

namespace {

struct Distance {
  std::size_t whole = 0;  // between the two words
  std::size_t start = 0;  // between the first and the nearest beginning of the second
};

// Damerau-Levenshtein distance, optimal string alignment: insert, delete, replace, swap of neighbours.
Distance edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before(b.size() + 1);
  std::vector<std::size_t> last(b.size() + 1);
  std::vector<std::size_t> now(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    now[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t change = a[i - 1] == b[j - 1] ? 0 : 1;
      now[j] = std::min({last[j] + 1, now[j - 1] + 1, last[j - 1] + change});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) now[j] = std::min(now[j], before[j - 2] + 1);
    }
    std::swap(before, last);
    std::swap(last, now);
  }
  return {last[b.size()], *std::min_element(last.begin(), last.end())};
}

}  // namespace

std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known) {
  if (word.empty() || word.size() > 64) return std::nullopt;
  const auto same_letters = [](char a, char b) {
    const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
    return lower(a) == lower(b);
  };
  for (const std::string& candidate : known) {
    if (std::equal(word.begin(), word.end(), candidate.begin(), candidate.end(), same_letters)) return candidate;
  }
  std::optional<std::string> best;
  const std::size_t most = std::max<std::size_t>(2, word.size() / 3);
  std::size_t best_score = 2 * most + 2;
  for (const std::string& candidate : known) {
    if (candidate.empty()) continue;
    const Distance d = edit_distance(word, candidate);
    // A beginning counts half an edit more than a whole word: "smart-pak" means a smart pack, not another short word.
    std::size_t score = 2 * d.whole;
    if (word.size() >= 4) score = std::min(score, 2 * d.start + 1);
    if (score < best_score && d.whole < std::max(word.size(), candidate.size())) {
      best_score = score;
      best = candidate;
    }
  }
  if (best) return best;
  // No near spelling: a name that contains the word, or is contained in it ("length" for "cable_length").
  for (const std::string& candidate : known) {
    if (word.size() >= 3 && candidate.size() >= 3 &&
        (candidate.find(word) != std::string::npos || word.find(candidate) != std::string_view::npos)) {
      return candidate;
    }
  }
  return std::nullopt;
}

}  // namespace tillwrap::decode
