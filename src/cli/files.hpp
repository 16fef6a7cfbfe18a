// Reading and writing files for the command line: whole or not at all.
#pragma once

#include <cstddef>
#include <string>

namespace tillwrap::cli {

// What to call it in messages: "standard input" for "-".
std::string name_of(const std::string& path);

// The whole file, or standard input for "-". Throws decode::InputError: missing, unreadable, a folder, longer than
// `most_bytes` (found out before it is read).
std::string read_file(const std::string& path, std::size_t most_bytes);

// Writes beside the target and renames, so that a failure leaves nothing half-written; devices and pipes are written to
// as they are. Throws decode::InputError.
void write_file(const std::string& path, const std::string& text);

// The same for what is too long to hold: what was appended is there once `commit` has returned, else nothing is.
class FileWriter {
 public:
  explicit FileWriter(const std::string& path);
  ~FileWriter();
  FileWriter(const FileWriter&) = delete;
  FileWriter& operator=(const FileWriter&) = delete;
  void append(const std::string& text);
  void commit();

 private:
  void flush();
  [[noreturn]] void fail(int error);
  std::string path_, target_, beside_, waiting_;
  bool direct_ = false;  // a device or pipe
  int file_ = -1;
};

// "days/" of "days/1.toml"; empty where there is none.
std::string folder_of(const std::string& path);
bool exists(const std::string& path);
bool same_file(const std::string& a, const std::string& b);

}  // namespace tillwrap::cli
