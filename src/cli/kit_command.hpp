// tillwrap kit
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_kit(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
