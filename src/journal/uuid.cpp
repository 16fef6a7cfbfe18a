#include "journal/uuid.hpp"

namespace tillwrap::journal {

namespace {

using Bytes = std::array<std::uint8_t, 16>;

constexpr std::string_view kHex = "0123456789abcdef";

std::string text_of(const Bytes& bytes) {
  std::string out;
  out.reserve(36);
  for (std::size_t k = 0; k < bytes.size(); ++k) {
    if (k == 4 || k == 6 || k == 8 || k == 10) out += '-';
    out += kHex[bytes[k] >> 4U];
    out += kHex[bytes[k] & 15U];
  }
  return out;
}

unsigned nibble(char c) { return static_cast<unsigned>(c <= '9' ? c - '0' : c - 'a' + 10); }

Bytes bytes_of(std::string_view id) {
  Bytes out{};
  std::size_t k = 0;
  for (std::size_t at = 0; at < id.size(); ++at) {
    if (id[at] == '-') continue;
    out[k] = static_cast<std::uint8_t>(16 * nibble(id[at]) + nibble(id[at + 1]));
    ++at;
    ++k;
  }
  return out;
}

Bytes fresh(std::int64_t unix_ms, const RandomBytes& random) {
  Bytes b{};
  for (std::size_t k = 0; k < 6; ++k)
    b[k] = static_cast<std::uint8_t>((static_cast<std::uint64_t>(unix_ms) >> (40U - 8U * k)) & 0xFFU);
  for (std::size_t k = 0; k < random.size(); ++k) b[6 + k] = random[k];
  b[6] = static_cast<std::uint8_t>(0x70U | (b[6] & 0x0FU));
  b[8] = static_cast<std::uint8_t>(0x80U | (b[8] & 0x3FU));
  return b;
}

}  // namespace

std::string make_uuid7(std::int64_t unix_ms, const RandomBytes& random) { return text_of(fresh(unix_ms, random)); }

std::string make_uuid7_after(std::string_view previous, std::int64_t unix_ms, const RandomBytes& random) {
  std::string made = make_uuid7(unix_ms, random);
  if (previous.empty() || made > previous) return made;
  Bytes b = bytes_of(previous);
  // The 74 random bits as one number, most significant first: 12 in bytes 6 and 7, 62 in bytes 8 to 15.
  std::uint64_t high = (static_cast<std::uint64_t>(b[6] & 0x0FU) << 8U) | b[7];
  std::uint64_t low = b[8] & 0x3FU;
  for (std::size_t k = 9; k < 16; ++k) low = (low << 8U) | b[k];
  std::uint64_t step = 1;
  for (std::size_t k = 0; k < 4; ++k) step += static_cast<std::uint64_t>(random[k]) << (8U * k);
  low += step;
  std::uint64_t ms = static_cast<std::uint64_t>(made_ms(previous));
  if (low >> 62U) {
    low &= (std::uint64_t{1} << 62U) - 1U;
    if (++high >> 12U) {
      high = 0;
      ++ms;
    }
  }
  RandomBytes rest{};
  rest[0] = static_cast<std::uint8_t>(high >> 8U);
  rest[1] = static_cast<std::uint8_t>(high & 0xFFU);
  for (std::size_t k = 0; k < 8; ++k) rest[2 + k] = static_cast<std::uint8_t>((low >> (56U - 8U * k)) & 0xFFU);
  return make_uuid7(static_cast<std::int64_t>(ms), rest);
}

bool is_uuid7(std::string_view text) {
  if (text.size() != 36) return false;
  for (std::size_t k = 0; k < text.size(); ++k) {
    const char c = text[k];
    if (k == 8 || k == 13 || k == 18 || k == 23) {
      if (c != '-') return false;
    } else if (!((c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'))) {
      return false;
    }
  }
  return text[14] == '7' && (text[19] == '8' || text[19] == '9' || text[19] == 'a' || text[19] == 'b');
}

std::int64_t made_ms(std::string_view id) {
  std::int64_t out = 0;
  for (std::size_t k = 0; k < 13; ++k) {
    if (k != 8) out = 16 * out + nibble(id[k]);
  }
  return out;
}

}  // namespace tillwrap::journal
