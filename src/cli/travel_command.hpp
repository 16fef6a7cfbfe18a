// `tillwrap travel`: options and today's date.
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_travel(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
