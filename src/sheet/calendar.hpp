// iCalendar (RFC 5545; the calendar's NAME is of RFC 7986).
#pragma once

#include <string>
#include <vector>

namespace tillwrap::sheet {

struct CalendarEntry {
  std::string key;  // unique within the calendar and stable from one writing to the next
  std::string summary;
  std::string description;
  double from_s = 0.0;  // after midnight of the first day, local
  double until_s = 0.0;
  bool alarm = false;  // one, at its beginning
};

struct Calendar {
  std::string name;
  std::string first_date;  // ISO 8601, local
  std::string stamp_utc;   // when it was made, "20261125T120000Z"
  std::vector<CalendarEntry> entries;
};

// Times are local without a zone ("floating", RFC 5545 3.3.5 form 1): they ring by the clock of the phone that holds
// them, wherever the unit moves. Lines end in CR LF and are folded at 75 octets without splitting a character.
std::string icalendar(const Calendar& calendar);

}  // namespace tillwrap::sheet
