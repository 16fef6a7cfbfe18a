// tillwrap health LOG|PACK
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_health(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
