#include "cli/line_source.hpp"

#include <sys/stat.h>

#include <cerrno>
#include <cstring>

#include "decode/node.hpp"

namespace tillwrap::cli {

namespace {

constexpr std::size_t kChunkBytes = 1U << 16U;

[[noreturn]] void refuse(const std::string& path, std::size_t line, const std::string& wrong,
                         const std::string& advice) {
  throw decode::InputError(path, {line, 1}, wrong, advice);
}

}  // namespace

LineSource::LineSource(const std::string& path) : name_(path == "-" ? "standard input" : path) {
  if (path == "-") {
    file_ = stdin;
    return;
  }
  struct stat info {};
  if (stat(path.c_str(), &info) != 0)
    refuse(name_, 1, errno == ENOENT ? "there is no such file" : std::string("cannot be read: ") + std::strerror(errno),
           "check the path");
  if (S_ISDIR(info.st_mode)) refuse(name_, 1, "this is a folder", "name a file in it");
  file_ = std::fopen(path.c_str(), "rb");
  if (file_ == nullptr)
    refuse(name_, 1, std::string("cannot be read: ") + std::strerror(errno), "check its permissions");
}

LineSource::~LineSource() {
  if (file_ != stdin && file_ != nullptr) std::fclose(file_);
}

bool LineSource::next(std::string& line, std::size_t most) {
  std::size_t searched = at_;
  while (true) {
    const std::size_t end = buffer_.find('\n', searched);
    if (end != std::string::npos || (ended_ && at_ < buffer_.size())) {
      const std::size_t stop = end != std::string::npos ? end : buffer_.size();
      ++number_;
      if (stop - at_ > most) break;
      line.assign(buffer_, at_, stop - at_);
      at_ = end != std::string::npos ? end + 1 : buffer_.size();
      return true;
    }
    if (ended_) return false;
    if (buffer_.size() - at_ > most) {
      ++number_;
      break;
    }
    buffer_.erase(0, at_);
    at_ = 0;
    searched = buffer_.size();
    const std::size_t before = buffer_.size();
    buffer_.resize(before + kChunkBytes);
    const std::size_t got = std::fread(buffer_.data() + before, 1, kChunkBytes, file_);
    buffer_.resize(before + got);
    if (got < kChunkBytes) {
      if (std::ferror(file_) != 0) refuse(name_, number_ + 1, "reading stopped half-way", "check the disk");
      ended_ = std::feof(file_) != 0;
    }
  }
  refuse(name_, number_, "a line of more than " + std::to_string(most) + " bytes",
         "a file of lines has one event a line, each ended by a line feed");
}

}  // namespace tillwrap::cli
