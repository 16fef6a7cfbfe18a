#include "catalogue/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "decode/units.hpp"

namespace tillwrap::catalogue {
namespace {

struct Suffix {
  std::string_view key_end;
  std::string_view unit;
};

// Longest first, so that "heat_capacity_j_k" is not read as kelvin.
constexpr std::array<Suffix, 24> kSuffixes = {{
    {"_ohm_per_km", "ohm/km"},
    {"_per_month", "a month"},
    {"_w_k", "W/K"},
    {"_j_k", "J/K"},
    {"_ohm", "ohm"},
    {"_mm2", "mm²"},
    {"_usd", "USD"},
    {"_mm", "mm"},
    {"_ah", "Ah"},
    {"_wh", "Wh"},
    {"_kg", "kg"},
    {"_ma", "mA"},
    {"_uf", "uF"},
    {"_w", "W"},
    {"_v", "V"},
    {"_a", "A"},
    {"_s", "s"},
    {"_c", "°C"},
    {"_k", "K"},
    {"_g", "g"},
    {"_f", "F"},
    {"_m", "m"},
    {"_h", "h"},
    {"_min", "min"},
}};

const Suffix* suffix_of(std::string_view key) {
  for (const Suffix& s : kSuffixes) {
    if (key.size() > s.key_end.size() && key.ends_with(s.key_end)) return &s;
  }
  return nullptr;
}

constexpr std::string_view kFixedSpace = "\xC2\xA0";  // keeps a number and its unit on one line

constexpr std::array<std::pair<std::string_view, std::string_view>, 33> kLabels = {{
    {"rated_ah", "rated charge"},
    {"rated_wh", "rated energy"},
    {"capacity_ah", "full charge"},
    {"charge_a", "charging current"},
    {"charge_v", "end of charge"},
    {"over_current_a", "cuts off above"},
    {"over_current_s", "after"},
    {"low_load_ma", "switches off below"},
    {"low_load_s", "after"},
    {"fuse_a", "fuse size"},
    {"main_fuse_a", "main fuse size"},
    {"rc_s", "rc time"},
    {"exchange_s", "exchange time"},
    {"self_discharge_per_month", "lost in a month"},
    {"at_20_c_ohm_per_km", "at 20 °C"},
    {"most_v", "at most"},
    {"least_v", "at least"},
    {"most_a", "at most"},
    {"most_w", "at most"},
    {"open_v", "unloaded"},
    {"end_v", "end of charge"},
    {"end_cell_v", "end of charge, a cell"},
    {"bay_a", "each bay"},
    {"fits", "takes"},
    {"mates", "mates with"},
    {"points", "holds, opens"},
    {"cutoff_v", "stops below"},
    {"restart_v", "starts again above"},
    {"restart_s", "back after"},
    {"stop_cost", "a stop costs"},
    {"long_fraction", "for hours at most"},
    {"idle_w", "own draw"},
    {"lithium_g", "lithium"},
}};

std::string glued(std::string_view unit) { return std::string(kFixedSpace) + std::string(unit); }

std::string pair_words(const decode::Node& row, std::string_view key) {
  std::vector<std::string> parts;
  for (const decode::Node& cell : row.children) parts.push_back(decode::number_words(cell.number));
  if (key == "profiles" && parts.size() == 2) return parts[0] + glued("V") + " " + parts[1] + glued("A");
  if (key == "derating" && parts.size() == 2) return parts[1] + " at " + parts[0] + glued("°C");
  if (key == "points" && parts.size() == 3) {
    const double holds_s = row.children[1].number;
    const double opens_s = row.children[2].number;
    const auto span = [](double s) { return decode::quantity_words(s, decode::Dimension::duration); };
    std::string out = parts[0] + " x:";
    if (holds_s < 0.0) return out + " carries for ever";
    if (holds_s > 0.0) out += " at least " + span(holds_s);
    if (opens_s >= 0.0) out += (holds_s > 0.0 ? "," : "") + std::string(" open within ") + span(opens_s);
    return out;
  }
  return parts.size() == 2 ? parts[0] + ": " + parts[1] : "?";
}

}  // namespace

std::size_t width(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string padded(std::string text, std::size_t columns) {
  const std::size_t used = width(text);
  if (used < columns) text.append(columns - used, ' ');
  return text;
}

std::string wrapped(std::string_view text, std::string_view first, std::size_t indent, std::size_t columns) {
  std::string out(first);
  std::size_t used = width(first);
  bool fresh = true;
  while (!text.empty()) {
    const std::size_t space = text.find(' ');
    const std::string_view word = text.substr(0, space);
    text.remove_prefix(space == std::string_view::npos ? text.size() : space + 1);
    if (word.empty()) continue;
    if (!fresh && used + 1 + width(word) > columns) {
      out += "\n" + std::string(indent, ' ');
      used = indent;
      fresh = true;
    }
    if (!fresh) {
      out += ' ';
      ++used;
    }
    out += word;
    used += width(word);
    fresh = false;
  }
  for (std::size_t at = out.find(kFixedSpace); at != std::string::npos; at = out.find(kFixedSpace, at)) {
    out.replace(at, kFixedSpace.size(), " ");
  }
  return out + "\n";
}

std::string label_of(std::string_view key) {
  for (const auto& [name, label] : kLabels) {
    if (name == key) return std::string(label);
  }
  if (const Suffix* s = suffix_of(key)) key.remove_suffix(s->unit == "a month" ? 0 : s->key_end.size());
  std::string out(key);
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

std::string number_of(std::string_view key, double value) {
  const Suffix* s = suffix_of(key);
  if (s == nullptr || s->unit == "a month") return decode::number_words(value);
  if (s->unit == "ohm" && value != 0.0 && std::fabs(value) < 1.0)
    return decode::number_words(value * 1e3) + glued("mohm");
  return decode::number_words(value) + glued(s->unit);
}

std::string value_of(std::string_view key, const decode::Node& value) {
  switch (value.kind) {
    case decode::Kind::boolean:
      return value.boolean ? "yes" : "no";
    case decode::Kind::number:
    case decode::Kind::integer:
      return number_of(key, value.number);
    case decode::Kind::array:
      break;
    default:
      return value.text;
  }
  const auto& list = value.children;
  const bool numbers = std::all_of(list.begin(), list.end(), [](const auto& n) { return n.is_number(); });
  // A rating list and the two lag modes are lists; every other three numbers are low, typical, high.
  if (numbers && list.size() == 3 && key != "ratings_a") {
    return number_of(key, list[1].number) + " (" + number_of(key, list[0].number) + " to " +
           number_of(key, list[2].number) + ")";
  }
  std::string out;
  for (const decode::Node& item : list) {
    if (!out.empty()) out += item.kind == decode::Kind::array && key == "points" ? "; " : ", ";
    out += item.kind == decode::Kind::array ? pair_words(item, key) : value_of(key, item);
  }
  return out.empty() ? "none" : out;
}

}  // namespace tillwrap::catalogue
