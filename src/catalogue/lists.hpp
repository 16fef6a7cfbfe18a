// The catalogue's lists by name, for code that treats all of them alike.
#pragma once

#include <string>

#include "catalogue/catalogue.hpp"

namespace tillwrap::catalogue {

struct ListName {
  std::string_view plural;    // on the command line
  std::string_view table;     // [[table]] in the data files
  std::string_view contents;  // what it holds, for people
};

// Calls visit(ListName, std::vector<Kind>&) for each list in the order they are shown.
template <typename AnyCatalogue, typename Visit>
void for_each_list(AnyCatalogue& c, Visit&& visit) {
  visit(ListName{"packs", "pack", "removable batteries by class"}, c.packs);
  visit(ListName{"devices", "device", "what draws: modes, inputs, cut-offs"}, c.devices);
  visit(ListName{"boxes", "box", "distribution boxes with fused outputs"}, c.boxes);
  visit(ListName{"holders", "holder", "where a pack sits in use"}, c.holders);
  visit(ListName{"sources", "source", "mains adapters and the vehicle socket"}, c.sources);
  visit(ListName{"chargers", "charger", "bays, amps, end volts"}, c.chargers);
  visit(ListName{"connectors", "connector", "plugs: contact ohms, rating, what mates"}, c.connectors);
  visit(ListName{"wires", "wire", "copper by gauge and by area"}, c.wires);
  visit(ListName{"fuses", "fuse", "fuse kinds by standard"}, c.fuses);
  visit(ListName{"meters", "meter", "how a device turns volts into what is left"}, c.meters);
  visit(ListName{"cells", "cell", "parameter sets of single cells"}, c.cells);
  visit(ListName{"travel-rules", "travel_rule", "batteries on passenger aircraft, dated"}, c.travel_rules);
  visit(ListName{"marks", "mark", "how far a number can be trusted"}, c.marks);
}

}  // namespace tillwrap::catalogue
