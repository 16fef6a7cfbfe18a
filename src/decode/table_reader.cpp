#include "decode/table_reader.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tillwrap::decode {
namespace {

std::string quoted(std::string_view text) { return "\"" + std::string(text) + "\""; }

std::string joined(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& word : words) out += (out.empty() ? "" : ", ") + word;
  return out;
}

std::string one_of_words(const std::vector<std::string>& words) { return "allowed: " + joined(words); }

}  // namespace

bool Allowed::holds(double value) const { return value >= least && value <= most && value > above && value < below; }

std::string allowed_words(const Allowed& allowed, std::optional<Dimension> dimension) {
  const auto say = [&](double v) { return dimension ? quantity_words(v, *dimension) : number_words(v); };
  const bool low_open = std::isfinite(allowed.above) && allowed.above >= allowed.least;
  const bool high_open = std::isfinite(allowed.below) && allowed.below <= allowed.most;
  std::string low;
  if (low_open) {
    low = "more than " + say(allowed.above);
  } else if (std::isfinite(allowed.least)) {
    low = say(allowed.least);
  }
  std::string high;
  if (high_open) {
    high = "less than " + say(allowed.below);
  } else if (std::isfinite(allowed.most)) {
    high = say(allowed.most);
  }
  if (low.empty() && high.empty()) return "any value";
  if (low.empty()) return high_open ? high : "at most " + high;
  if (high.empty()) return low_open ? low : "at least " + low;
  if (low_open || high_open) return low + " and " + (high_open ? high : "at most " + high);
  return low + " to " + high;
}

TableReader::TableReader(const Document& document, const Node& table, std::string what)
    : document_(&document), table_(&table), what_(std::move(what)) {
  if (table.kind != Kind::table) {
    throw InputError(document.source, table.place, what_ + " is " + std::string(kind_words(table.kind)),
                     "write a table: " + (table.key.empty() ? "{ ... }" : "[" + table.key + "] or { ... }"));
  }
}

void TableReader::fail(std::string_view key, const std::string& message, const std::string& hint) const {
  throw InputError(document_->source, place(key), message, hint);
}

void TableReader::fail_here(const std::string& message, const std::string& hint) const {
  throw InputError(document_->source, table_->place, message, hint);
}

namespace {

// The child written as `key` with a unit at its end: "length" as length_m.
const Node* suffixed(const Node& table, std::string_view key) {
  for (const Node& child : table.children) {
    if (child.key.size() <= key.size() + 1 || !child.key.starts_with(key) || child.key[key.size()] != '_') continue;
    const std::string_view suffix = std::string_view(child.key).substr(key.size() + 1);
    for (int d = 0; d <= static_cast<int>(Dimension::heat_capacity); ++d) {
      if (from_suffixed(0.0, suffix, static_cast<Dimension>(d))) return &child;
    }
  }
  return nullptr;
}

}  // namespace

Place TableReader::place(std::string_view key) const {
  const Node* node = table_->find(key);
  if (node == nullptr) node = suffixed(*table_, key);
  return node != nullptr ? node->place : table_->place;
}

bool TableReader::has(std::string_view key) const {
  return table_->find(key) != nullptr || suffixed(*table_, key) != nullptr;
}

void TableReader::remember(std::string_view key) {
  if (std::find(known_.begin(), known_.end(), key) == known_.end()) known_.emplace_back(key);
}

void TableReader::allow(std::string_view key) { take(key); }

const Node* TableReader::lookup(std::string_view key) {
  remember(key);
  const Node* node = table_->find(key);
  if (node != nullptr) consumed_.push_back(node);
  return node;
}

const Node* TableReader::take(std::string_view key) { return lookup(key); }

const Node* TableReader::lookup_quantity(std::string_view key, Dimension dimension, std::string& suffix) {
  const Node* found = lookup(key);
  for (const std::string_view unit : suffixes(dimension)) {
    const std::string name = std::string(key) + "_" + std::string(unit);
    const Node* node = table_->find(name);
    if (node == nullptr) continue;
    remember(name);
    consumed_.push_back(node);
    if (found != nullptr) {
      throw InputError(document_->source, node->key_place,
                       what_ + " has both " + quoted(found->key) + " and " + quoted(node->key), "keep one of them");
    }
    found = node;
    suffix = unit;
  }
  // The key asked for may itself end in the unit ("rated_ah").
  if (found != nullptr && suffix.empty()) {
    for (const std::string_view unit : suffixes(dimension)) {
      if (key.size() > unit.size() + 1 && key.ends_with(unit) && key[key.size() - unit.size() - 1] == '_' &&
          unit.size() > suffix.size()) {
        suffix = unit;
      }
    }
  }
  return found;
}

void TableReader::missing(std::string_view key, std::string_view expects) const {
  // A misspelt key is the usual reason: say so at its place.
  std::vector<std::string> wanted = {std::string(key)};
  for (const Node& child : table_->children) {
    if (std::find(known_.begin(), known_.end(), child.key) != known_.end()) continue;
    if (nearest(child.key, wanted) && child.key.size() + 2 >= key.size()) {
      throw InputError(document_->source, child.key_place,
                       what_ + " has no key " + quoted(key) + " but an unknown key " + quoted(child.key),
                       "did you mean \"" + std::string(key) + "\"?");
    }
  }
  throw InputError(document_->source, table_->place, what_ + " has no key " + quoted(key),
                   "add " + std::string(key) + " = " + std::string(expects));
}

void TableReader::wrong_kind(const Node& node, std::string_view key, std::string_view wanted) const {
  throw InputError(document_->source, node.place,
                   what_ + ": " + quoted(node.key.empty() ? key : std::string_view(node.key)) + " is " +
                       std::string(kind_words(node.kind)),
                   "write " + std::string(wanted));
}

const Node& TableReader::require_kind(std::string_view key, Kind kind) {
  const Node* node = lookup(key);
  if (node == nullptr) missing(key, kind_words(kind));
  if (node->kind != kind) wrong_kind(*node, key, kind_words(kind));
  return *node;
}

std::string TableReader::text(std::string_view key) {
  const Node* node = lookup(key);
  if (node == nullptr) missing(key, "\"...\"");
  if (node->kind != Kind::text && node->kind != Kind::date) wrong_kind(*node, key, "text in quotes");
  return node->text;
}

bool TableReader::boolean(std::string_view key) { return require_kind(key, Kind::boolean).boolean; }

std::int64_t TableReader::integer(std::string_view key, std::int64_t least, std::int64_t most) {
  const Node& node = require_kind(key, Kind::integer);
  if (node.integer < least || node.integer > most) {
    throw InputError(document_->source, node.place, what_ + ": " + quoted(key) + " is " + std::to_string(node.integer),
                     "allowed: " + std::to_string(least) + " to " + std::to_string(most));
  }
  return node.integer;
}

double TableReader::number(std::string_view key, const Allowed& allowed) {
  const Node* node = lookup(key);
  if (node == nullptr) missing(key, "a number");
  if (!node->is_number()) wrong_kind(*node, key, "a plain number");
  if (!allowed.holds(node->number)) {
    throw InputError(document_->source, node->place, what_ + ": " + quoted(key) + " is " + number_words(node->number),
                     "allowed: " + allowed_words(allowed, std::nullopt));
  }
  return node->number;
}

double TableReader::convert(const Node& node, std::string_view key, std::string_view suffix, Dimension dimension,
                            const Allowed& allowed) const {
  const std::string name = quoted(node.key.empty() ? key : std::string_view(node.key));
  double si = 0.0;
  if (node.kind == Kind::text) {
    try {
      si = parse_quantity(node.text, dimension);
    } catch (const QuantityError& error) {
      throw InputError(document_->source, node.place, what_ + ": " + name + ": " + error.what(), error.hint);
    }
  } else if (node.is_number()) {
    const auto converted = from_suffixed(node.number, suffix, dimension);
    if (!suffix.empty() && converted) {
      si = *converted;
    } else if (dimension == Dimension::factor || (dimension == Dimension::fraction && std::fabs(node.number) <= 1.0)) {
      si = node.number;
    } else if (dimension == Dimension::fraction) {
      throw InputError(document_->source, node.place, what_ + ": " + name + " is " + number_words(node.number),
                       "write \"" + number_words(node.number) + " %\" with quotes, or a fraction from 0 to 1");
    } else {
      std::string example = "write it with its unit, in quotes; allowed: " + std::string(units_word(dimension));
      if (const auto names = suffixes(dimension); !names.empty() && dimension != Dimension::clock) {
        example += "; or name the key " + std::string(key) + "_" + std::string(names.front());
      }
      throw InputError(document_->source, node.place, what_ + ": " + name + " is a number without a unit", example);
    }
  } else if (node.kind == Kind::time && dimension == Dimension::clock) {
    si = node.number;
  } else {
    wrong_kind(node, key,
               std::string(dimension_word(dimension)) + " in quotes; allowed: " + std::string(units_word(dimension)));
  }
  if (!allowed.holds(si)) {
    throw InputError(document_->source, node.place, what_ + ": " + name + " is " + quantity_words(si, dimension),
                     "allowed: " + allowed_words(allowed, dimension));
  }
  return si;
}

std::optional<double> TableReader::maybe_quantity(std::string_view key, Dimension dimension, const Allowed& allowed) {
  std::string suffix;
  const Node* node = lookup_quantity(key, dimension, suffix);
  if (node == nullptr) return std::nullopt;
  return convert(*node, key, suffix, dimension, allowed);
}

double TableReader::quantity(std::string_view key, Dimension dimension, const Allowed& allowed) {
  const auto value = maybe_quantity(key, dimension, allowed);
  if (!value)
    missing(key,
            "a " + std::string(dimension_word(dimension)) + " in quotes (" + std::string(units_word(dimension)) + ")");
  return *value;
}

std::optional<Draw> TableReader::maybe_draw(std::string_view key) {
  const Node* node = lookup(key);
  const std::string watts_key = std::string(key) + "_w";
  const std::string amps_key = std::string(key) + "_a";
  const Node* watts = lookup(watts_key);
  const Node* amps = lookup(amps_key);
  const int written = (node != nullptr ? 1 : 0) + (watts != nullptr ? 1 : 0) + (amps != nullptr ? 1 : 0);
  if (written == 0) return std::nullopt;
  if (written > 1) fail(key, what_ + " has its " + std::string(key) + " written twice", "keep one of them");
  Draw draw;
  if (node != nullptr) {
    if (node->kind != Kind::text) wrong_kind(*node, key, R"(a draw in quotes, "14.5 W" or "1.2 A at 12 V")");
    try {
      draw = parse_draw(node->text);
    } catch (const QuantityError& error) {
      throw InputError(document_->source, node->place, what_ + ": " + quoted(key) + ": " + error.what(), error.hint);
    }
  } else {
    const Node& plain = watts != nullptr ? *watts : *amps;
    draw.kind = watts != nullptr ? Draw::Kind::power : Draw::Kind::current;
    draw.value = convert(plain, plain.key, watts != nullptr ? "w" : "a",
                         watts != nullptr ? Dimension::power : Dimension::current, {});
    if (amps != nullptr) draw.amps_a = draw.value;
  }
  if (draw.value < 0.0 || (draw.volts_v && *draw.volts_v <= 0.0)) {
    fail(key, what_ + ": " + quoted(key) + " is negative", "a draw is 0 or more");
  }
  return draw;
}

Draw TableReader::draw(std::string_view key) {
  const auto value = maybe_draw(key);
  if (!value) missing(key, R"("14.5 W" (or "1.2 A", "1.2 A at 12 V"))");
  return *value;
}

WireSize TableReader::wire_size(std::string_view key) {
  const Node* node = lookup(key);
  if (node == nullptr) missing(key, R"("AWG 22" (or "0.5 mm²"))");
  if (node->kind != Kind::text) wrong_kind(*node, key, R"(a wire size in quotes, "AWG 22" or "0.5 mm²")");
  try {
    return parse_wire_size(node->text);
  } catch (const QuantityError& error) {
    throw InputError(document_->source, node->place, what_ + ": " + quoted(key) + ": " + error.what(), error.hint);
  }
}

std::vector<Reading> TableReader::readings(std::string_view key) {
  const Node& node = require_kind(key, Kind::text);
  try {
    return parse_readings(node.text);
  } catch (const QuantityError& error) {
    throw InputError(document_->source, node.place, what_ + ": " + quoted(key) + ": " + error.what(), error.hint);
  }
}

std::vector<std::string> TableReader::texts(std::string_view key) {
  const Node& node = require_kind(key, Kind::array);
  std::vector<std::string> out;
  for (const Node& child : node.children) {
    if (child.kind != Kind::text) wrong_kind(child, key, "a list of text: [\"...\", \"...\"]");
    out.push_back(child.text);
  }
  return out;
}

std::vector<double> TableReader::numbers(std::string_view key) {
  const Node& node = require_kind(key, Kind::array);
  std::vector<double> out;
  for (const Node& child : node.children) {
    if (!child.is_number()) wrong_kind(child, key, "a list of plain numbers: [1.0, 2.0]");
    out.push_back(child.number);
  }
  return out;
}

std::string TableReader::one_of(std::string_view key, const std::vector<std::string>& known) {
  std::string word = text(key);
  if (std::find(known.begin(), known.end(), word) == known.end()) {
    const auto near = nearest(word, known);
    fail(key, what_ + ": " + quoted(key) + " is " + quoted(word.substr(0, 60)),
         (near ? "did you mean \"" + *near + "\"? " : "") + one_of_words(known));
  }
  return word;
}

const Node& TableReader::list(std::string_view key) { return require_kind(key, Kind::array); }

TableReader TableReader::table(std::string_view key, std::string what) {
  const Node* node = lookup(key);
  if (node == nullptr) missing(key, "{ ... }");
  return {*document_, *node, what.empty() ? what_ + ", " + std::string(key) : std::move(what)};
}

std::optional<TableReader> TableReader::maybe_table(std::string_view key, std::string what) {
  const Node* node = lookup(key);
  if (node == nullptr) return std::nullopt;
  return TableReader(*document_, *node, what.empty() ? what_ + ", " + std::string(key) : std::move(what));
}

std::vector<TableReader> TableReader::tables(std::string_view key, const std::string& what) {
  std::vector<TableReader> out;
  const Node* node = lookup(key);
  if (node == nullptr) return out;
  if (node->kind != Kind::array) {
    throw InputError(document_->source, node->place,
                     what_ + ": " + quoted(key) + " is " + std::string(kind_words(node->kind)),
                     "write a list of tables: [[" + std::string(key) + "]]");
  }
  std::size_t number = 0;
  for (const Node& child : node->children) {
    ++number;
    out.emplace_back(*document_, child, (what.empty() ? std::string(key) : what) + " " + std::to_string(number));
  }
  return out;
}

std::optional<std::string> TableReader::maybe_text(std::string_view key) {
  if (table_->find(key) == nullptr) return lookup(key), std::nullopt;
  return text(key);
}

std::optional<double> TableReader::maybe_number(std::string_view key, const Allowed& allowed) {
  if (table_->find(key) == nullptr) return lookup(key), std::nullopt;
  return number(key, allowed);
}

std::string TableReader::text_or(std::string_view key, std::string otherwise) {
  auto value = maybe_text(key);
  return value ? std::move(*value) : std::move(otherwise);
}

bool TableReader::boolean_or(std::string_view key, bool otherwise) {
  if (lookup(key) == nullptr) return otherwise;
  return boolean(key);
}

std::int64_t TableReader::integer_or(std::string_view key, std::int64_t least, std::int64_t most,
                                     std::int64_t otherwise) {
  if (lookup(key) == nullptr) return otherwise;
  return integer(key, least, most);
}

double TableReader::number_or(std::string_view key, double otherwise, const Allowed& allowed) {
  return maybe_number(key, allowed).value_or(otherwise);
}

double TableReader::quantity_or(std::string_view key, Dimension dimension, double otherwise_si,
                                const Allowed& allowed) {
  return maybe_quantity(key, dimension, allowed).value_or(otherwise_si);
}

std::vector<std::string> TableReader::texts_or_none(std::string_view key) {
  if (lookup(key) == nullptr) return {};
  return texts(key);
}

void TableReader::finish() const {
  for (const Node& child : table_->children) {
    if (std::find(consumed_.begin(), consumed_.end(), &child) != consumed_.end()) continue;
    const auto near = nearest(child.key, known_);
    throw InputError(document_->source, child.key_place,
                     what_ + " has an unknown key " + quoted(child.key.substr(0, 60)),
                     near ? "did you mean \"" + *near + "\"?" : "known keys: " + joined(known_));
  }
}

}  // namespace tillwrap::decode
