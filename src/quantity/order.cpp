#include "quantity/order.hpp"

#include <algorithm>
#include <numeric>

namespace tillwrap {

std::vector<std::uint32_t> in_order(std::size_t count, bool (*before)(const void*, std::uint32_t, std::uint32_t),
                                    const void* what) {
  std::vector<std::uint32_t> order(count);
  std::iota(order.begin(), order.end(), 0U);
  std::stable_sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) { return before(what, a, b); });
  return order;
}

}  // namespace tillwrap
