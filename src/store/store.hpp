// A journal on disk: an SQLite file with one table, `journal (id, at_us, line)`, only ever added to.
//
// What `add` or `commit` returned from is on the disk: rollback journal, synchronous=EXTRA, so it survives the end of
// the program at any moment and a loss of power as far as the disk keeps its word. One file, which may be copied while
// nobody writes.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "journal/line.hpp"
#include "journal/unite.hpp"

struct sqlite3;
struct sqlite3_stmt;

namespace tillwrap::store {

enum class Open {
  read,    // must be there
  add,     // made, with its folder, where it is missing
  scratch  // no path: a private file that is gone when closed
};

// What became of lines put in.
struct Added {
  std::size_t fresh = 0;
  std::size_t known = 0;                   // the same line was there
  std::size_t differing = 0;               // of the fresh: another line of that id was there
  std::vector<std::string> differing_ids;  // the first few
};

// Every function throws decode::InputError with the file's path: not there, a folder, no journal, of a later tillwrap,
// read-only, disk full, damaged, in use by another program for more than five seconds.
class Store {
 public:
  Store(const std::string& path, Open how);
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  // One line, by itself and at once. False: it was there.
  bool add(const journal::Line& line);

  // Many lines or none: what `put` took is only there once `commit` has returned; without it all is undone.
  void begin();
  void put(const journal::Line& line);
  Added commit();

  [[nodiscard]] std::size_t size();
  // In the order of a journal, or in the order they came in.
  void each(const std::function<void(const journal::Line&)>& visit);
  void each_as_kept(const std::function<void(const journal::Line&)>& visit);
  // Texts in the order of a journal, not parsed.
  void each_text(const std::function<void(const std::string&)>& visit);
  // Of a damaged file: every line that can still be read, in the order they came in. How many could not, as far as
  // the numbers of the rows tell.
  std::size_t salvage(const std::function<void(const std::string&)>& visit);
  journal::Survey survey();
  // The line with the greatest id: the latest written.
  std::optional<journal::Line> latest_written();
  // Lines whose id ends or begins so, at most `most`.
  std::vector<journal::Line> with_id_like(std::string_view part, std::size_t most);
  // Nothing when SQLite finds its file sound; otherwise what it says.
  std::optional<std::string> damage();

 private:
  class Statement;
  void run(const char* sql);
  void check(int code);
  [[noreturn]] void fail(int code);
  void make_table();
  void check_table();
  journal::Line line_at(Statement& row, int column);
  std::unique_ptr<Statement> prepare(const char* sql);

  std::string path_;
  bool reading_ = false;
  sqlite3* db_ = nullptr;
  bool open_transaction_ = false;
  bool empty_ = false;  // a file without a table yet: an empty journal
  Added added_;
  std::unique_ptr<Statement> has_line_, has_id_, insert_;
};

}  // namespace tillwrap::store
