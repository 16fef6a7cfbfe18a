#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_compare(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
