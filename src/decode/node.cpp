#include "decode/node.hpp"

#include <utility>

#include "decode/text_guard.hpp"

namespace tillwrap::decode {
namespace {

// A message is one line whatever the text held: control characters would tear it apart or colour a terminal.
std::string one_line(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    out += byte < 0x20 || byte == 0x7f ? ' ' : c;
  }
  return out;
}

std::string compose(const std::string& source, Place place, const std::string& wrong, const std::string& advice) {
  std::string out = source + ":" + std::to_string(place.line) + ":" + std::to_string(place.column) + ": " + wrong;
  if (!advice.empty()) out += "; " + advice;
  return one_line(out);
}

}  // namespace

InputError::InputError(std::string source_name, Place where, std::string wrong, std::string advice)
    : std::runtime_error(compose(source_name, where, wrong, advice)),
      source(std::move(source_name)),
      place(where),
      message(one_line(wrong)),
      hint(one_line(advice)) {}

std::string_view kind_words(Kind kind) {
  switch (kind) {
    case Kind::table:
      return "a table";
    case Kind::array:
      return "a list";
    case Kind::text:
      return "text";
    case Kind::number:
      return "a number";
    case Kind::integer:
      return "a whole number";
    case Kind::boolean:
      return "true or false";
    case Kind::date:
      return "a date";
    case Kind::time:
      return "a time";
  }
  return "a value";
}

const Node* Node::find(std::string_view name) const {
  for (const Node& child : children) {
    if (child.key == name) return &child;
  }
  return nullptr;
}

namespace {

// Length of the UTF-8 sequence at `offset`, 0 when it is not one (overlong, surrogate, beyond U+10FFFF, cut off).
std::size_t sequence_length(std::string_view text, std::size_t offset) {
  const auto byte = [&](std::size_t i) {
    return offset + i < text.size() ? static_cast<unsigned char>(text[offset + i]) : 0U;
  };
  const unsigned first = byte(0);
  if (first < 0x80) return 1;
  const auto tail = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
  if (first >= 0xC2 && first <= 0xDF) return tail(1) ? 2 : 0;
  if (first >= 0xE0 && first <= 0xEF) {
    if (!tail(1) || !tail(2)) return 0;
    if (first == 0xE0 && byte(1) < 0xA0) return 0;
    if (first == 0xED && byte(1) > 0x9F) return 0;
    return 3;
  }
  if (first >= 0xF0 && first <= 0xF4) {
    if (!tail(1) || !tail(2) || !tail(3)) return 0;
    if (first == 0xF0 && byte(1) < 0x90) return 0;
    if (first == 0xF4 && byte(1) > 0x8F) return 0;
    return 4;
  }
  return 0;
}

}  // namespace

std::string_view guarded_text(std::string_view text, const std::string& source_name) {
  if (text.size() > kMaxTextBytes) {
    throw InputError(source_name, {1, 1}, "the file has " + std::to_string(text.size()) + " bytes",
                     "at most " + std::to_string(kMaxTextBytes) + " bytes (4 MB) are read");
  }
  return utf8_text(text, source_name);
}

std::string_view utf8_text(std::string_view text, const std::string& source_name) {
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF"))
    throw InputError(source_name, {1, 1}, "this is UTF-16 text, not valid UTF-8", "save the file as UTF-8 text");
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = sequence_length(text, i);
    if (length == 0) {
      throw InputError(source_name, place_at(text, i), "this byte is not valid UTF-8", "save the file as UTF-8 text");
    }
    i += length;
  }
  return text;
}

Place place_at(std::string_view text, std::size_t offset) {
  PlaceCounter counter(text);
  return counter.at(offset);
}

Place PlaceCounter::at(std::size_t offset) {
  for (; offset_ < offset && offset_ < text_.size(); ++offset_) {
    const auto byte = static_cast<unsigned char>(text_[offset_]);
    if (byte == '\n') {
      ++place_.line;
      place_.column = 1;
    } else if ((byte & 0xC0U) != 0x80U) {
      ++place_.column;
    }
  }
  return place_;
}

bool is_json(std::string_view text) {
  const std::size_t start = text.find_first_not_of(" \t\r\n");
  return start != std::string_view::npos && text[start] == '{';
}

Document read_toml_or_json(std::string_view text, std::string source_name) {
  return is_json(text) ? read_json(text, std::move(source_name)) : read_toml(text, std::move(source_name));
}

std::size_t text_end(std::string_view text, std::size_t begin) {
  const char quote = text[begin];
  const std::string three(3, quote);
  std::size_t at = begin;
  const auto step = [&] { at += quote == '"' && text[at] == '\\' && at + 1 < text.size() ? 2 : 1; };
  if (text.substr(at).starts_with(three)) {
    at += 3;
    while (at < text.size() && !text.substr(at).starts_with(three)) step();
    at = std::min(at + 3, text.size());
    while (at < text.size() && text[at] == quote) ++at;  // up to two quotes may stand before the closing three
    return at;
  }
  ++at;
  while (at < text.size() && text[at] != quote && text[at] != '\n') step();
  return std::min(at + 1, text.size());
}

void too_deep(const std::string& source_name, Place place) {
  throw InputError(source_name, place, "tables and lists are nested too deep",
                   "at most " + std::to_string(kMaxNesting) + " levels are read");
}

}  // namespace tillwrap::decode
