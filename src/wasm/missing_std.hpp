// The standard library of Debian 12's emscripten (3.1) lacks std::bit_cast. Force-included in WebAssembly builds only,
// so that the engine can be written in plain C++20.
#pragma once

#include <version>

#ifndef __cpp_lib_bit_cast
namespace std {
template <class To, class From>
constexpr To bit_cast(const From& from) noexcept {
  static_assert(sizeof(To) == sizeof(From));
  return __builtin_bit_cast(To, from);
}
}  // namespace std
#endif
