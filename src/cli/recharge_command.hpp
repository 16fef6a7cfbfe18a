// tillwrap recharge DAY
#pragma once

#include "cli/commands.hpp"

namespace tillwrap::cli {

void add_recharge(CLI::App& program, Commands& commands);

}  // namespace tillwrap::cli
