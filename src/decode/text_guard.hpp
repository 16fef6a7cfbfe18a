// What both readers check before a parser sees the text: size, UTF-8, and where a byte stands as line and column.
#pragma once

#include <string_view>

#include "decode/node.hpp"

namespace tillwrap::decode {

// Without its byte order mark. Throws InputError for too much text or bytes that are not UTF-8 (RFC 3629).
std::string_view guarded_text(std::string_view text, const std::string& source_name);

// The same without a limit on its length, for logs.
std::string_view utf8_text(std::string_view text, const std::string& source_name);

// Line and column (code points) of the byte at `offset`.
Place place_at(std::string_view text, std::size_t offset);

// Walks forward through a text, so that a whole document costs one pass.
class PlaceCounter {
 public:
  explicit PlaceCounter(std::string_view text) : text_(text) {}
  // `offset` must not go back.
  Place at(std::size_t offset);

 private:
  std::string_view text_;
  std::size_t offset_ = 0;
  Place place_;
};

// One past the text in quotes that begins at `begin`, in TOML or JSON: escapes where the quote is double, over lines
// where it is three quotes; one left open ends with its line.
std::size_t text_end(std::string_view text, std::size_t begin);

[[noreturn]] void too_deep(const std::string& source_name, Place place);

}  // namespace tillwrap::decode
