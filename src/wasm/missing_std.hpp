// What the standard library of Debian 12's emscripten (3.1) lacks of C++20: std::bit_cast, std::from_chars for double,
// and the three-way comparison of arrays and vectors. Force-included in WebAssembly builds only, so that everything
// else is plain C++20.
#pragma once

#include <array>
#include <charconv>
#include <compare>
#include <cstdlib>
#include <limits>
#include <string>
#include <vector>
#include <version>

namespace std {

#ifndef __cpp_lib_bit_cast
template <class To, class From>
constexpr To bit_cast(const From& from) noexcept {
  static_assert(sizeof(To) == sizeof(From));
  return __builtin_bit_cast(To, from);
}
#endif

#ifndef __cpp_lib_three_way_comparison
template <class Row>
constexpr strong_ordering tillwrap_compared(const Row& a, const Row& b) {
  for (size_t k = 0; k < a.size() && k < b.size(); ++k) {
    if (a[k] < b[k]) return strong_ordering::less;
    if (b[k] < a[k]) return strong_ordering::greater;
  }
  return a.size() <=> b.size();
}
template <class T, size_t N>
constexpr strong_ordering operator<=>(const array<T, N>& a, const array<T, N>& b) {
  return tillwrap_compared(a, b);
}
template <class T>
constexpr strong_ordering operator<=>(const vector<T>& a, const vector<T>& b) {
  return tillwrap_compared(a, b);
}
#endif

#ifndef __cpp_lib_to_chars
// Decimal form only. The library's strtod rounds correctly, as from_chars must, and knows no locale but "C".
inline from_chars_result from_chars(const char* first, const char* last, double& value) {
  const char* at = first;
  const auto digits = [&] {
    const char* start = at;
    while (at != last && *at >= '0' && *at <= '9') ++at;
    return at - start;
  };
  if (at != last && *at == '-') ++at;
  auto seen = digits();
  if (at != last && *at == '.') {
    ++at;
    seen += digits();
  }
  if (seen == 0) return {first, errc::invalid_argument};
  if (at != last && (*at == 'e' || *at == 'E')) {
    const char* before = at++;
    if (at != last && (*at == '+' || *at == '-')) ++at;
    if (digits() == 0) at = before;
  }
  const string text(first, at);
  const double parsed = strtod(text.c_str(), nullptr);
  const bool vanished =
      parsed == 0.0 && text.substr(0, text.find_first_of("eE")).find_first_of("123456789") != string::npos;
  if (vanished || parsed > numeric_limits<double>::max() || parsed < numeric_limits<double>::lowest()) {
    return {at, errc::result_out_of_range};
  }
  value = parsed;
  return {at, errc{}};
}
// toml++ names it where it prints numbers, which nothing here asks it to: to call it is an error of the link.
template <class Number, class... Form>
enable_if_t<is_floating_point_v<Number>, to_chars_result> to_chars(char* first, char* last, Number value, Form... form);
#endif

}  // namespace std
