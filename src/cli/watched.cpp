#include "cli/watched.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <utility>

namespace tillwrap::cli {

namespace {

constexpr std::chrono::milliseconds kBetween(100);

}  // namespace

Watched::Watched(std::string doing) : doing_(std::move(doing)), terminal_(isatty(STDERR_FILENO) == 1) {}

void Watched::say(const std::string& how_far) {
  const std::lock_guard lock(one_at_a_time_);
  write(how_far, true);
}

odds::Tell Watched::tell() {
  if (!terminal_) return {};
  return {.begins =
              [this](std::string_view part, std::size_t pieces) {
                const std::lock_guard lock(one_at_a_time_);
                part_ = part;
                pieces_ = pieces;
                done_ = 0;
              },
          .piece_done =
              [this] {
                const std::lock_guard lock(one_at_a_time_);
                ++done_;
                write(fmt::format("{}, {} of {}", part_, done_, pieces_), false);
              }};
}

void Watched::over() {
  const std::lock_guard lock(one_at_a_time_);
  if (shown_) std::fputs("\r\x1b[K", stderr);
  shown_ = false;
}

void Watched::write(const std::string& how_far, bool at_once) {
  if (!terminal_) return;
  const auto now = std::chrono::steady_clock::now();
  if (shown_ && !at_once && now - last_ < kBetween) return;
  last_ = now;
  shown_ = true;
  std::fprintf(stderr, "\r%s: %s\x1b[K", doing_.c_str(), how_far.c_str());
  std::fflush(stderr);
}

}  // namespace tillwrap::cli
