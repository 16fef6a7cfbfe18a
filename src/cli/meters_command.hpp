// `tillwrap meters DAY`.
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_meters(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
