// Where the journal lies on this machine, and lines from files into one.
#pragma once

#include <CLI/CLI.hpp>
#include <cstdint>
#include <map>
#include <string>

#include "journal/fold.hpp"
#include "store/store.hpp"

namespace tillwrap::cli {

// --journal FILE; without it TILLWRAP_JOURNAL, $XDG_DATA_HOME/tillwrap/journal.db, ~/.local/share/tillwrap/journal.db.
void add_journal_option(CLI::App& command, std::string& path);
std::string journal_path(const std::string& said);

// Begins with SQLite's own header.
bool is_database(const std::string& path);

// Lines that are kept as they are and mean nothing here.
struct NotUsed {
  std::map<std::int64_t, std::size_t> later;  // by version
  std::size_t unknown = 0;                    // of this version, with an event nobody knows here
  void count(const journal::Line& line);
};

// Every line of a file (a journal, or lines as text) into the open transaction of `into`. Throws at the first bad line.
void put_file(const std::string& path, store::Store& into, NotUsed& not_used);

// The state after all lines up to a moment.
journal::State folded(store::Store& store, std::int64_t until_us);

}  // namespace tillwrap::cli
