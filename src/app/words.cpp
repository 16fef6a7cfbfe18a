#include "app/words.hpp"

#include <fmt/format.h>

#include <cmath>

namespace tillwrap::app {

namespace {

constexpr double kFlat = 0.05;  // with more left, low volts come from the load or the cold; from memory

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

std::string clock_words(double at_s) {
  const auto minutes = static_cast<long>(std::floor(at_s / 60.0 + 1e-6));
  const long day = minutes >= 0 ? minutes / 1440 : -1;
  const long of_day = ((minutes % 1440) + 1440) % 1440;
  return fmt::format("{:02}:{:02}{}", of_day / 60, of_day % 60, day > 0 ? fmt::format(" +{}", day) : "");
}

std::string length_words(double seconds) {
  const double whole = std::fabs(seconds);
  if (whole < 90.0) return fmt::format("{:.0f} s", whole);
  const auto minutes = static_cast<long>(std::floor(whole / 60.0 + 0.5));
  if (minutes < 60) return fmt::format("{} min", minutes);
  return minutes % 60 == 0 ? fmt::format("{} h", minutes / 60)
                           : fmt::format("{} h {:02} min", minutes / 60, minutes % 60);
}

std::string celsius_words(double temperature_k) {
  const auto degrees = static_cast<long>(std::lround(temperature_k - 273.15));
  return fmt::format("{}{} °C", degrees < 0 ? "\u2212" : "", std::labs(degrees));
}

std::string percent_words(double fraction) {
  return fmt::format("{} %", std::lround(100.0 * std::fmin(std::fmax(fraction, 0.0), 1.0)));
}

std::string share_words(double share) {
  if (share <= 0.0) return "none";
  if (share >= 1.0) return "all";
  if (share < 0.01 || share > 0.99) return fmt::format("{:.1f} %", std::fmin(std::fmax(100.0 * share, 0.1), 99.9));
  return fmt::format("{:.0f} %", 100.0 * share);
}

std::string volts_words(double volts) { return fmt::format("{:.2f} V", volts); }

std::string wh_words(double joules) { return fmt::format("{:.1f} Wh", joules / 3600.0); }

std::string plural(std::int64_t n, std::string_view one) { return fmt::format("{} {}{}", n, one, n == 1 ? "" : "s"); }

std::size_t columns(std::string_view text) {
  std::size_t count = 0;
  for (const char c : text) count += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U ? 1 : 0;
  return count;
}

std::string padded(std::string_view text, std::size_t width) {
  std::string out;
  std::size_t used = 0;
  const bool cut = columns(text) > width;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool starts = (static_cast<unsigned char>(text[i]) & 0xC0U) != 0x80U;
    if (starts && cut && used + 1 == width) {
      out += "\u2026";
      ++used;
      break;
    }
    if (starts) ++used;
    out += text[i];
  }
  out.append(width > used ? width - used : 0, ' ');
  return out;
}

std::string right_padded_left(std::string_view text, std::size_t width) {
  const std::size_t used = columns(text);
  return std::string(width > used ? width - used : 0, ' ') + std::string(text);
}

std::string wrapped(std::string_view text, std::size_t width, std::string_view indent) {
  std::string out;
  std::size_t used = 0;
  std::size_t start = 0;
  while (start < text.size() && text[start] == ' ') {
    out += ' ';
    ++used;
    ++start;
  }
  bool fresh = true;  // nothing but indent on this line
  while (start < text.size()) {
    std::size_t end = text.find(' ', start);
    if (end == std::string_view::npos) end = text.size();
    // A number stays with its unit: join through non-breaking pairs such as "4 %" and "12.0 V".
    while (end < text.size() && end > start && text[end - 1] >= '0' && text[end - 1] <= '9') {
      const std::size_t next = text.find(' ', end + 1);
      const std::size_t stop = next == std::string_view::npos ? text.size() : next;
      if (columns(text.substr(end + 1, stop - end - 1)) > 5) break;
      end = stop;
    }
    const std::string_view word = text.substr(start, end - start);
    const std::size_t need = columns(word);
    if (!fresh && used + 1 + need > width) {
      out += '\n';
      out += indent;
      used = columns(indent) + need;
      out += word;
    } else {
      if (!fresh) {
        out += ' ';
        ++used;
      }
      out += word;
      used += need;
    }
    fresh = false;
    start = end + 1;
  }
  return out;
}

std::string_view cause_key(forecast::Cause cause) {
  using forecast::Cause;
  switch (cause) {
    case Cause::none:
      return "none";
    case Cause::low_volts:
      return "low_volts";
    case Cause::collapse:
      return "collapse";
    case Cause::pack_flat:
      return "pack_flat";
    case Cause::pack_tripped:
      return "pack_tripped";
    case Cause::pack_temperature:
      return "pack_temperature";
    case Cause::pack_asleep:
      return "pack_asleep";
    case Cause::holder_empty:
      return "holder_empty";
    case Cause::change:
      return "change";
    case Cause::ports_off:
      return "ports_off";
    case Cause::fuse_open:
      return "fuse_open";
    case Cause::protector_tripped:
      return "protector_tripped";
    case Cause::supply_off:
      return "supply_off";
    case Cause::regulator_off:
      return "regulator_off";
    case Cause::not_connected:
      return "not_connected";
  }
  return "none";
}

std::string cause_words(const day::Scenario& day, const forecast::CauseNote& why, const Wording& words) {
  using forecast::Cause;
  const std::string pack = why.pack >= 0 ? day.packs[at(why.pack)].params.label : std::string("the pack");
  const std::string holder = why.holder >= 0 ? day.holders[at(why.holder)].name : std::string();
  const std::string state = why.pack_k > 0.0 ? fmt::format(" ({} left, {}, {})", percent_words(why.charge),
                                                           volts_words(why.pack_v), words.temperature(why.pack_k))
                                             : std::string();
  const std::string lead = why.lead >= 0 ? day.leads[at(why.lead)].name : std::string();
  switch (why.cause) {
    case Cause::none:
      return "";
    case Cause::low_volts:
      return fmt::format("{}{} no longer holds its volts up", pack, state);
    case Cause::collapse:
      return fmt::format("the wiring cannot carry the power: the volts of {}{} collapse", pack, state);
    case Cause::pack_flat:
      return fmt::format("{} {}{}", pack, why.charge < kFlat ? "is flat" : "switched off on low volts", state);
    case Cause::pack_tripped:
      return fmt::format("{} switched off on too much current{}", pack, state);
    case Cause::pack_temperature:
      return fmt::format("{} switched off on its temperature{}", pack, state);
    case Cause::pack_asleep:
      return fmt::format("{} switched itself off: the load is too small to keep it awake", pack);
    case Cause::holder_empty:
      return fmt::format("nothing is in {}", holder);
    case Cause::change:
      return fmt::format("{} is between packs", holder);
    case Cause::ports_off:
      return fmt::format("{} drops all ports while it renegotiates", pack);
    case Cause::fuse_open:
      return fmt::format("the fuse of {} opened", lead);
    case Cause::protector_tripped:
      return fmt::format("the resettable fuse of {} tripped and stays off until unplugged", lead);
    case Cause::supply_off:
      return fmt::format("{} has no power", why.supply >= 0 ? day.supplies[at(why.supply)].name : "the source");
    case Cause::regulator_off:
      return fmt::format("a regulated output gave up on the volts of {}{}", pack, state);
    case Cause::not_connected:
      return "nothing feeds it";
  }
  return "";
}

}  // namespace tillwrap::app
