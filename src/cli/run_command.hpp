// tillwrap run RUN
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_run(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
