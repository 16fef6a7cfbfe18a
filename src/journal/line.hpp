// One line of a journal: a JSON object that tells of one event (docs/formats.md, journal). The text is the record; what
// was read of it serves the fold and is never written back.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "decode/node.hpp"
#include "journal/event.hpp"
#include "journal/moment.hpp"

namespace tillwrap::journal {

inline constexpr int kVersion = 1;  // of the lines written here
inline constexpr std::size_t kMostLineBytes = 65536;
inline constexpr std::size_t kMostLabelBytes = 200;

struct Line {
  std::string text;  // as written, without its line end and blanks around it
  std::string id;
  Moment at;
  std::string by;    // may be empty in a line of a later version
  std::string what;  // likewise
  std::int64_t version = kVersion;
  const Form* form = nullptr;  // null: a later version or an unknown event; kept, not folded

  // As read from an event that is known; empty or nothing where the key is absent. Fractions as such, temperature K.
  [[nodiscard]] const std::string& words(std::string_view key) const;
  [[nodiscard]] std::optional<double> number(std::string_view key) const;

  std::vector<std::pair<std::string_view, std::string>> texts;  // by key of the form
  std::vector<std::pair<std::string_view, double>> numbers;
};

// In the order of a journal: when it was so, then id, then text.
bool before(const Line& a, const Line& b);

// `number` is the line's in its file, for messages; the text must hold no line end. Throws decode::InputError: no JSON
// object, a key that every line needs missing or malformed, a key of a known event out of range, more than
// kMostLineBytes. Keys nobody knows are kept.
Line parse_line(std::string_view text, const std::string& source, std::size_t number);

// All lines of a text; blank ones are skipped, "\r\n" is taken as "\n". Throws at the first bad one.
std::vector<Line> parse_lines(std::string_view text, const std::string& source);

// With its quotes (RFC 8259 section 7).
std::string json_text(std::string_view text);

// Puts a line together: the keys every line has, then `rest` (key and value as JSON) in that order.
std::string compose_line(std::string_view id, const Moment& at, std::string_view by, std::string_view what,
                         const std::vector<std::pair<std::string, std::string>>& rest);

}  // namespace tillwrap::journal
