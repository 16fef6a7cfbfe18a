// What every command shares: registering itself, reading a day, printing. One file a command, or a few close ones.
#pragma once

#include <CLI/CLI.hpp>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "decode/node.hpp"
#include "decode/units.hpp"

namespace tillwrap::cli {

// A command and what runs when it was named; the return value is the exit code.
struct Command {
  CLI::App* words = nullptr;
  std::function<int()> run;
};
using Commands = std::vector<Command>;

// Writes to standard output; 0, or 2 with a line on standard error when it cannot be written.
int print(const std::string& text);

// Throws decode::InputError about what was typed.
[[noreturn]] void refuse(const std::string& what, const std::string& what_to_do);

// A quantity given with an option, such as "45 min"; `example` is said where the text is none of that kind. Throws
// decode::InputError.
double asked(const std::string& option, const std::string& text, decode::Dimension dimension,
             const std::string& example);

// The text of a TOML or JSON file; "-" is standard input. Throws decode::InputError.
std::string read_text(const std::string& path);
// What that text says. Throws decode::InputError.
decode::Document document_of(const std::string& text, const std::string& path);
// Both at once.
decode::Document read_document(const std::string& path);

// A day as written, with the parameter files it names, which stand relative to its own folder. Throws
// decode::InputError.
app::DayFile day_of(const decode::Document& document, const std::string& path);

// A day with its measured draws applied. Throws decode::InputError.
app::DayFile read_day(const std::string& path);

// The option every command on a day begins with.
void add_day_option(CLI::App& command, std::string& path);

// The option --seed, up to what a number in JSON holds exactly.
void add_seed_option(CLI::App& command, std::uint64_t& seed);

}  // namespace tillwrap::cli
