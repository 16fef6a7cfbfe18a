#include "cli/journal_file.hpp"

#include <cstdio>
#include <cstdlib>

#include "cli/line_source.hpp"

namespace tillwrap::cli {

void add_journal_option(CLI::App& command, std::string& path) {
  command.add_option(
      "--journal", path,
      "journal file; else TILLWRAP_JOURNAL, else tillwrap/journal.db in XDG_DATA_HOME or ~/.local/share");
}

std::string journal_path(const std::string& said) {
  const auto from = [](const char* name) {
    const char* value = std::getenv(name);
    return std::string(value == nullptr ? "" : value);
  };
  if (!said.empty()) return said;
  if (const std::string path = from("TILLWRAP_JOURNAL"); !path.empty()) return path;
  // A relative XDG_DATA_HOME is to be taken for none (XDG Base Directory Specification 0.8).
  if (const std::string data = from("XDG_DATA_HOME"); data.starts_with("/")) return data + "/tillwrap/journal.db";
  if (const std::string home = from("HOME"); !home.empty()) return home + "/.local/share/tillwrap/journal.db";
  throw decode::InputError("command line", {1, 1}, "there is no home folder to keep a journal in",
                           "name one: --journal FILE");
}

bool is_database(const std::string& path) {
  if (path == "-") return false;
  std::FILE* file = std::fopen(path.c_str(), "rb");
  if (file == nullptr) return false;
  char head[16] = {};
  const std::size_t got = std::fread(head, 1, sizeof head, file);
  std::fclose(file);
  return got == sizeof head && std::string(head, 15) == "SQLite format 3";
}

void NotUsed::count(const journal::Line& line) {
  if (line.form != nullptr) return;
  if (line.version > journal::kVersion) {
    ++later[line.version];
  } else {
    ++unknown;
  }
}

void put_file(const std::string& path, store::Store& into, NotUsed& not_used) {
  const auto put = [&](const journal::Line& line) {
    into.put(line);
    not_used.count(line);
  };
  if (is_database(path)) {
    store::Store other(path, store::Open::read);
    other.each(put);
    return;
  }
  LineSource source(path);
  std::string text;
  while (source.next(text, journal::kMostLineBytes)) {
    if (text.find_first_not_of(" \t\r") == std::string::npos) continue;
    put(journal::parse_line(text, source.name(), source.number()));
  }
}

journal::State folded(store::Store& store, std::int64_t until_us) {
  journal::Fold fold(store.survey());
  store.each([&](const journal::Line& line) {
    if (line.at.us <= until_us) fold.add(line);
  });
  return fold.take();
}

}  // namespace tillwrap::cli
