// `tillwrap fit`: options, files, progress.
#pragma once

#include <CLI/CLI.hpp>
#include <optional>
#include <string>
#include <vector>

#include "decode/node.hpp"

namespace tillwrap::cli {

struct FitOptions {
  std::vector<std::string> logs;
  std::vector<std::string> pulses;
  std::vector<std::string> ambient;
  std::string chemistry;
  std::optional<std::string> capacity;
  std::string params;
  std::string out;
  int cells = 1;
  bool health_only = false;
  bool json = false;
};

CLI::App* add_fit(CLI::App& program, FitOptions& options);

// What to print. Throws decode::InputError. `read_document` reads a parameter file.
std::string fit_command(const FitOptions& options, decode::Document (*read_document)(const std::string&));

}  // namespace tillwrap::cli
