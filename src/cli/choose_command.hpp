// tillwrap choose DAY
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_choose(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
