// Reads one table key by key: typed, range-checked, every complaint with its place; keys nobody asked for are errors.
//
//   TableReader cable(document, node, "cable \"recorder\"");
//   const double length_m = cable.quantity("length", Dimension::length, {.above = 0.0});
//   const std::string plug = cable.text("plug");
//   cable.finish();   // an unknown key is an error that names the nearest known one
//
// A dimensional value is text with its unit (`length = "50 cm"`), or a bare number under a key that ends in the unit
// (`length_m = 0.5`): asking for "length" accepts both.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "decode/node.hpp"
#include "decode/units.hpp"

namespace tillwrap::decode {

// Allowed range in SI. `above`/`below` are exclusive, `least`/`most` inclusive.
struct Allowed {
  double least = -std::numeric_limits<double>::infinity();
  double most = std::numeric_limits<double>::infinity();
  double above = -std::numeric_limits<double>::infinity();
  double below = std::numeric_limits<double>::infinity();
  [[nodiscard]] bool holds(double value) const;
};

class TableReader {
 public:
  // `what` names the table in messages: "device \"recorder\"", "the day". The document must outlive the reader.
  TableReader(const Document& document, const Node& table, std::string what);

  [[nodiscard]] const std::string& what() const { return what_; }
  [[nodiscard]] const Node& node() const { return *table_; }
  [[nodiscard]] const Document& document() const { return *document_; }

  // True when the key (or, for quantities, the key with a unit suffix) is written. Does not consume it.
  [[nodiscard]] bool has(std::string_view key) const;

  // Required; missing or of another type is an InputError.
  std::string text(std::string_view key);
  bool boolean(std::string_view key);
  std::int64_t integer(std::string_view key, std::int64_t least, std::int64_t most);
  double number(std::string_view key, const Allowed& allowed = {});
  double quantity(std::string_view key, Dimension dimension, const Allowed& allowed = {});
  Draw draw(std::string_view key);
  WireSize wire_size(std::string_view key);
  std::vector<Reading> readings(std::string_view key);
  std::vector<std::string> texts(std::string_view key);                                 // a list of text
  std::vector<double> numbers(std::string_view key);                                    // a list of plain numbers
  std::string one_of(std::string_view key, const std::vector<std::string>& known);      // text out of a set
  const Node& list(std::string_view key);                                               // an array node
  TableReader table(std::string_view key, std::string what = {});                       // a sub-table
  std::vector<TableReader> tables(std::string_view key, const std::string& what = {});  // [[key]]; none written: empty

  // Optional forms.
  std::optional<std::string> maybe_text(std::string_view key);
  std::optional<double> maybe_number(std::string_view key, const Allowed& allowed = {});
  std::optional<double> maybe_quantity(std::string_view key, Dimension dimension, const Allowed& allowed = {});
  std::optional<Draw> maybe_draw(std::string_view key);
  std::optional<TableReader> maybe_table(std::string_view key, std::string what = {});
  std::string text_or(std::string_view key, std::string otherwise);
  bool boolean_or(std::string_view key, bool otherwise);
  std::int64_t integer_or(std::string_view key, std::int64_t least, std::int64_t most, std::int64_t otherwise);
  double number_or(std::string_view key, double otherwise, const Allowed& allowed = {});
  double quantity_or(std::string_view key, Dimension dimension, double otherwise_si, const Allowed& allowed = {});
  std::vector<std::string> texts_or_none(std::string_view key);

  // Any node under that key, consumed; null when absent.
  const Node* take(std::string_view key);

  // Place of the value under `key` (or of the table when absent), for later cross-checks.
  [[nodiscard]] Place place(std::string_view key) const;

  // Throws InputError at the value of `key` (or at the table). Message and hint as given.
  [[noreturn]] void fail(std::string_view key, const std::string& message, const std::string& hint = {}) const;
  [[noreturn]] void fail_here(const std::string& message, const std::string& hint = {}) const;

  // Says that this key is known although nobody reads it now.
  void allow(std::string_view key);
  // Every key must have been asked for.
  void finish() const;

 private:
  const Node* lookup(std::string_view key);
  const Node* lookup_quantity(std::string_view key, Dimension dimension, std::string& suffix);
  const Node& require_kind(std::string_view key, Kind kind);
  double convert(const Node& node, std::string_view key, std::string_view suffix, Dimension dimension,
                 const Allowed& allowed) const;
  [[noreturn]] void missing(std::string_view key, std::string_view expects) const;
  [[noreturn]] void wrong_kind(const Node& node, std::string_view key, std::string_view wanted) const;
  void remember(std::string_view key);

  const Document* document_;
  const Node* table_;
  std::string what_;
  std::vector<std::string> known_;     // every key asked for
  std::vector<const Node*> consumed_;  // children that were read
};

// The range in words for a message, in the dimension's plain unit: "more than 0 m", "0 % to 100 %".
std::string allowed_words(const Allowed& allowed, std::optional<Dimension> dimension);

}  // namespace tillwrap::decode
