// `tillwrap track`.
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_track(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
