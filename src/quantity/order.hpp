// Sorting by what a comparison says, equals left as they came. One sort by number serves every kind of element: a sort
// of its own for each was a twelfth of the page's engine. Not for hot loops: each comparison is a call.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <utility>
#include <vector>

namespace tillwrap {

// The numbers from 0 to `count` - 1 in order; `before(what, a, b)`: a comes before b, a strict weak order.
std::vector<std::uint32_t> in_order(std::size_t count, bool (*before)(const void*, std::uint32_t, std::uint32_t),
                                    const void* what);

template <typename Items, typename Before>
void sort_stably(Items& items, const Before& before) {
  struct Asked {
    const Items* items;
    const Before* before;
  };
  const Asked asked{&items, &before};
  const std::vector<std::uint32_t> order = in_order(
      items.size(),
      [](const void* what, std::uint32_t a, std::uint32_t b) {
        const Asked& of = *static_cast<const Asked*>(what);
        return static_cast<bool>((*of.before)((*of.items)[a], (*of.items)[b]));
      },
      &asked);
  // Back into the same places: iterators stay good, as with any sort.
  Items sorted;
  for (const std::uint32_t k : order) sorted.push_back(std::move(items[k]));
  std::size_t next = 0;
  for (auto& item : sorted) items[next++] = std::move(item);
}

template <typename Items>
void sort_stably(Items& items) {
  sort_stably(items, std::less<>());
}

}  // namespace tillwrap
