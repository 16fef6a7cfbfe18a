#include "decode/splice.hpp"

#include <algorithm>

#include "decode/text_guard.hpp"

namespace tillwrap::decode {

namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

}  // namespace

std::size_t offset_of(std::string_view text, Place place) {
  std::size_t at = text.starts_with(kByteOrderMark) ? kByteOrderMark.size() : 0;
  for (std::size_t line = 1; line < place.line && at < text.size(); ++at) line += text[at] == '\n' ? 1 : 0;
  for (std::size_t column = 1; column < place.column && at < text.size(); ++column) {
    ++at;
    while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U) ++at;
  }
  return at;
}

std::size_t value_end(std::string_view text, std::size_t begin) {
  std::size_t at = begin;
  int open = 0;
  while (at < text.size()) {
    const char c = text[at];
    if (c == '"' || c == '\'') {
      at = text_end(text, at);
      if (open == 0) return at;
    } else if (c == '[' || c == '{') {
      ++open;
      ++at;
    } else if (open > 0 && (c == ']' || c == '}')) {
      ++at;
      if (--open == 0) return at;
    } else if (c == '#') {
      if (open == 0) break;
      while (at < text.size() && text[at] != '\n') ++at;
    } else if (open == 0 && (c == ',' || c == ']' || c == '}' || c == '\n' || c == '\r')) {
      break;
    } else {
      ++at;
    }
  }
  while (at > begin && (text[at - 1] == ' ' || text[at - 1] == '\t')) --at;
  return at;
}

std::string spliced(std::string_view text, std::vector<Splice> splices) {
  std::sort(splices.begin(), splices.end(), [](const Splice& a, const Splice& b) { return a.begin < b.begin; });
  std::string out;
  std::size_t done = 0;
  for (const Splice& splice : splices) {
    out += text.substr(done, splice.begin - done);
    out += splice.with;
    done = splice.end;
  }
  return out += text.substr(done);
}

}  // namespace tillwrap::decode
