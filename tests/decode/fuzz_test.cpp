// Whatever the bytes, a reader gives a tree or an InputError on one line; nothing else gets out.
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <string>
#include <vector>

#include "decode/node.hpp"

namespace {

using namespace tillwrap::decode;

bool well_formed(const Node& node, std::size_t depth) {
  if (depth > kMaxNesting + 1) return false;
  for (const Node& child : node.children) {
    if (child.place.line < 1 || child.place.column < 1 || !well_formed(child, depth + 1)) return false;
  }
  return true;
}

template <typename Read>
void holds_up(Read read, const std::string& text) {
  try {
    const Document d = read(text, "f");
    RC_ASSERT(well_formed(d.root, 0));
  } catch (const InputError& error) {
    RC_ASSERT(std::string(error.what()).find('\n') == std::string::npos);
    RC_ASSERT(error.place.line >= 1U);
    RC_ASSERT(error.place.column >= 1U);
  }
}

RC_GTEST_PROP(Fuzz, RandomBytes, (const std::string& text)) {
  holds_up(read_toml, text);
  holds_up(read_json, text);
}

RC_GTEST_PROP(Fuzz, PiecesOfToml, ()) {
  const std::vector<std::string> pieces = {
      "a",       "b.c",          " = ",        "=", "\"", "'",    "\"\"\"", "'''",  "\n", "[",  "]",
      "[[",      "]]",           "{",          "}", ",",  "1",    "-2.5",   "true", "#",  "\\", "\\u00e9",
      "nan",     "07:10:00",     "2026-11-25", "T", "é",  "\xFF", ".",      "_",    "0x", "\r", "[[device]]\n",
      "x = 1\n", "y = \"2 m\"\n"};
  const auto picks = *rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(0, pieces.size()));
  std::string text;
  for (const std::size_t i : picks) text += pieces[i];
  holds_up(read_toml, text);
}

RC_GTEST_PROP(Fuzz, PiecesOfJson, ()) {
  const std::vector<std::string> pieces = {"{",     "}", "[",      "]",       ",",     ":",     "\"a\"", "\"b\"",
                                           "\"",    "1", "-2.5e3", "true",    "null",  " ",     "\n",    "\\",
                                           "\\u12", "é", "\xFF",   "{\"a\":", "[1,2]", "1e999", "nan"};
  const auto picks = *rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(0, pieces.size()));
  std::string text = *rc::gen::element<std::string>("", "{", "{\"a\":");
  for (const std::size_t i : picks) text += pieces[i];
  holds_up(read_json, text);
}

RC_GTEST_PROP(Fuzz, AByteChangedInAGoodText, ()) {
  const std::string good =
      "title = \"x\"\n[[pack]]\nlabel = \"C1\"\nz = [[0.0, 1.5], [1.0, 2.5]]\nsub = { a = 1, b = \"2 m\" }\n";
  const auto at = *rc::gen::inRange<std::size_t>(0, good.size());
  std::string text = good;
  text[at] = static_cast<char>(*rc::gen::inRange(0, 256));
  holds_up(read_toml, text);
}

}  // namespace
