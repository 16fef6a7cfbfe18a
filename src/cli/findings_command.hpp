// tillwrap findings DAY
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_findings(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
