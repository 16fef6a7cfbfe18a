// Moments as RFC 3339 writes them: a local time with its offset, and the instant it names.
#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>

namespace tillwrap::journal {

// Text that is no moment. what() says what is wrong; hint what is allowed.
struct MomentError : std::runtime_error {
  MomentError(const std::string& wrong, std::string advice) : std::runtime_error(wrong), hint(std::move(advice)) {}
  std::string hint;
};

struct Moment {
  std::int64_t us = 0;  // microseconds after 1970-01-01T00:00:00Z, leap seconds not counted (POSIX)
  int offset_min = 0;   // of the zone it was written in, east positive
  friend bool operator==(const Moment&, const Moment&) = default;
};

inline constexpr std::int64_t kSecond_us = 1'000'000;
inline constexpr std::int64_t kDay_us = 86'400 * kSecond_us;

// Calendar in the proleptic Gregorian sense.
struct Civil {
  int year = 1970;
  int month = 1;
  int day = 1;
  int hour = 0;
  int minute = 0;
  int second = 0;
};
std::int64_t days_from_civil(int year, int month, int day);  // after 1970-01-01
int days_in_month(int year, int month);
Civil civil_of(std::int64_t us, int offset_min);
std::int64_t us_of(const Civil& civil, int offset_min);

// "2026-11-25T14:05:00+01:00" (RFC 3339 section 5.6: date-time). "T" and "Z" in either case; digits of a second beyond
// the sixth are dropped; second 60 only where a leap second may stand (5.7: the end of a month, UTC), and it is taken
// as the second after it. "-00:00" counts as UTC (4.3). Throws MomentError.
Moment parse_moment(std::string_view text);

// In that zone, to the second, or with a fraction where there is one; "Z" is written "+00:00".
std::string moment_text(const Moment& moment);

}  // namespace tillwrap::journal
