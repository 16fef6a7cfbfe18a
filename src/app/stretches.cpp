#include "app/stretches.hpp"

#include <algorithm>
#include <cmath>

#include "decode/units.hpp"

namespace tillwrap::app {

namespace {
constexpr double kDay_s = 86400.0;
constexpr double kTouch_s = 1.0;
}  // namespace

std::vector<day::Span> parse_stretches(const std::string& text) {
  std::vector<day::Span> spans;
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text.compare(i, 3, "\xE2\x80\x93") == 0) {
      plain += '-';
      i += 2;
    } else {
      plain += text[i];
    }
  }
  std::size_t start = 0;
  while (start <= plain.size()) {
    const std::size_t comma = std::min(plain.find(',', start), plain.size());
    const std::string one = plain.substr(start, comma - start);
    const std::size_t dash = one.find('-');
    if (dash == std::string::npos)
      throw decode::QuantityError("no two times in \"" + one.substr(0, 40) + "\"",
                                  "write stretches as \"20:30-23:30, 06:00-06:30\"");
    const double from_s = decode::parse_quantity(one.substr(0, dash), decode::Dimension::clock);
    double until_s = decode::parse_quantity(one.substr(dash + 1), decode::Dimension::clock);
    if (until_s == from_s)
      throw decode::QuantityError("\"" + one.substr(0, 40) + "\" has no length",
                                  "write stretches as \"20:30-23:30, 06:00-06:30\"");
    if (until_s < from_s) until_s += kDay_s;
    spans.push_back({from_s, until_s});
    start = comma + 1;
  }
  return spans;
}

std::vector<day::Span> stretches_within(const std::vector<day::Span>& written, double from_s, double until_s) {
  std::vector<day::Span> found;
  for (const day::Span& span : written) {
    for (double shift_s = kDay_s * (std::floor((from_s - span.until_s) / kDay_s)); span.from_s + shift_s < until_s;
         shift_s += kDay_s) {
      const day::Span moved{std::max(from_s, span.from_s + shift_s), std::min(until_s, span.until_s + shift_s)};
      if (moved.until_s - moved.from_s > 0.0) found.push_back(moved);
    }
  }
  std::sort(found.begin(), found.end(), [](const day::Span& a, const day::Span& b) { return a.from_s < b.from_s; });
  std::vector<day::Span> joined;
  for (const day::Span& span : found) {
    if (!joined.empty() && span.from_s <= joined.back().until_s + kTouch_s) {
      joined.back().until_s = std::max(joined.back().until_s, span.until_s);
    } else {
      joined.push_back(span);
    }
  }
  return joined;
}

std::vector<day::Span> gaps(const std::vector<day::Span>& spans, double from_s, double until_s) {
  std::vector<day::Span> between;
  double at_s = from_s;
  for (const day::Span& span : spans) {
    if (span.from_s > at_s) between.push_back({at_s, span.from_s});
    at_s = std::max(at_s, span.until_s);
  }
  if (until_s > at_s) between.push_back({at_s, until_s});
  return between;
}

}  // namespace tillwrap::app
