// Changes to a file as its owner wrote it: values replaced where they stand, every other byte as it was.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "decode/node.hpp"

namespace tillwrap::decode {

// Replaces the bytes from `begin` up to `end`; equal ones insert.
struct Splice {
  std::size_t begin = 0;
  std::size_t end = 0;
  std::string with;
};

// Byte at which a place of the text's nodes lies (a byte order mark is not counted by places).
std::size_t offset_of(std::string_view text, Place place);

// One past the value that begins at `begin`: a list, an inline table, text in quotes, or what runs up to a comma, a
// closing bracket, a comment or the end of the line. The text must have been read as TOML or JSON without complaint.
std::size_t value_end(std::string_view text, std::size_t begin);

// Splices in any order; they must not overlap.
std::string spliced(std::string_view text, std::vector<Splice> splices);

}  // namespace tillwrap::decode
