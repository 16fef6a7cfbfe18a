// `tillwrap expendables`.
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_expendables(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
