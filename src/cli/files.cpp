#include "cli/files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include "decode/node.hpp"

namespace tillwrap::cli {

namespace {

[[noreturn]] void refuse(const std::string& path, const std::string& wrong, const std::string& advice) {
  throw decode::InputError(path, {1, 1}, wrong, advice);
}

}  // namespace

std::string name_of(const std::string& path) { return path == "-" ? "standard input" : path; }

std::string read_file(const std::string& path, std::size_t most_bytes) {
  const bool standard_input = path == "-";
  const std::string name = name_of(path);
  struct stat info {};
  if (!standard_input) {
    if (stat(path.c_str(), &info) != 0) {
      refuse(name, errno == ENOENT ? "there is no such file" : std::string("cannot be read: ") + std::strerror(errno),
             "check the path");
    }
    if (S_ISDIR(info.st_mode)) refuse(name, "this is a folder", "name a file in it");
    if (S_ISREG(info.st_mode) && static_cast<std::size_t>(info.st_size) > most_bytes) {
      refuse(name, "the file has " + std::to_string(info.st_size) + " bytes",
             "at most " + std::to_string(most_bytes) + " are read");
    }
  }
  std::FILE* file = standard_input ? stdin : std::fopen(path.c_str(), "rb");
  if (file == nullptr) refuse(name, std::string("cannot be read: ") + std::strerror(errno), "check its permissions");
  std::string text;
  char buffer[65536];
  std::size_t got = 0;
  bool too_long = false;
  while ((got = std::fread(buffer, 1, sizeof buffer, file)) > 0) {
    text.append(buffer, got);
    too_long = text.size() > most_bytes;
    if (too_long) break;
  }
  const bool failed = std::ferror(file) != 0;
  if (!standard_input) std::fclose(file);
  if (failed) refuse(name, "reading stopped half-way", "check the disk");
  if (too_long) refuse(name, "there is too much to read", "at most " + std::to_string(most_bytes) + " bytes are read");
  return text;
}

FileWriter::FileWriter(const std::string& path) : path_(path), target_(path) {
  if (path == "-") refuse(path, "this is no file's name", "name one to write; standard output has the answer");
  struct stat info {};
  const bool there = stat(path.c_str(), &info) == 0;
  if (there && S_ISDIR(info.st_mode)) refuse(path, "this is a folder", "name a file in it");
  // A device or pipe is written to; renaming over it would put a plain file in its place.
  direct_ = there && !S_ISREG(info.st_mode);
  // Through a link the file it leads to is replaced, not the link.
  if (char* real = there ? realpath(path.c_str(), nullptr) : nullptr) {
    target_ = real;
    std::free(real);
  }
  beside_ = direct_ ? target_ : target_ + ".part-" + std::to_string(getpid());
  file_ = open(beside_.c_str(), direct_ ? O_WRONLY | O_CLOEXEC : O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
  if (file_ < 0)
    refuse(path, std::string("cannot be written: ") + std::strerror(errno), "check the folder and its permissions");
}

FileWriter::~FileWriter() {
  if (file_ < 0) return;
  close(file_);
  if (!direct_) unlink(beside_.c_str());
}

void FileWriter::fail(int error) {
  refuse(path_, std::string("cannot be written: ") + std::strerror(error),
         "nothing was changed; free some space or pick another place");
}

void FileWriter::append(const std::string& text) {
  constexpr std::size_t kHeldBytes = 1U << 16U;
  waiting_ += text;
  if (waiting_.size() >= kHeldBytes) flush();
}

void FileWriter::flush() {
  std::size_t done = 0;
  while (done < waiting_.size()) {
    const ssize_t wrote = write(file_, waiting_.data() + done, waiting_.size() - done);
    if (wrote < 0 && errno == EINTR) continue;
    if (wrote <= 0) fail(errno);
    done += static_cast<std::size_t>(wrote);
  }
  waiting_.clear();
}

void FileWriter::commit() {
  flush();
  if (!direct_ && fsync(file_) != 0) fail(errno);
  const int closing = file_;
  file_ = -1;
  const bool good = close(closing) == 0 && (direct_ || rename(beside_.c_str(), target_.c_str()) == 0);
  if (good) return;
  const int error = errno;
  if (!direct_) unlink(beside_.c_str());
  fail(error);
}

void write_file(const std::string& path, const std::string& text) {
  FileWriter out(path);
  out.append(text);
  out.commit();
}

std::string folder_of(const std::string& path) {
  const std::size_t slash = path.find_last_of('/');
  return slash == std::string::npos ? std::string() : path.substr(0, slash + 1);
}

bool exists(const std::string& path) {
  struct stat info {};
  return lstat(path.c_str(), &info) == 0;
}

bool same_file(const std::string& a, const std::string& b) {
  struct stat info_a {};
  struct stat info_b {};
  return stat(a.c_str(), &info_a) == 0 && stat(b.c_str(), &info_b) == 0 && info_a.st_dev == info_b.st_dev &&
         info_a.st_ino == info_b.st_ino;
}

}  // namespace tillwrap::cli
