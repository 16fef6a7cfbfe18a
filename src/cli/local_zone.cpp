#include "cli/local_zone.hpp"

#include <sys/random.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <ctime>
#include <optional>

namespace tillwrap::cli {

namespace {

std::optional<std::time_t> instant(const journal::Civil& civil, int summer_time) {
  std::tm local{};
  local.tm_year = civil.year - 1900;
  local.tm_mon = civil.month - 1;
  local.tm_mday = civil.day;
  local.tm_hour = civil.hour;
  local.tm_min = civil.minute;
  local.tm_sec = civil.second;
  local.tm_isdst = summer_time;
  const std::tm wanted = local;
  const std::time_t at = std::mktime(&local);
  std::tm back{};
  if (localtime_r(&at, &back) == nullptr) return std::nullopt;
  const bool same = back.tm_mday == wanted.tm_mday && back.tm_hour == wanted.tm_hour && back.tm_min == wanted.tm_min;
  return same ? std::optional(at) : std::nullopt;
}

int offset_min_at(std::time_t at) {
  std::tm local{};
  localtime_r(&at, &local);
  return static_cast<int>(local.tm_gmtoff / 60);
}

}  // namespace

std::int64_t now_us() {
  return std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::system_clock::now().time_since_epoch())
      .count();
}

std::string now_utc() {
  const std::time_t now = std::time(nullptr);
  std::tm broken{};
  gmtime_r(&now, &broken);
  char text[32];
  std::strftime(text, sizeof text, "%Y%m%dT%H%M%SZ", &broken);
  return text;
}

app::Zone local_zone() {
  tzset();
  app::Zone zone;
  zone.offset_at = [](std::int64_t us) { return offset_min_at(static_cast<std::time_t>(us / journal::kSecond_us)); };
  zone.offset_of_local = [](const journal::Civil& civil) {
    app::Zone::Local out;
    const auto any = instant(civil, -1);
    if (!any) {
      // What the clock would have shown had it not been put forward.
      out.missing = true;
      out.offset_min = offset_min_at(static_cast<std::time_t>(journal::us_of(civil, 0) / journal::kSecond_us - 86400));
      return out;
    }
    const auto summer = instant(civil, 1);
    const auto winter = instant(civil, 0);
    out.twice = summer && winter && *summer != *winter;
    out.offset_min = offset_min_at(out.twice ? std::min(*summer, *winter) : *any);
    return out;
  };
  return zone;
}

journal::RandomBytes random_bytes() {
  journal::RandomBytes out{};
  std::size_t got = 0;
  while (got < out.size()) {
    const ssize_t n = getrandom(out.data() + got, out.size() - got, 0);
    if (n > 0) got += static_cast<std::size_t>(n);
  }
  return out;
}

std::string device_name() {
  if (const char* said = std::getenv("TILLWRAP_DEVICE"); said != nullptr && *said != '\0') return said;
  char name[200] = {};
  if (gethostname(name, sizeof name - 1) != 0 || name[0] == '\0') return "laptop";
  return name;
}

}  // namespace tillwrap::cli
