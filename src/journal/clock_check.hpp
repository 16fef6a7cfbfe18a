// Signs in a journal that a device's clock was wrong.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "journal/fold.hpp"
#include "journal/line.hpp"

namespace tillwrap::journal {

// Takes lines in the order they came into the journal. Told are: a line written over a minute before the one its device
// wrote ahead of it, and telling of an earlier time as well (an older file merged in later shows the same; entries made
// afterwards, "10 min ago", do not), and a line written over a day after `now_us`.
class ClockCheck {
 public:
  explicit ClockCheck(std::int64_t now_us) : now_us_(now_us) {}
  void add(const Line& line);
  [[nodiscard]] const std::vector<Remark>& remarks() const { return remarks_; }
  [[nodiscard]] std::size_t count() const { return count_; }  // all; remarks() holds the first kMostRemarks

 private:
  struct Last {
    std::int64_t written_ms = 0;
    std::int64_t at_us = 0;
  };
  void remark(const Line& line, std::string text);
  std::int64_t now_us_;
  std::map<std::string, Last> last_;  // by device
  std::vector<Remark> remarks_;
  std::size_t count_ = 0;
};

// "3 h", "25 min", "2 days": a length for a remark.
std::string length_text(std::int64_t us);

}  // namespace tillwrap::journal
