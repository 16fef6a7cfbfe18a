// Ids of journal lines: UUID version 7 (RFC 9562 section 5.7), which sorts by the time it was made.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

namespace tillwrap::journal {

using RandomBytes = std::array<std::uint8_t, 10>;

// Lower case, from milliseconds after 1970 (48 bits) and random bytes; version and variant are set here.
std::string make_uuid7(std::int64_t unix_ms, const RandomBytes& random);

// The same, but after `previous` where both fall into one millisecond or the clock went back: then it is `previous`
// plus a random step of at most 2^32 (section 6.2, method 2). The time in it stays `previous`'s; what the clock said is
// lost only so long as one batch of lines lasts.
std::string make_uuid7_after(std::string_view previous, std::int64_t unix_ms, const RandomBytes& random);

// Lower case, 36 characters, version 7, variant 10.
bool is_uuid7(std::string_view text);

// When it was made, ms after 1970; `id` must be one.
std::int64_t made_ms(std::string_view id);

}  // namespace tillwrap::journal
