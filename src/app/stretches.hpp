// "20:30-23:30, 06:00-06:30": stretches by the clock.
#pragma once

#include <string>
#include <vector>

#include "day/scenario.hpp"

namespace tillwrap::app {

// Seconds after midnight as written; one that ends before it begins passes midnight. Throws decode::QuantityError.
std::vector<day::Span> parse_stretches(const std::string& text);

// Moved by whole days so that they lie after `from_s`, cut at `until_s`, in order, joined where they touch.
std::vector<day::Span> stretches_within(const std::vector<day::Span>& written, double from_s, double until_s);

// What lies between them.
std::vector<day::Span> gaps(const std::vector<day::Span>& spans, double from_s, double until_s);

}  // namespace tillwrap::app
