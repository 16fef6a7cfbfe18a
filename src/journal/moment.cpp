#include "journal/moment.hpp"

namespace tillwrap::journal {

namespace {

constexpr const char* kForm = "write it as 2026-11-25T14:05:00+01:00 (RFC 3339)";

std::int64_t floor_div(std::int64_t a, std::int64_t b) {
  return a / b - (a % b != 0 && (a % b < 0) != (b < 0) ? 1 : 0);
}

class Reader {
 public:
  explicit Reader(std::string_view text) : text_(text) {}

  int digits(std::size_t count) {
    int value = 0;
    for (std::size_t k = 0; k < count; ++k, ++at_) {
      if (at_ >= text_.size() || text_[at_] < '0' || text_[at_] > '9') fail();
      value = 10 * value + (text_[at_] - '0');
    }
    return value;
  }
  void mark(char wanted) {
    if (at_ >= text_.size() || lower(text_[at_]) != wanted) fail();
    ++at_;
  }
  [[nodiscard]] char next() const { return at_ < text_.size() ? lower(text_[at_]) : '\0'; }
  [[nodiscard]] bool at_end() const { return at_ == text_.size(); }
  void skip() { ++at_; }
  [[noreturn]] void fail() const {
    if (at_ >= 19 && at_ == text_.size()) throw MomentError("this time has no zone", kForm);
    throw MomentError("this is no time with a zone", kForm);
  }

 private:
  static char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }
  std::string_view text_;
  std::size_t at_ = 0;
};

void put(std::string& out, int value, int width) {
  std::string digits = std::to_string(value);
  while (digits.size() < static_cast<std::size_t>(width)) digits.insert(digits.begin(), '0');
  out += digits;
}

}  // namespace

// Days by counting 400-year eras from a March that begins the year, so that leap days come last (Hinnant, "chrono-
// compatible low-level date algorithms").
std::int64_t days_from_civil(int year, int month, int day) {
  const std::int64_t y = month <= 2 ? year - 1 : year;
  const std::int64_t era = floor_div(y, 400);
  const std::int64_t year_of_era = y - era * 400;
  const std::int64_t day_of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
  return era * 146097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719468;
}

int days_in_month(int year, int month) {
  const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
  if (month == 2) return leap ? 29 : 28;
  return month == 4 || month == 6 || month == 9 || month == 11 ? 30 : 31;
}

Civil civil_of(std::int64_t us, int offset_min) {
  const std::int64_t local_s = floor_div(us, kSecond_us) + std::int64_t{60} * offset_min;
  const std::int64_t days = floor_div(local_s, 86400);
  const auto of_day = static_cast<int>(local_s - days * 86400);
  const std::int64_t shifted = days + 719468;
  const std::int64_t era = floor_div(shifted, 146097);
  const std::int64_t day_of_era = shifted - era * 146097;
  const std::int64_t year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
  const std::int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
  const std::int64_t march_month = (5 * day_of_year + 2) / 153;
  Civil out;
  out.day = static_cast<int>(day_of_year - (153 * march_month + 2) / 5 + 1);
  out.month = static_cast<int>(march_month < 10 ? march_month + 3 : march_month - 9);
  out.year = static_cast<int>(year_of_era + era * 400 + (out.month <= 2 ? 1 : 0));
  out.hour = of_day / 3600;
  out.minute = of_day / 60 % 60;
  out.second = of_day % 60;
  return out;
}

std::int64_t us_of(const Civil& c, int offset_min) {
  const std::int64_t day_s = std::int64_t{3600} * c.hour + std::int64_t{60} * (c.minute - offset_min) + c.second;
  return (days_from_civil(c.year, c.month, c.day) * 86400 + day_s) * kSecond_us;
}

Moment parse_moment(std::string_view text) {
  Reader reader(text);
  Civil civil;
  civil.year = reader.digits(4);
  reader.mark('-');
  civil.month = reader.digits(2);
  reader.mark('-');
  civil.day = reader.digits(2);
  reader.mark('t');
  civil.hour = reader.digits(2);
  reader.mark(':');
  civil.minute = reader.digits(2);
  reader.mark(':');
  civil.second = reader.digits(2);
  std::int64_t fraction_us = 0;
  if (reader.next() == '.') {
    reader.skip();
    std::int64_t unit_us = kSecond_us / 10;
    do {
      fraction_us += unit_us * reader.digits(1);
      unit_us /= 10;
    } while (reader.next() >= '0' && reader.next() <= '9');
  }
  Moment out;
  if (reader.next() == 'z') {
    reader.skip();
  } else {
    const char sign = reader.next();
    if (sign != '+' && sign != '-') reader.fail();
    reader.skip();
    const int hours = reader.digits(2);
    reader.mark(':');
    const int minutes = reader.digits(2);
    if (hours > 23 || minutes > 59)
      throw MomentError("the zone offset is no time", "an offset goes from -23:59 to +23:59");
    out.offset_min = (sign == '-' ? -1 : 1) * (60 * hours + minutes);
  }
  if (!reader.at_end()) throw MomentError("something stands after the time", kForm);
  if (civil.month < 1 || civil.month > 12) throw MomentError("there is no such month", kForm);
  if (civil.day < 1 || civil.day > days_in_month(civil.year, civil.month))
    throw MomentError("that month has no such day", kForm);
  if (civil.hour > 23 || civil.minute > 59 || civil.second > 60)
    throw MomentError("there is no such time of day", kForm);
  out.us = us_of(civil, out.offset_min);
  if (civil.second == 60) {
    // The instant is already that of the second after it: it must begin a month, UTC.
    const Civil after = civil_of(out.us, 0);
    if (after.day != 1 || after.hour != 0 || after.minute != 0 || after.second != 0)
      throw MomentError("no leap second can stand there", "seconds go from 00 to 59");
    fraction_us = 0;
  }
  out.us += fraction_us;
  return out;
}

std::string moment_text(const Moment& moment) {
  const Civil c = civil_of(moment.us, moment.offset_min);
  std::string out;
  put(out, c.year, 4);
  out += '-';
  put(out, c.month, 2);
  out += '-';
  put(out, c.day, 2);
  out += 'T';
  put(out, c.hour, 2);
  out += ':';
  put(out, c.minute, 2);
  out += ':';
  put(out, c.second, 2);
  auto fraction_us = static_cast<int>(moment.us - floor_div(moment.us, kSecond_us) * kSecond_us);
  if (fraction_us > 0) {
    int width = 6;
    for (; fraction_us % 10 == 0; fraction_us /= 10) --width;
    out += '.';
    put(out, fraction_us, width);
  }
  const int size_min = moment.offset_min < 0 ? -moment.offset_min : moment.offset_min;
  out += moment.offset_min < 0 ? '-' : '+';
  put(out, size_min / 60, 2);
  out += ':';
  put(out, size_min % 60, 2);
  return out;
}

}  // namespace tillwrap::journal
