// What --help prints: 80 columns, and what each command's exit code says.
#pragma once

#include <CLI/CLI.hpp>
#include <memory>

namespace tillwrap::cli {

// To be given to the program before its commands are added: they take it over.
std::shared_ptr<CLI::Formatter> help_formatter();

// Writes under the help of the program and of each command that says nothing of its own what 0, 1 and 2 mean.
void add_exit_codes(CLI::App& program);

}  // namespace tillwrap::cli
