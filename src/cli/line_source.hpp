// Lines of a file of any length, one at a time, in constant memory.
#pragma once

#include <cstddef>
#include <cstdio>
#include <string>

namespace tillwrap::cli {

class LineSource {
 public:
  // "-" is standard input. Throws decode::InputError: missing, unreadable, a folder.
  explicit LineSource(const std::string& path);
  ~LineSource();
  LineSource(const LineSource&) = delete;
  LineSource& operator=(const LineSource&) = delete;

  // False at the end. Without its "\n". Throws decode::InputError: a line of more than `most` bytes, a failing disk.
  bool next(std::string& line, std::size_t most);
  [[nodiscard]] std::size_t number() const { return number_; }  // of the line last given, from 1
  [[nodiscard]] const std::string& name() const { return name_; }

 private:
  std::string name_;
  std::FILE* file_ = nullptr;
  std::size_t number_ = 0;
  std::string buffer_;
  std::size_t at_ = 0;
  bool ended_ = false;
};

}  // namespace tillwrap::cli
