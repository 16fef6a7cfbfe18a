// Work in many equal pieces, shared out by whoever has the threads, told as it goes.
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <string_view>

namespace tillwrap::odds {

// Runs body(0) ... body(count - 1) in any order and on any threads; each writes only what is its own.
using Each = std::function<void(std::size_t count, const std::function<void(std::size_t)>& body)>;
void one_after_another(std::size_t count, const std::function<void(std::size_t)>& body);

// How far it is. Parts follow one another, the same one perhaps several times; either both are empty or neither.
struct Tell {
  std::function<void(std::string_view part, std::size_t pieces)> begins;  // part: in plural, "fresh days"
  std::function<void()> piece_done;                                       // by whichever thread did it, several at once
  std::function<void(const std::string& json)> found;  // what of the answer is known already; may be empty by itself
};

// Empty `each`: one after another.
void work(const Each& each, const Tell& tell, std::string_view part, std::size_t count,
          const std::function<void(std::size_t)>& body);

}  // namespace tillwrap::odds
