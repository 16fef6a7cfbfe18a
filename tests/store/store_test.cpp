// The journal on disk: killed at any moment a thousand times, full and read-only disks, files that are something else.
#include "store/store.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <random>
#include <set>

#include "journal/uuid.hpp"

namespace tillwrap::store {
namespace {

class Stored : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "tillwrap-store-XXXXXX").string();
    folder_ = mkdtemp(name.data());
    path_ = folder_ / "journal.db";
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::filesystem::path folder_;
  std::string path_;
};

journal::Line line_of(std::uint64_t n, const std::string& charge = "1") {
  journal::RandomBytes random{};
  for (std::size_t k = 0; k < 6; ++k) random[9 - k] = static_cast<std::uint8_t>(n >> (8 * k));
  const std::int64_t ms = 1'700'000'000'000 + static_cast<std::int64_t>(n);
  return journal::parse_line(journal::compose_line(journal::make_uuid7(ms, random), {1000 * ms, 60}, "laptop",
                                                   "charged", {{"pack", "\"C2\""}, {"charge", charge}}),
                             "f", 1);
}

std::string refusal(const std::function<void()>& act) {
  try {
    act();
  } catch (const decode::InputError& error) {
    return error.what();
  }
  return "";
}

// Past the store: what any program could try.
int sql(const std::string& path, const char* words) {
  sqlite3* db = nullptr;
  sqlite3_open(path.c_str(), &db);
  const int code = sqlite3_exec(db, words, nullptr, nullptr, nullptr);
  sqlite3_close(db);
  return code;
}

TEST_F(Stored, LinesComeBackInOrderAndOnce) {
  Store store(path_, Open::add);
  for (const std::uint64_t n : {3, 1, 2, 1}) store.add(line_of(n));
  EXPECT_EQ(store.size(), 3U);
  std::vector<std::string> texts;
  store.each_text([&](const std::string& text) { texts.push_back(text); });
  EXPECT_EQ(texts, (std::vector<std::string>{line_of(1).text, line_of(2).text, line_of(3).text}));
  EXPECT_EQ(store.latest_written()->id, line_of(3).id);
}

TEST_F(Stored, SameIdWithOtherContentIsKeptAndCounted) {
  Store store(path_, Open::add);
  store.add(line_of(1));
  store.begin();
  store.put(line_of(1, "0.5"));
  store.put(line_of(1));
  const Added added = store.commit();
  EXPECT_EQ(added.fresh, 1U);
  EXPECT_EQ(added.known, 1U);
  EXPECT_EQ(added.differing, 1U);
  EXPECT_EQ(store.survey().differing.at(line_of(1).id).lines, 2U);
}

TEST_F(Stored, UncommittedIsNotThere) {
  Store(path_, Open::add).add(line_of(1));
  {
    Store store(path_, Open::add);
    store.begin();
    for (std::uint64_t n = 2; n < 5000; ++n) store.put(line_of(n));
  }
  EXPECT_EQ(Store(path_, Open::read).size(), 1U);
}

// A writer adds line after line and says so by a byte once each is on the disk; it is killed at a random moment, a
// thousand times on one file. What it said is there, nothing is there but whole lines, and at most one it had no time
// to say.
TEST_F(Stored, KilledAThousandTimes) {
  constexpr int kKills = 1000;
  std::mt19937 random(20261125);
  // In memory where there is such a place: a killed program loses nothing the system has taken, disk or not, and the
  // kills then fall between writes instead of into waits for the disk.
  if (access("/dev/shm", W_OK) == 0) {
    std::filesystem::remove_all(folder_);
    std::string name = "/dev/shm/tillwrap-store-XXXXXX";
    folder_ = mkdtemp(name.data());
    path_ = folder_ / "journal.db";
  }
  std::uniform_int_distribution<int> wait_us(0, 12000);
  std::uint64_t next = 1;        // the writer's next line
  std::uint64_t unsaid = 0;      // lines found that were not acknowledged
  std::uint64_t busy_kills = 0;  // kills that hit a writer which had said something
  const auto check_tail = [&](std::uint64_t said) {
    Store store(path_, Open::read);
    const auto size = store.size();
    ASSERT_GE(size, said) << "an acknowledged line is lost";
    ASSERT_LE(size, said + 1) << "more than the one line in flight";
    const auto latest = store.latest_written();
    if (size > 0) {
      ASSERT_EQ(latest->text, line_of(size).text) << "a line is half-written or out of place";
    }
    unsaid += size - said;
    next = size + 1;
  };
  for (int kill = 0; kill < kKills; ++kill) {
    int pipes[2];
    ASSERT_EQ(pipe(pipes), 0);
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      close(pipes[0]);
      try {
        Store store(path_, Open::add);
        for (std::uint64_t n = next;; ++n) {
          store.add(line_of(n));
          if (write(pipes[1], "x", 1) != 1) _exit(1);
        }
      } catch (const std::exception& error) {
        std::fprintf(stderr, "writer: %s\n", error.what());
        _exit(2);
      }
    }
    close(pipes[1]);
    usleep(static_cast<useconds_t>(wait_us(random)));
    ::kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    ASSERT_TRUE(WIFSIGNALED(status)) << "the writer ended by itself";
    std::uint64_t said = 0;
    char buffer[4096];
    for (ssize_t got = 0; (got = read(pipes[0], buffer, sizeof buffer)) > 0;) said += static_cast<std::uint64_t>(got);
    close(pipes[0]);
    if (said > 0) ++busy_kills;
    // Killed before it had made the file: nothing was said.
    if (!std::filesystem::exists(path_)) {
      ASSERT_EQ(said, 0U);
      continue;
    }
    check_tail(next - 1 + said);
    if (HasFatalFailure()) return;
    if (kill % 100 == 99) {
      Store store(path_, Open::read);
      ASSERT_EQ(store.damage(), std::nullopt);
      std::uint64_t n = 0;
      bool whole = true;
      store.each_text([&](const std::string& text) { whole = whole && text == line_of(++n).text; });
      ASSERT_TRUE(whole);
      ASSERT_EQ(n, next - 1);
    }
  }
  RecordProperty("lines", std::to_string(next - 1));
  RecordProperty("unsaid", std::to_string(unsaid));
  EXPECT_GT(busy_kills, static_cast<std::uint64_t>(kKills / 4)) << "the kills came too early to test anything";
}

// A transaction of thousands of lines, killed at random moments: all or none.
TEST_F(Stored, KilledWhileTakingInManyLines) {
  constexpr std::uint64_t kLines = 3000;
  std::mt19937 random(7);
  std::uniform_int_distribution<int> wait_us(0, 60000);
  int undone = 0;
  int done = 0;
  for (int kill = 0; kill < 60; ++kill) {
    std::filesystem::remove(path_);
    std::filesystem::remove(path_ + "-journal");
    Store(path_, Open::add).add(line_of(0));
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      Store store(path_, Open::add);
      store.begin();
      for (std::uint64_t n = 1; n <= kLines; ++n) store.put(line_of(n));
      store.commit();
      pause();
      _exit(0);
    }
    usleep(static_cast<useconds_t>(wait_us(random)));
    ::kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    Store store(path_, Open::add);
    const std::size_t size = store.size();
    ASSERT_TRUE(size == 1 || size == kLines + 1) << size;
    ASSERT_EQ(store.damage(), std::nullopt);
    ++(size == 1 ? undone : done);
  }
  EXPECT_GT(undone, 0);
  EXPECT_GT(done, 0);
}

// What a child that ends afterwards says.
std::string said_by_child(const std::function<std::string()>& act) {
  int pipes[2];
  if (pipe(pipes) != 0) return "no pipe";
  const pid_t child = fork();
  if (child == 0) {
    const std::string said = act();
    _exit(write(pipes[1], said.data(), said.size()) == static_cast<ssize_t>(said.size()) ? 0 : 1);
  }
  close(pipes[1]);
  std::string said;
  char buffer[4096];
  for (ssize_t got = 0; (got = read(pipes[0], buffer, sizeof buffer)) > 0;)
    said.append(buffer, static_cast<std::size_t>(got));
  close(pipes[0]);
  int status = 0;
  waitpid(child, &status, 0);
  return WIFEXITED(status) ? said : "killed";
}

// In a child whose files may not grow beyond `bytes`, as under a quota.
std::string refusal_when_full(const std::string& path, rlim_t bytes, const std::function<void(Store&)>& act) {
  return said_by_child([&] {
    signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{bytes, bytes};
    setrlimit(RLIMIT_FSIZE, &limit);
    return refusal([&] {
      Store store(path, Open::add);
      act(store);
    });
  });
}

// A disk of 256 kB of its own, where this user may mount one.
TEST_F(Stored, SmallDiskFillsUp) {
  const std::string said = said_by_child([&]() -> std::string {
    if (unshare(CLONE_NEWNS) != 0) return "no";
    if (mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0) return "no";
    if (mount("tmpfs", folder_.c_str(), "tmpfs", 0, "size=256k") != 0) return "no";
    std::uint64_t n = 0;
    std::string out = refusal([&] {
      Store store(path_, Open::add);
      for (n = 1; n < 100000; ++n) store.add(line_of(n));
    });
    Store store(path_, Open::read);
    // All that was acknowledged, and the one that was refused is not there.
    out += store.size() == n - 1 ? " all there" : " lost";
    return out + (store.damage() ? " damaged" : " sound");
  });
  if (said == "no") GTEST_SKIP() << "no disk can be mounted here";
  EXPECT_NE(said.find("the disk is full; nothing was added; free some space and do it again all there sound"),
            std::string::npos)
      << said;
}

TEST_F(Stored, FullDiskIsToldAndNothingIsLost) {
  {
    Store store(path_, Open::add);
    store.begin();
    for (std::uint64_t n = 1; n <= 200; ++n) store.put(line_of(n));
    store.commit();
  }
  const auto bytes = static_cast<rlim_t>(std::filesystem::file_size(path_));
  // One by one until it is full, and many at once.
  const std::string one = refusal_when_full(path_, bytes + 8192, [](Store& store) {
    for (std::uint64_t n = 201; n < 5000; ++n) store.add(line_of(n));
  });
  EXPECT_NE(one.find("the disk is full, or it failed while writing; nothing was added; free some space"),
            std::string::npos)
      << one;
  const std::size_t after = Store(path_, Open::read).size();
  EXPECT_GE(after, 200U);
  const std::string many = refusal_when_full(path_, bytes + 8192, [](Store& store) {
    store.begin();
    for (std::uint64_t n = 10000; n < 30000; ++n) store.put(line_of(n));
    store.commit();
  });
  EXPECT_NE(many.find("the disk is full"), std::string::npos) << many;
  Store store(path_, Open::add);
  EXPECT_EQ(store.size(), after);
  EXPECT_EQ(store.damage(), std::nullopt);
  store.add(line_of(60000));
  EXPECT_EQ(store.size(), after + 1);
}

TEST_F(Stored, FullDiskLeavesNoJournalHalfMade) {
  EXPECT_NE(refusal_when_full(path_, 1024, [](Store& store) { store.add(line_of(1)); }).find("the disk is full"),
            std::string::npos);
  Store store(path_, Open::add);
  EXPECT_EQ(store.size(), 0U);
  EXPECT_TRUE(store.add(line_of(1)));
}

// As a user who may not write there; root may everywhere, so a child becomes nobody first.
TEST_F(Stored, ReadOnlyIsTold) {
  Store(path_, Open::add).add(line_of(1));
  chmod(path_.c_str(), 0444);
  chmod(folder_.c_str(), 0555);
  const std::string said = said_by_child([&]() -> std::string {
    if (geteuid() == 0 && setuid(65534) != 0) return "no other user";
    return refusal([&] { Store(path_, Open::add).add(line_of(2)); }) + "\n" +
           refusal([&] { Store(folder_ / "new.db", Open::add).add(line_of(2)); }) + "\n" +
           std::to_string(Store(path_, Open::read).size());
  });
  chmod(folder_.c_str(), 0755);
  EXPECT_NE(said.find("journal.db:1:1: this journal cannot be written to here; nothing was added"), std::string::npos)
      << said;
  EXPECT_NE(said.find("new.db:1:1: cannot be made here: Permission denied"), std::string::npos) << said;
  EXPECT_TRUE(said.ends_with("\n1")) << said;
}

TEST_F(Stored, WhatIsNoJournal) {
  const auto opening = [&](Open how) { return refusal([&] { Store store(path_, how); }); };
  EXPECT_NE(opening(Open::read).find("there is no journal here"), std::string::npos);
  std::ofstream(path_) << "{\"v\":1}\n" << std::string(5000, 'x');
  EXPECT_NE(opening(Open::read).find("this is no journal"), std::string::npos) << opening(Open::read);
  EXPECT_NE(opening(Open::add).find("this is no journal"), std::string::npos);
  std::filesystem::remove(path_);
  ASSERT_EQ(sql(path_, "CREATE TABLE takes (id)"), SQLITE_OK);
  EXPECT_NE(opening(Open::add).find("a database, but no journal"), std::string::npos);
  std::filesystem::remove(path_);
  Store(path_, Open::add).add(line_of(1));
  ASSERT_EQ(sql(path_, "PRAGMA user_version=2"), SQLITE_OK);
  EXPECT_NE(opening(Open::read).find("made by a later tillwrap"), std::string::npos);
  std::filesystem::remove(path_);
  std::filesystem::create_directory(path_);
  EXPECT_NE(opening(Open::add).find("this is a folder"), std::string::npos);
  std::filesystem::remove(path_);
  std::ofstream(path_).close();  // a file of no bytes is a journal of no lines
  EXPECT_EQ(Store(path_, Open::read).size(), 0U);
  EXPECT_EQ(refusal([&] { Store(path_, Open::read).add(line_of(1)); }).empty(), false);
}

TEST_F(Stored, DamageIsTold) {
  {
    Store store(path_, Open::add);
    store.begin();
    for (std::uint64_t n = 1; n <= 2000; ++n) store.put(line_of(n));
    store.commit();
  }
  {
    std::fstream file(path_, std::ios::in | std::ios::out | std::ios::binary);
    file.seekp(3 * 4096);
    file << std::string(8 * 4096, '\x5A');
  }
  const std::string said = refusal([&] {
    Store store(path_, Open::read);
    if (const auto damage = store.damage()) throw decode::InputError(path_, {1, 1}, "damaged: " + *damage, "");
    store.each_text([](const std::string&) {});
  });
  EXPECT_NE(said.find("damaged"), std::string::npos) << said;
  // Eight pages of some hundred are lost; the rest can be had.
  Store store(path_, Open::read);
  std::set<std::string> saved;
  store.salvage([&](const std::string& text) { saved.insert(text); });
  EXPECT_GT(saved.size(), 1500U);
  EXPECT_LE(saved.size(), 2000U);
  for (std::uint64_t n = 1; n <= 2000; ++n) saved.erase(line_of(n).text);
  EXPECT_TRUE(saved.empty()) << "a line came back changed";
}

TEST_F(Stored, OnlyAddedTo) {
  Store(path_, Open::add).add(line_of(1));
  EXPECT_EQ(sql(path_, "DELETE FROM journal"), SQLITE_CONSTRAINT);
  EXPECT_EQ(sql(path_, "UPDATE journal SET line='{}'"), SQLITE_CONSTRAINT);
  EXPECT_EQ(Store(path_, Open::read).size(), 1U);
}

}  // namespace
}  // namespace tillwrap::store
