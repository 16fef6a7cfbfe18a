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

void refuse(const std::string& what, const std::string& what_to_do) {
  throw decode::InputError("command line", {1, 1}, what, what_to_do);
}

double asked(const std::string& option, const std::string& text, decode::Dimension dimension,
             const std::string& example) {
  try {
    return decode::parse_quantity(text, dimension);
  } catch (const decode::QuantityError& error) {
    refuse(option + ": " + error.what(), error.hint.empty() ? "write it as " + example : error.hint);
  }
}

std::string read_text(const std::string& path) { return read_file(path, decode::kMaxTextBytes); }

decode::Document document_of(const std::string& text, const std::string& path) {
  const std::string name = name_of(path);
  return path.ends_with(".json") ? decode::read_json(text, name) : decode::read_toml_or_json(text, name);
}

decode::Document read_document(const std::string& path) { return document_of(read_text(path), path); }

app::DayFile day_of(const decode::Document& document, const std::string& path) {
  const std::string folder = folder_of(path);
  app::ParamsFiles params;
  for (const app::NamedFile& named : app::params_named(document)) {
    const std::string where = named.name.starts_with('/') ? named.name : folder + named.name;
    if (named.name.empty() || named.name == "-" || !exists(where)) {
      throw decode::InputError(document.source, named.place,
                               "there is no parameter file \"" + named.name.substr(0, 60) + "\"",
                               "a path is relative to the day file; write one with tillwrap fit");
    }
    params.emplace(named.name, read_document(where));
  }
  return app::read_day(document, catalogue::builtin(), params);
}

app::DayFile read_day(const std::string& path) {
  app::DayFile file = day_of(read_document(path), path);
  app::apply_measured(file);
  return file;
}

void add_day_option(CLI::App& command, std::string& path) {
  command.add_option("DAY", path, "day file, TOML or JSON; - for standard input")->required();
}

void add_seed_option(CLI::App& command, std::uint64_t& seed) {
  command.add_option("--seed", seed, "another seed draws other days")
      ->capture_default_str()
      ->check(
          [](const std::string& text) {
            constexpr std::size_t kMostDigits = 15;
            const bool whole = !text.empty() && text.find_first_not_of("0123456789") == std::string::npos;
            return whole && text.size() <= kMostDigits ? std::string()
                                                       : "Value " + text + " is no whole number of at most 15 digits";
          },
          "", "seed");
}

}  // namespace tillwrap::cli
