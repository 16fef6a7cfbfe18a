// tillwrap journal add|list|export|import|merge|verify
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_journal(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
