#include "sheet/calendar.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdint>

namespace tillwrap::sheet {

namespace {

constexpr long kDay_s = 86400;
constexpr std::size_t kMostOctets = 75;  // RFC 5545 3.1

// Days since 1970-01-01 of a proleptic Gregorian date, and back (H. Hinnant's algorithms, public domain).
long days_of(int y, int m, int d) {
  y -= m <= 2 ? 1 : 0;
  const long era = (y >= 0 ? y : y - 399) / 400;
  const long yoe = y - era * 400;
  const long doy = (153L * (m + (m > 2 ? -3 : 9)) + 2) / 5 + d - 1;
  const long doe = yoe * 365 + yoe / 4 - yoe / 100 + doy;
  return era * 146097 + doe - 719468;
}

std::string date_of(long days) {
  days += 719468;
  const long era = (days >= 0 ? days : days - 146096) / 146097;
  const long doe = days - era * 146097;
  const long yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
  const long doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
  const long mp = (5 * doy + 2) / 153;
  const long d = doy - (153 * mp + 2) / 5 + 1;
  const long m = mp < 10 ? mp + 3 : mp - 9;
  const long y = yoe + era * 400 + (m <= 2 ? 1 : 0);
  return fmt::format("{:04}{:02}{:02}", y, m, d);
}

std::string moment(const std::string& first_date, double at_s) {
  const long whole = std::lround(at_s);
  const long day = whole >= 0 ? whole / kDay_s : -((kDay_s - 1 - whole) / kDay_s);
  const long clock = whole - day * kDay_s;
  const long first = days_of(std::stoi(first_date.substr(0, 4)), std::stoi(first_date.substr(5, 2)),
                             std::stoi(first_date.substr(8, 2)));
  return date_of(first + day) + fmt::format("T{:02}{:02}{:02}", clock / 3600, clock / 60 % 60, clock % 60);
}

// TEXT values: RFC 5545 3.3.11.
std::string text(const std::string& words) {
  std::string out;
  for (const char c : words) {
    if (c == '\\' || c == ';' || c == ',') out += '\\';
    if (c == '\n') {
      out += "\\n";
    } else if (static_cast<unsigned char>(c) >= 0x20 && c != 0x7f) {
      out += c;
    }
  }
  return out;
}

void line(std::string& out, const std::string& words) {
  std::size_t start = 0;
  std::size_t room = kMostOctets;
  while (words.size() - start > room) {
    std::size_t end = start + room;
    while ((static_cast<unsigned char>(words[end]) & 0xc0U) == 0x80U) --end;
    out += words.substr(start, end - start) + "\r\n ";
    start = end;
    room = kMostOctets - 1;  // the space that begins a folded line counts
  }
  out += words.substr(start) + "\r\n";
}

// FNV-1a, 64 bit: a name for the entry that stays the same.
std::string fingerprint(const std::string& words) {
  std::uint64_t hash = 14695981039346656037ULL;
  for (const char c : words) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return fmt::format("{:016x}", hash);
}

}  // namespace

std::string icalendar(const Calendar& calendar) {
  std::string out;
  line(out, "BEGIN:VCALENDAR");
  line(out, "VERSION:2.0");
  line(out, "PRODID:-//tillwrap//power sheet//EN");
  line(out, "CALSCALE:GREGORIAN");
  line(out, "NAME:" + text(calendar.name));
  for (const CalendarEntry& entry : calendar.entries) {
    line(out, "BEGIN:VEVENT");
    line(out, "UID:" + fingerprint(calendar.name + "\n" + calendar.first_date + "\n" + entry.key) + "@tillwrap");
    line(out, "DTSTAMP:" + calendar.stamp_utc);
    line(out, "DTSTART:" + moment(calendar.first_date, entry.from_s));
    line(out, "DTEND:" + moment(calendar.first_date, entry.until_s));
    line(out, "SUMMARY:" + text(entry.summary));
    if (!entry.description.empty()) line(out, "DESCRIPTION:" + text(entry.description));
    if (entry.alarm) {
      line(out, "BEGIN:VALARM");
      line(out, "ACTION:DISPLAY");
      line(out, "DESCRIPTION:" + text(entry.summary));
      line(out, "TRIGGER:PT0S");
      line(out, "END:VALARM");
    }
    line(out, "END:VEVENT");
  }
  line(out, "END:VCALENDAR");
  return out;
}

}  // namespace tillwrap::sheet
