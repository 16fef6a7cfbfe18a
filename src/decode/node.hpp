// One tree for TOML and JSON: every value knows the line and column it was written at, so that any later complaint
// can point at it. Positions count from 1; columns count characters (code points), as editors do.
#pragma once

#include <cstddef>
#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace tillwrap::decode {

struct Place {
  std::size_t line = 1;
  std::size_t column = 1;
  friend auto operator<=>(const Place&, const Place&) = default;
};

// Bad user data. what() is one line: "FILE:LINE:COLUMN: what is wrong; what is allowed or what to do".
struct InputError : std::runtime_error {
  InputError(std::string source_name, Place where, std::string wrong, std::string advice);
  std::string source;
  Place place;
  std::string message;
  std::string hint;  // may be empty
};

enum class Kind { table, array, text, number, integer, boolean, date, time };

// "a table", "a list", "text", "a number", ... for messages.
std::string_view kind_words(Kind kind);

struct Node {
  Kind kind = Kind::table;
  Place place;               // of the value
  std::string key;           // its name in the table that holds it; empty inside an array
  Place key_place;           // of that name; same as `place` inside an array
  std::string text;          // text; also date ("2026-11-25") and date with time as written in ISO 8601
  double number = 0.0;       // number and integer; time: seconds after midnight
  std::int64_t integer = 0;  // integer
  bool boolean = false;
  std::vector<Node> children;  // of a table or array, in the order written

  [[nodiscard]] const Node* find(std::string_view name) const;
  [[nodiscard]] bool is_number() const { return kind == Kind::number || kind == Kind::integer; }
};

struct Document {
  std::string source;  // file name, or what to call the text in messages
  Node root;           // a table
};

// Limits that keep a hostile file from hurting: refused before the parser sees it.
inline constexpr std::size_t kMaxTextBytes = 4 * 1024 * 1024;
inline constexpr std::size_t kMaxNesting = 64;

// Both refuse: more than kMaxTextBytes, nesting deeper than kMaxNesting, NaN and infinity, invalid UTF-8, a key written
// twice. A byte order mark is accepted. The root of a JSON text must be an object.
Document read_toml(std::string_view text, std::string source_name);
Document read_json(std::string_view text, std::string source_name);
// A TOML text cannot begin with a brace, a JSON object does.
bool is_json(std::string_view text);
// Either of the two.
Document read_toml_or_json(std::string_view text, std::string source_name);
// As read_json, but a null is left out as if it had not been written.
Document read_json_without_nulls(std::string_view text, std::string source_name);

}  // namespace tillwrap::decode
