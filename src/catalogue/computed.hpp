// What an entry says beyond its data file: worked out (wire ohms) or gathered from others (which holders take a pack).
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "catalogue/catalogue.hpp"

namespace tillwrap::catalogue {

struct Computed {
  std::string key;  // as a data file would name it, with its unit
  std::string label;
  std::string value;  // in words
  std::variant<double, std::vector<std::string>> raw;
};
std::vector<Computed> computed(const Catalogue& catalogue, const Entry& entry);

}  // namespace tillwrap::catalogue
