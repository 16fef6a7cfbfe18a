#include "cli/files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>

#include "decode/node.hpp"

namespace tillwrap::cli {

namespace {

[[noreturn]] void refuse(const std::string& path, const std::string& wrong, const std::string& advice) {
  throw decode::InputError(path, {1, 1}, wrong, advice);
}

}  // namespace

std::string read_file(const std::string& path, std::size_t most_bytes) {
  const bool standard_input = path == "-";
  struct stat info {};
  if (!standard_input) {
    if (stat(path.c_str(), &info) != 0) {
      refuse(path, errno == ENOENT ? "there is no such file" : std::string("cannot be read: ") + std::strerror(errno), "check the path; \"tillwrap init\" writes a starter day file");
    }
    if (S_ISDIR(info.st_mode)) refuse(path, "this is a folder", "name a file");
    if (S_ISREG(info.st_mode) && static_cast<std::size_t>(info.st_size) > most_bytes) {
      refuse(path, "the file has " + std::to_string(info.st_size) + " bytes", "at most " + std::to_string(most_bytes) + " are read");
    }
  }
  std::FILE* file = standard_input ? stdin : std::fopen(path.c_str(), "rb");
  if (file == nullptr) refuse(path, std::string("cannot be read: ") + std::strerror(errno), "check its permissions");
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
  if (failed) refuse(path, "reading stopped half-way", "check the disk");
  if (too_long) refuse(path, "there is too much to read", "at most " + std::to_string(most_bytes) + " bytes are read");
  return text;
}

void write_file(const std::string& path, const std::string& text) {
  const std::string beside = path + ".part-" + std::to_string(getpid());
  const int file = open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
  if (file < 0) refuse(path, std::string("cannot be written: ") + std::strerror(errno), "check the folder and its permissions");
  std::size_t done = 0;
  bool good = true;
  while (good && done < text.size()) {
    const ssize_t wrote = write(file, text.data() + done, text.size() - done);
    if (wrote < 0 && errno == EINTR) continue;
    good = wrote > 0;
    if (good) done += static_cast<std::size_t>(wrote);
  }
  good = good && fsync(file) == 0;
  const int error = errno;
  good = close(file) == 0 && good;
  if (good && rename(beside.c_str(), path.c_str()) == 0) return;
  const int reason = good ? errno : error;
  unlink(beside.c_str());
  refuse(path, std::string("cannot be written: ") + std::strerror(reason), "nothing was changed; free some space or pick another place");
}

bool exists(const std::string& path) {
  struct stat info {};
  return stat(path.c_str(), &info) == 0;
}

}  // namespace tillwrap::cli
