// Journal lines of any bytes: read, or refused with one complaint. What was read, written out again, reads the same, in
// an order that is one; and its fold does not throw.
#include <algorithm>
#include <cstdlib>
#include <string>
#include <vector>

#include "decode/node.hpp"
#include "journal/fold.hpp"
#include "journal/line.hpp"

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size) {
  using namespace tillwrap;
  std::vector<journal::Line> lines;
  try {
    lines = journal::parse_lines({reinterpret_cast<const char*>(data), size}, "fuzzed");
  } catch (const decode::InputError&) {
    return 0;
  }
  std::sort(lines.begin(), lines.end(), journal::before);
  std::string written;
  for (const journal::Line& line : lines) written += line.text + "\n";
  const std::vector<journal::Line> again = journal::parse_lines(written, "written");
  if (again.size() != lines.size()) std::abort();
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (again[i].text != lines[i].text || again[i].id != lines[i].id) std::abort();
    if (i > 0 && journal::before(lines[i], lines[i - 1])) std::abort();
  }
  journal::fold(lines);
  return 0;
}
