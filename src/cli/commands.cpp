#include "cli/commands.hpp"

#include <cstdio>

#include "app/measured.hpp"
#include "cli/files.hpp"

namespace tillwrap::cli {

int print(const std::string& text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0) {
    std::fputs("tillwrap: the output could not be written\n", stderr);
    return 2;
  }
  return 0;
}

decode::Document read_document(const std::string& path) {
  const std::string text = read_file(path, decode::kMaxTextBytes);
  const std::string name = path == "-" ? "standard input" : path;
  // A TOML text cannot begin with a brace, a JSON object does.
  const std::size_t start = text.find_first_not_of(" \t\r\n");
  const bool json = path.ends_with(".json") || (start != std::string::npos && text[start] == '{');
  return json ? decode::read_json(text, name) : decode::read_toml(text, name);
}

app::DayFile read_day(const std::string& path) {
  app::DayFile file = app::read_day(read_document(path), catalogue::builtin());
  app::apply_measured(file);
  return file;
}

void add_day_option(CLI::App& command, std::string& path) {
  command.add_option("DAY", path, "day file, TOML or JSON; - for standard input")->required();
}

}  // namespace tillwrap::cli
