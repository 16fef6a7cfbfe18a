// `tillwrap sheet`: one page for the bag, in a folder.
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_sheet(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
