// What every catalogue entry carries: an id, plain words, and where its numbers come from.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "decode/node.hpp"

namespace tillwrap::catalogue {

// How far a number can be trusted. The wording for people stands in data/marks.toml.
enum class Mark { measured, standard, derived, secondary, memory, practice };

struct Provenance {
  std::string source;
  Mark mark = Mark::memory;
  std::string checked;  // ISO date
  std::string valid;    // range of temperature, rate, date ...; may be empty
};

// A number that is not known sharply. One written value makes all three equal.
struct Estimate {
  double low = 0.0;
  double typical = 0.0;
  double high = 0.0;
};

struct Entry {
  std::string id;                    // lower-case-kebab, generic
  std::vector<std::string> aliases;  // other ids that find it
  std::string title;
  std::string note;                                                // what a recordist should know; may be empty
  Provenance provenance;                                           // of every number without one of its own
  std::vector<std::pair<std::string, Provenance>> own_provenance;  // key of the data file -> its own source
  const decode::Node* node = nullptr;  // as written in the data file; lives as long as the catalogue
};

}  // namespace tillwrap::catalogue
