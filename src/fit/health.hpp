// What is left of a known cell: its capacity fraction and resistance factor, from logs of it as it is now.
#pragma once

#include "fit/fit.hpp"

namespace tillwrap::fit {

struct Health {
  cell::Ageing age{};  // a factor the logs cannot tell stays 1
  Fitted fitted;       // numbers: capacity_fraction, resistance_factor, then start charges; cell: aged
};

Health health(const cell::CellParams& as_new, std::vector<Log> logs,
              const std::function<void(int, double)>& progress = {});

// Frees the start charge of each log that does not show it (Log::start_charge_sd).
void free_start_charges(Problem& problem);

}  // namespace tillwrap::fit
