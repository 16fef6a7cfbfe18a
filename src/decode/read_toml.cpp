#define TOML_MAX_NESTED_VALUES 64
#define TOML_ENABLE_FORMATTERS 0
#include <toml++/toml.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <utility>

#include "decode/node.hpp"
#include "decode/text_guard.hpp"

static_assert(TOML_MAX_NESTED_VALUES == tillwrap::decode::kMaxNesting);

namespace tillwrap::decode {
namespace {

// The parser recurses into lists and inline tables, and a dotted key or header of a thousand parts makes a tree a
// thousand deep. One pass over the text, knowing only strings and comments, refuses both before they are built.
class NestingGuard {
 public:
  NestingGuard(std::string_view text, const std::string& source) : text_(text), source_(source) {}

  void check() {
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (c == '"' || c == '\'') {
        skip_string(c);
        continue;
      }
      if (c == '#') {
        skip_to_line_end();
        continue;
      }
      count(c);
      ++at_;
    }
  }

 private:
  void count(char c) {
    if (c == '.') {
      if (++dots_ >= kMaxNesting) too_deep(source_, place_at(text_, at_));
      return;
    }
    const bool part_of_key = c == ' ' || c == '\t' || c == '_' || c == '-' || (c >= '0' && c <= '9') ||
                             (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
    if (!part_of_key) dots_ = 0;
    if (c == '[' || c == '{') {
      if (++open_ > kMaxNesting) too_deep(source_, place_at(text_, at_));
    } else if ((c == ']' || c == '}') && open_ > 0) {
      --open_;
    }
  }

  void skip_to_line_end() {
    while (at_ < text_.size() && text_[at_] != '\n') ++at_;
  }

  void skip_string(char quote) {
    const std::string three(3, quote);
    if (text_.substr(at_).starts_with(three)) {
      at_ += 3;
      while (at_ < text_.size() && !text_.substr(at_).starts_with(three)) step(quote);
      at_ = std::min(at_ + 3, text_.size());
      while (at_ < text_.size() && text_[at_] == quote) ++at_;  // up to two quotes may stand before the closing three
      return;
    }
    ++at_;
    while (at_ < text_.size() && text_[at_] != quote && text_[at_] != '\n') step(quote);
    if (at_ < text_.size()) ++at_;
  }

  void step(char quote) { at_ += quote == '"' && text_[at_] == '\\' && at_ + 1 < text_.size() ? 2 : 1; }

  std::string_view text_;
  const std::string& source_;
  std::size_t at_ = 0;
  std::size_t dots_ = 0;
  std::size_t open_ = 0;
};

Place place_of(const toml::source_position& position) {
  return {std::max<std::size_t>(position.line, 1), std::max<std::size_t>(position.column, 1)};
}

template <typename T>
std::string written(const T& value) {
  std::ostringstream out;
  out.imbue(std::locale::classic());
  out << value;
  return out.str();
}

class Converter {
 public:
  explicit Converter(const std::string& source) : source_(source) {}

  Node convert(const toml::node& from, std::size_t depth) const {
    Node to;
    to.place = place_of(from.source().begin);
    to.key_place = to.place;
    if (depth > kMaxNesting) too_deep(source_, to.place);
    if (const auto* table = from.as_table()) {
      to.kind = Kind::table;
      for (const auto& [key, value] : *table) {
        Node child = convert(value, depth + 1);
        child.key = std::string(key.str());
        child.key_place = place_of(key.source().begin);
        to.children.push_back(std::move(child));
      }
      std::stable_sort(to.children.begin(), to.children.end(),
                       [](const Node& a, const Node& b) { return a.key_place < b.key_place; });
    } else if (const auto* array = from.as_array()) {
      to.kind = Kind::array;
      for (const toml::node& value : *array) to.children.push_back(convert(value, depth + 1));
    } else {
      convert_value(from, to);
    }
    return to;
  }

 private:
  void convert_value(const toml::node& from, Node& to) const {
    if (const auto* text = from.as_string()) {
      to.kind = Kind::text;
      to.text = text->get();
    } else if (const auto* integer = from.as_integer()) {
      to.kind = Kind::integer;
      to.integer = integer->get();
      to.number = static_cast<double>(to.integer);
    } else if (const auto* number = from.as_floating_point()) {
      to.kind = Kind::number;
      to.number = number->get();
      if (!std::isfinite(to.number)) {
        throw InputError(source_, to.place, "this number is infinite or not a number", "write a finite number");
      }
    } else if (const auto* boolean = from.as_boolean()) {
      to.kind = Kind::boolean;
      to.boolean = boolean->get();
    } else if (const auto* date = from.as_date()) {
      to.kind = Kind::date;
      to.text = written(date->get());
    } else if (const auto* time = from.as_time()) {
      const toml::time& t = time->get();
      to.kind = Kind::time;
      to.text = written(t);
      to.number = t.hour * 3600.0 + t.minute * 60.0 + t.second + t.nanosecond * 1e-9;
    } else if (const auto* date_time = from.as_date_time()) {
      to.kind = Kind::date;
      to.text = written(date_time->get());
    }
  }

  const std::string& source_;
};

}  // namespace

Document read_toml(std::string_view text, std::string source_name) {
  text = guarded_text(text, source_name);
  NestingGuard(text, source_name).check();
  try {
    const toml::table table = toml::parse(text, source_name);
    Document document{std::move(source_name), {}};
    document.root = Converter(document.source).convert(table, 0);
    document.root.place = document.root.key_place = {1, 1};
    return document;
  } catch (const toml::parse_error& error) {
    std::string wrong(error.description());
    // The parser's own name for its limit means nothing to the reader.
    if (wrong.find("TOML_MAX_NESTED_VALUES") != std::string::npos)
      too_deep(source_name, place_of(error.source().begin));
    throw InputError(source_name, place_of(error.source().begin), "not TOML here: " + wrong,
                     "write key = value; text, clock times and quantities stand in quotes (call = \"07:00\")");
  }
}

}  // namespace tillwrap::decode
