// A line on the terminal that is written over while something takes its time; nothing in a file or a pipe.
#pragma once

#include <chrono>
#include <cstddef>
#include <mutex>
#include <string>

#include "odds/work.hpp"

namespace tillwrap::cli {

class Watched {
 public:
  explicit Watched(std::string doing);
  ~Watched() { over(); }
  Watched(const Watched&) = delete;
  Watched& operator=(const Watched&) = delete;

  void say(const std::string& how_far);
  // "batches of fresh days, 3 of 20", ten times a second at most. Good while this lives.
  odds::Tell tell();
  // Takes the line away.
  void over();

 private:
  void write(const std::string& how_far, bool at_once);

  std::string doing_;
  bool shown_ = false;
  bool terminal_ = false;
  std::mutex one_at_a_time_;
  std::chrono::steady_clock::time_point last_;
  std::string part_;
  std::size_t pieces_ = 0;
  std::size_t done_ = 0;
};

}  // namespace tillwrap::cli
