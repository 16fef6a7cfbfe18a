// Numbers, keys and paragraphs of the catalogue put into words.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "catalogue/entry.hpp"
#include "decode/node.hpp"

namespace tillwrap::catalogue {

inline constexpr std::size_t kColumns = 80;

// Characters (code points) of UTF-8 text.
std::size_t width(std::string_view text);
std::string padded(std::string text, std::size_t columns);

// Breaks at spaces so that no line is longer than `columns`; the first line starts with `first`, the others with
// `indent` blanks. Fixed spaces (U+00A0) do not break and come out as plain ones.
std::string wrapped(std::string_view text, std::string_view first, std::size_t indent, std::size_t columns = kColumns);

// "contact_new_ohm" -> "contact new"; the unit goes with the value.
std::string label_of(std::string_view key);
// A value with the unit its key ends in: "15 mohm", "8.2 W (6 to 12)", "yes", "0.9 at 1, 0.6 at 1.5".
std::string value_of(std::string_view key, const decode::Node& value);
// Numbers under that key, in the unit its suffix says.
std::string number_of(std::string_view key, double value);

}  // namespace tillwrap::catalogue
