#include "store/store.hpp"

#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "decode/node.hpp"

namespace tillwrap::store {

namespace {

constexpr int kBusy_ms = 5000;
constexpr int kApplication = 0x54577231;  // "TWr1", in the header of the file
constexpr int kLayout = 1;                // of the table, in user_version
constexpr std::size_t kMostTold = 5;

// No line is changed or deleted by anyone through SQL either: the triggers refuse.
constexpr const char* kTable =
    "CREATE TABLE journal (id TEXT NOT NULL, at_us INTEGER NOT NULL, line TEXT NOT NULL);"
    "CREATE INDEX journal_by_id ON journal (id);"
    "CREATE INDEX journal_by_time ON journal (at_us, id);"
    "CREATE TRIGGER journal_no_update BEFORE UPDATE ON journal BEGIN"
    " SELECT RAISE(ABORT, 'a journal is only added to'); END;"
    "CREATE TRIGGER journal_no_delete BEFORE DELETE ON journal BEGIN"
    " SELECT RAISE(ABORT, 'a journal is only added to'); END;";

[[noreturn]] void refuse(const std::string& path, const std::string& wrong, const std::string& advice) {
  throw decode::InputError(path, {1, 1}, wrong, advice);
}

void make_folders(const std::string& path) {
  for (std::size_t k = path.find('/', 1); k != std::string::npos; k = path.find('/', k + 1)) {
    const std::string folder = path.substr(0, k);
    if (mkdir(folder.c_str(), 0755) != 0 && errno != EEXIST)
      refuse(path, "its folder cannot be made: " + std::string(std::strerror(errno)), "name another place");
  }
}

}  // namespace

class Store::Statement {
 public:
  Statement(Store& store, const char* sql) : store_(store) {
    store_.check(sqlite3_prepare_v2(store_.db_, sql, -1, &own_, nullptr));
  }
  ~Statement() { sqlite3_finalize(own_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  Statement& bind(int k, std::string_view text) {
    store_.check(sqlite3_bind_text64(own_, k, text.data(), text.size(), SQLITE_STATIC, SQLITE_UTF8));
    return *this;
  }
  Statement& bind(int k, std::int64_t value) {
    store_.check(sqlite3_bind_int64(own_, k, value));
    return *this;
  }
  bool step() {
    const int code = sqlite3_step(own_);
    if (code == SQLITE_ROW) return true;
    if (code != SQLITE_DONE) store_.fail(code);
    return false;
  }
  [[nodiscard]] std::optional<std::string> text_if_readable() {
    if (sqlite3_step(own_) != SQLITE_ROW) return std::nullopt;
    return text(0);
  }
  void reset() { sqlite3_reset(own_); }
  [[nodiscard]] std::string text(int column) const {
    const auto* bytes = reinterpret_cast<const char*>(sqlite3_column_text(own_, column));
    return bytes == nullptr ? std::string()
                            : std::string(bytes, static_cast<std::size_t>(sqlite3_column_bytes(own_, column)));
  }
  [[nodiscard]] std::int64_t integer(int column) const { return sqlite3_column_int64(own_, column); }

 private:
  Store& store_;
  sqlite3_stmt* own_ = nullptr;
};

std::unique_ptr<Store::Statement> Store::prepare(const char* sql) { return std::make_unique<Statement>(*this, sql); }

void Store::check(int code) {
  if (code != SQLITE_OK) fail(code);
}

void Store::fail(int code) {
  const int extended = db_ != nullptr ? sqlite3_extended_errcode(db_) : code;
  const int system = db_ != nullptr ? sqlite3_system_errno(db_) : 0;
  const std::string said = db_ != nullptr ? sqlite3_errmsg(db_) : sqlite3_errstr(code);
  const char* nothing = reading_ ? "nothing was changed" : "nothing was added";
  if (code == SQLITE_FULL)
    refuse(path_, "the disk is full", std::string(nothing) + "; free some space and do it again");
  // A quota or a limit on file size is such an error too; the system's own reason is lost while SQLite undoes the rest.
  if (extended == SQLITE_IOERR_WRITE || extended == SQLITE_IOERR_FSYNC || extended == SQLITE_IOERR_TRUNCATE) {
    refuse(path_, "the disk is full, or it failed while writing",
           std::string(nothing) + "; free some space, check the disk, and do it again");
  }
  switch (code) {
    case SQLITE_READONLY:
    case SQLITE_PERM:
      if (reading_)
        refuse(path_, "this journal was being written when its program ended, and that cannot be undone here",
               "read it where it may be written to; nothing acknowledged is lost");
      refuse(path_, "this journal cannot be written to here",
             std::string(nothing) + "; check the permissions of the file and its folder");
    case SQLITE_CANTOPEN:
      refuse(path_, "cannot be opened: " + std::string(system != 0 ? std::strerror(system) : said.c_str()),
             "check the path and its permissions");
    case SQLITE_NOTADB:
      refuse(path_, "this is no journal",
             "name a journal of tillwrap; a file of lines is read with: tillwrap journal import");
    case SQLITE_CORRUPT:
      refuse(
          path_, "this journal is damaged: " + said,
          "keep the file; save what can be read with: tillwrap journal export --salvage --out FILE, and import that");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      refuse(path_, "another program is writing to this journal",
             std::string(nothing) + "; do it again when that is done");
    case SQLITE_CONSTRAINT:
      refuse(path_, said, "nothing was changed");
    default:
      refuse(path_,
             "the journal failed: " + said + (system != 0 ? std::string(" (") + std::strerror(system) + ")" : "") +
                 ", code " + std::to_string(extended),
             std::string(nothing) + "; check the disk");
  }
}

void Store::run(const char* sql) { check(sqlite3_exec(db_, sql, nullptr, nullptr, nullptr)); }

Store::Store(const std::string& path, Open how) : path_(path), reading_(how == Open::read) {
  if (how != Open::scratch) {
    struct stat info {};
    const bool there = stat(path.c_str(), &info) == 0;
    if (!there && errno != ENOENT && errno != ENOTDIR)
      refuse(path, std::string("cannot be opened: ") + std::strerror(errno), "check the path and its permissions");
    if (there && S_ISDIR(info.st_mode)) refuse(path, "this is a folder", "name a file in it");
    if (there && !S_ISREG(info.st_mode)) refuse(path, "this is no plain file", "a journal is a file on a disk");
    if (!there && how == Open::read)
      refuse(path, "there is no journal here", "name one with --journal, or begin one with: tillwrap journal add");
    if (!there) {
      make_folders(path);
      const std::size_t slash = path.find_last_of('/');
      const std::string folder = slash == std::string::npos ? "." : path.substr(0, slash + 1);
      if (access(folder.c_str(), W_OK | X_OK) != 0)
        refuse(path, std::string("cannot be made here: ") + std::strerror(errno),
               "check the folder and its permissions");
    }
  }
  // To be read it is opened for writing where that may be: what a killed writer left unfinished is undone first.
  const int flags = SQLITE_OPEN_READWRITE | (how == Open::read ? 0 : SQLITE_OPEN_CREATE);
  const int code =
      sqlite3_open_v2(how == Open::scratch ? "" : path.c_str(), &db_, flags | SQLITE_OPEN_NOMUTEX, nullptr);
  try {
    check(code);
    sqlite3_extended_result_codes(db_, 0);
    sqlite3_busy_timeout(db_, kBusy_ms);
    // A text is compared and searched as bytes; nothing of a journal waits in memory for longer than a transaction.
    run("PRAGMA trusted_schema=OFF; PRAGMA case_sensitive_like=ON; PRAGMA temp_store=FILE");
    if (how == Open::scratch) {
      run("PRAGMA synchronous=OFF; PRAGMA journal_mode=OFF");
    } else if (how == Open::read) {
      run("PRAGMA query_only=ON");
    } else {
      run("PRAGMA journal_mode=DELETE; PRAGMA synchronous=EXTRA");
    }
    check_table();
    if (empty_ && how != Open::read) make_table();
  } catch (...) {
    sqlite3_close(db_);
    throw;
  }
}

Store::~Store() {
  has_line_.reset();
  has_id_.reset();
  insert_.reset();
  if (open_transaction_) sqlite3_exec(db_, "ROLLBACK", nullptr, nullptr, nullptr);
  sqlite3_close(db_);
}

void Store::check_table() {
  const auto number = [&](const char* sql) {
    const auto row = prepare(sql);
    return row->step() ? row->integer(0) : 0;
  };
  empty_ = number("SELECT count(*) FROM sqlite_master") == 0;
  const std::int64_t application = number("PRAGMA application_id");
  if (empty_ && (application == 0 || application == kApplication)) return;
  if (application != kApplication)
    refuse(path_, "this is a database, but no journal of tillwrap", "name another file; nothing was changed");
  if (number("PRAGMA user_version") > kLayout)
    refuse(path_, "this journal was made by a later tillwrap",
           "use that one, or export it there and import the lines here");
}

void Store::make_table() {
  run("BEGIN IMMEDIATE");
  open_transaction_ = true;
  check_table();  // another program may have been first
  if (empty_) {
    run(kTable);
    run(("PRAGMA application_id=" + std::to_string(kApplication) + "; PRAGMA user_version=" + std::to_string(kLayout))
            .c_str());
  }
  run("COMMIT");
  open_transaction_ = false;
  empty_ = false;
}

bool Store::add(const journal::Line& line) {
  begin();
  put(line);
  return commit().fresh > 0;
}

void Store::begin() {
  run("BEGIN IMMEDIATE");
  open_transaction_ = true;
  added_ = {};
  if (!insert_) {
    has_line_ = prepare("SELECT 1 FROM journal WHERE id=?1 AND line=?2");
    has_id_ = prepare("SELECT 1 FROM journal WHERE id=?1");
    insert_ = prepare("INSERT INTO journal (id, at_us, line) VALUES (?1, ?2, ?3)");
  }
}

void Store::put(const journal::Line& line) {
  has_id_->bind(1, line.id);
  const bool id_there = has_id_->step();
  has_id_->reset();
  if (id_there) {
    has_line_->bind(1, line.id).bind(2, line.text);
    const bool line_there = has_line_->step();
    has_line_->reset();
    if (line_there) {
      ++added_.known;
      return;
    }
    ++added_.differing;
    if (added_.differing_ids.size() < kMostTold) added_.differing_ids.push_back(line.id);
  }
  insert_->bind(1, line.id).bind(2, line.at.us).bind(3, line.text);
  insert_->step();
  insert_->reset();
  ++added_.fresh;
}

Added Store::commit() {
  run("COMMIT");
  open_transaction_ = false;
  return added_;
}

std::size_t Store::size() {
  if (empty_) return 0;
  const auto row = prepare("SELECT count(*) FROM journal");
  row->step();
  return static_cast<std::size_t>(row->integer(0));
}

journal::Line Store::line_at(Statement& row, int column) { return journal::parse_line(row.text(column), path_, 1); }

void Store::each(const std::function<void(const journal::Line&)>& visit) {
  if (empty_) return;
  const auto row = prepare("SELECT line FROM journal ORDER BY at_us, id, line");
  while (row->step()) visit(line_at(*row, 0));
}

void Store::each_as_kept(const std::function<void(const journal::Line&)>& visit) {
  if (empty_) return;
  const auto row = prepare("SELECT line FROM journal ORDER BY rowid");
  while (row->step()) visit(line_at(*row, 0));
}

void Store::each_text(const std::function<void(const std::string&)>& visit) {
  if (empty_) return;
  const auto row = prepare("SELECT line FROM journal ORDER BY at_us, id, line");
  while (row->step()) visit(row->text(0));
}

std::size_t Store::salvage(const std::function<void(const std::string&)>& visit) {
  // Row by row past the indexes: where a page is lost, only its own rows are. The last row cannot be asked for when the
  // pages that lead to it are lost, so the search goes on for as many rows as a lost inner page leads to.
  constexpr std::int64_t kGiveUpAfter = 200'000;
  std::size_t lost = 0;
  std::size_t in_a_row = 0;
  if (empty_) return 0;
  const auto row = prepare("SELECT line FROM journal NOT INDEXED WHERE rowid=?1");
  for (std::int64_t n = 1; static_cast<std::int64_t>(in_a_row) < kGiveUpAfter; ++n) {
    row->bind(1, n);
    const std::optional<std::string> text = row->text_if_readable();
    row->reset();
    bool good = false;
    if (text) {
      try {
        visit(journal::parse_line(*text, path_, 1).text);
        good = true;
      } catch (const decode::InputError&) {
        good = false;  // its bytes were hit
      }
    }
    if (good) {
      lost += in_a_row;
      in_a_row = 0;
    } else {
      ++in_a_row;
    }
  }
  return lost;
}

journal::Survey Store::survey() {
  std::vector<journal::Line> takers;
  std::vector<journal::Line> same_id;
  if (!empty_) {
    const auto taking = prepare("SELECT line FROM journal WHERE line LIKE '%taken_back%'");
    while (taking->step()) takers.push_back(line_at(*taking, 0));
    const auto twice =
        prepare("SELECT line FROM journal WHERE id IN (SELECT id FROM journal GROUP BY id HAVING count(*) > 1)");
    while (twice->step()) same_id.push_back(line_at(*twice, 0));
  }
  return journal::survey(takers, same_id);
}

std::optional<journal::Line> Store::latest_written() {
  if (empty_) return std::nullopt;
  const auto row = prepare("SELECT line FROM journal ORDER BY id DESC LIMIT 1");
  if (!row->step()) return std::nullopt;
  return line_at(*row, 0);
}

std::vector<journal::Line> Store::with_id_like(std::string_view part, std::size_t most) {
  std::vector<journal::Line> out;
  if (empty_ || part.find_first_not_of("0123456789abcdef-") != std::string_view::npos) return out;
  const auto row =
      prepare("SELECT line FROM journal WHERE id LIKE ?1 || '%' OR id LIKE '%' || ?1 ORDER BY id LIMIT ?2");
  row->bind(1, part).bind(2, static_cast<std::int64_t>(most));
  while (row->step()) out.push_back(line_at(*row, 0));
  return out;
}

std::optional<std::string> Store::damage() {
  const auto row = prepare("PRAGMA integrity_check(1)");
  if (!row->step()) return std::nullopt;
  const std::string said = row->text(0);
  if (said == "ok") return std::nullopt;
  return said;
}

}  // namespace tillwrap::store
