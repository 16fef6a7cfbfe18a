// Two journals become one: the union of their lines, in one order whatever was merged first.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "journal/line.hpp"

namespace tillwrap::journal {

// Each line once, in the order of `before`. Lines are the same when their text is; two lines that share an id and
// differ are both kept (and told by `survey`). Idempotent, commutative, associative.
std::vector<Line> united(std::vector<Line> a, const std::vector<Line>& b);

// What has to be known of all lines before any can be folded.
struct Survey {
  // Ids under which different lines stand: the one that counts (the least text, so that it does not depend on the
  // order of merging) and how many there are.
  struct Differing {
    std::string counts;
    std::size_t lines = 0;
  };
  std::map<std::string, Differing> differing;
  std::set<std::string> void_ids;                 // taken back, or a taking back that was itself taken back
  std::map<std::string, std::string> taken_back;  // line that takes back -> line taken back; those that count
};

// `takers`: all lines that take another back; `same_id`: all lines whose id more than one line has.
//
// A line that takes back may be taken back in its turn. What counts is settled from the latest written (the greatest
// id) to the earliest; a taker older than its target (a clock that went back) counts if nothing later voids it.
Survey survey(const std::vector<Line>& takers, const std::vector<Line>& same_id);
Survey survey(const std::vector<Line>& all);

}  // namespace tillwrap::journal
