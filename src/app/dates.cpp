#include "app/dates.hpp"

namespace tillwrap::app {

bool is_iso_date(const std::string& text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  for (const std::size_t i : {0, 1, 2, 3, 5, 6, 8, 9}) {
    if (text[i] < '0' || text[i] > '9') return false;
  }
  const int year = std::stoi(text.substr(0, 4));
  const int month = std::stoi(text.substr(5, 2));
  const int day = std::stoi(text.substr(8, 2));
  const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
  const int days = month == 2 ? (leap ? 29 : 28) : month == 4 || month == 6 || month == 9 || month == 11 ? 30 : 31;
  return month >= 1 && month <= 12 && day >= 1 && day <= days;
}

long days_of(const std::string& iso_date) {
  // H. Hinnant's algorithm for the proleptic Gregorian calendar (public domain).
  const int m = std::stoi(iso_date.substr(5, 2));
  const long y = std::stoi(iso_date.substr(0, 4)) - (m <= 2 ? 1 : 0);
  const long era = y / 400;
  const long yoe = y - era * 400;
  const long doy = (153L * (m + (m > 2 ? -3 : 9)) + 2) / 5 + std::stoi(iso_date.substr(8, 2)) - 1;
  return era * 146097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719468;
}

}  // namespace tillwrap::app
