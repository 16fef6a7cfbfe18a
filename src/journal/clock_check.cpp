#include "journal/clock_check.hpp"

#include "journal/uuid.hpp"

namespace tillwrap::journal {

namespace {

constexpr std::int64_t kJump_ms = 60'000;

}  // namespace

std::string length_text(std::int64_t us) {
  const std::int64_t minutes = us / (60 * kSecond_us);
  if (minutes < 120) return std::to_string(minutes) + " min";
  if (minutes < 48 * 60) return std::to_string(minutes / 60) + " h";
  return std::to_string(minutes / 1440) + " days";
}

void ClockCheck::remark(const Line& line, std::string text) {
  if (++count_ <= kMostRemarks) remarks_.push_back({Remark::Kind::clock, line.id, std::move(text)});
}

void ClockCheck::add(const Line& line) {
  const std::int64_t written_ms = made_ms(line.id);
  const std::string who = line.by.empty() ? "a device" : "\"" + line.by + "\"";
  if (1000 * written_ms > now_us_ + kDay_us) {
    remark(line, who + " wrote a line at " + moment_text({1000 * written_ms, line.at.offset_min}) +
                     ", which is still to come: its clock was ahead");
  }
  const auto [it, first] = last_.try_emplace(line.by);
  const Last before = it->second;
  it->second = {written_ms, line.at.us};
  if (first || before.written_ms - written_ms <= kJump_ms || line.at.us >= before.at_us) return;
  remark(line, "the clock of " + who + " went back by " + length_text(1000 * (before.written_ms - written_ms)) +
                   " to " + moment_text({1000 * written_ms, line.at.offset_min}) +
                   " (or an older file was merged in later)");
}

}  // namespace tillwrap::journal
