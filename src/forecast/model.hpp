// A scenario compiled to what the stepping loop needs: the wiring's topology and who feeds whom. Const while a day
// runs.
#pragma once

#include <vector>

#include "day/scenario.hpp"
#include "wiring/network.hpp"

namespace tillwrap::forecast {

// What lies between a device and whatever can feed it.
struct Feeding {
  std::vector<int> holders;
  std::vector<int> supplies;
  std::vector<int> regulators;
  std::vector<int> leads;
};

struct Model {
  explicit Model(const day::Scenario& scenario);

  const day::Scenario& day;
  wiring::Topology topology;
  std::vector<int> holder_node;        // pack contacts of each holder
  std::vector<int> holder_branch;      // its contact branch, -1 for banks and charger bays
  std::vector<int> holder_regulator;   // a bank's regulator, -1 otherwise
  std::vector<int> charger_supply_of;  // network supply of each charger bay, -1 otherwise
  std::vector<int> supply_of;          // network supply of each scenario supply, -1 when it feeds bays only
  std::vector<char> branch_in_account;
  std::vector<Feeding> feeding;  // one a device
  std::vector<std::vector<std::vector<int>>>
      input_holders;                         // [device][input]: holders behind it; empty without selection
  std::vector<std::vector<int>> leads_into;  // of each port
};

}  // namespace tillwrap::forecast
