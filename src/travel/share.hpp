// Sharing things out among people under limits a person: exact.
#pragma once

#include <optional>
#include <vector>

namespace tillwrap::travel {

// So many alike things; `weights[k]` is what one of them counts toward limit k.
struct Load {
  int count = 0;
  std::vector<int> weights;
};

// [person][load] how many each takes, or nothing when no way exists. Exact for any weights of 0 and more. Where two
// nested groups of limits suffice (as in today's rules) an even split is found at once; otherwise the search remembers
// what it has refuted.
using Shares = std::vector<std::vector<int>>;
std::optional<Shares> share(const std::vector<Load>& loads, const std::vector<int>& most, int people);

// Fewest people among whom `share` succeeds; nothing when a single thing is over a limit by itself.
std::optional<int> people_needed(const std::vector<Load>& loads, const std::vector<int>& most);

}  // namespace tillwrap::travel
