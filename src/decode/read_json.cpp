#include <algorithm>
#include <cmath>
#include <iterator>
#include <nlohmann/json.hpp>
#include <utility>

#include "decode/node.hpp"
#include "decode/text_guard.hpp"
#include "quantity/order.hpp"

namespace tillwrap::decode {
namespace {

using json = nlohmann::ordered_json;  // the kind answers are written with: one parser and no other

// Tells how far the parser has read; its events carry no position of their own.
struct CountingIterator {
  using iterator_category = std::input_iterator_tag;
  using value_type = char;
  using difference_type = std::ptrdiff_t;
  using pointer = const char*;
  using reference = const char&;

  const char* at = nullptr;
  const char** reached = nullptr;

  reference operator*() const { return *at; }
  CountingIterator& operator++() {
    ++at;
    *reached = at;
    return *this;
  }
  CountingIterator operator++(int) {
    const CountingIterator before = *this;
    ++*this;
    return before;
  }
  friend bool operator==(const CountingIterator& a, const CountingIterator& b) { return a.at == b.at; }
};

class TreeBuilder : public nlohmann::json_sax<json> {
 public:
  TreeBuilder(std::string_view text, const std::string& source, bool leave_nulls_out)
      : text_(text), source_(source), leave_nulls_out_(leave_nulls_out), counter_(text) {
    reached_ = text.data();
  }

  const char** reached() { return &reached_; }
  Node take_root() { return std::move(root_); }

  bool null() override {
    const Place place = begin_token();
    if (leave_nulls_out_ && !open_.empty()) return true;
    throw InputError(source_, place, "null is no value here", "leave the key out, or give it a value");
  }
  bool boolean(bool value) override {
    Node& node = add(Kind::boolean);
    node.boolean = value;
    return true;
  }
  bool number_integer(number_integer_t value) override {
    Node& node = add(Kind::integer);
    node.integer = value;
    node.number = static_cast<double>(value);
    return true;
  }
  bool number_unsigned(number_unsigned_t value) override {
    const bool fits = value <= static_cast<number_unsigned_t>(INT64_MAX);
    Node& node = add(fits ? Kind::integer : Kind::number);
    node.integer = fits ? static_cast<std::int64_t>(value) : 0;
    node.number = static_cast<double>(value);
    return true;
  }
  bool number_float(number_float_t value, const string_t&) override {
    Node& node = add(Kind::number);
    node.number = value;
    if (!std::isfinite(value)) {
      throw InputError(source_, node.place, "this number is infinite or not a number", "write a finite number");
    }
    return true;
  }
  bool string(string_t& value) override {
    Node& node = add(Kind::text);
    node.text = std::move(value);
    return true;
  }
  bool binary(binary_t&) override { return false; }
  bool key(string_t& value) override {
    key_place_ = begin_token();
    key_ = std::move(value);
    return true;
  }
  bool start_object(std::size_t) override { return open(Kind::table); }
  bool start_array(std::size_t) override { return open(Kind::array); }
  bool end_object() override {
    refuse_twins(*open_.back());
    return close();
  }
  bool end_array() override { return close(); }
  bool parse_error(std::size_t, const std::string&, const nlohmann::detail::exception& error) override {
    std::string wrong = error.what();
    // "[json.exception.parse_error.101] parse error at line 3, column 4: syntax error ...": ours says the place.
    if (const auto end = wrong.find("] "); end != std::string::npos) wrong.erase(0, end + 2);
    if (wrong.starts_with("parse error at line")) {
      if (const auto end = wrong.find(": "); end != std::string::npos) wrong.erase(0, end + 2);
    }
    throw InputError(source_, place_at(text_, fault(wrong)), "not JSON here: " + wrong,
                     "write one JSON object (RFC 8259)");
  }

 private:
  // Where the trouble is: the end of a text cut short, else the start of the token just read, else the last character.
  std::size_t fault(const std::string& wrong) {
    if (wrong.find("unexpected end of input") != std::string::npos) return text_.size();
    skip_between_tokens();
    const auto read = static_cast<std::size_t>(reached_ - text_.data());
    if (token_ < read) return token_;
    return read > 0 ? read - 1 : 0;
  }

  void skip_between_tokens() {
    while (token_ < text_.size() && std::string_view(" \t\r\n,:]}").find(text_[token_]) != std::string_view::npos) {
      ++token_;
    }
  }

  // The token just read starts after the blanks, commas and colons that follow the one before. For a number the parser
  // has read one character on; that character is then a blank or a punctuation mark, never the start of a value.
  Place begin_token() {
    skip_between_tokens();
    const Place place = counter_.at(token_);
    token_ = std::max(token_ + 1, static_cast<std::size_t>(reached_ - text_.data()));
    return place;
  }

  Node& add(Kind kind) {
    const Place place = begin_token();
    Node* node = &root_;
    if (open_.empty()) {
      if (kind != Kind::table) throw InputError(source_, place, "the text is no JSON object", "start with {");
    } else {
      Node& parent = *open_.back();
      node = &parent.children.emplace_back();
      if (parent.kind == Kind::table) node->key = std::move(key_);
    }
    node->kind = kind;
    node->place = place;
    node->key_place = !open_.empty() && open_.back()->kind == Kind::table ? key_place_ : place;
    return *node;
  }

  bool open(Kind kind) {
    Node& node = add(kind);
    if (open_.size() > kMaxNesting) too_deep(source_, node.place);
    // The node's own list does not grow while it is open in this stack's upper part, so the pointer stays good.
    open_.push_back(&node);
    return true;
  }

  bool close() {
    open_.pop_back();
    return true;
  }

  void refuse_twins(const Node& table) const {
    std::vector<const Node*> sorted;
    for (const Node& child : table.children) sorted.push_back(&child);
    sort_stably(sorted, [](const Node* a, const Node* b) { return a->key < b->key; });
    for (std::size_t i = 1; i < sorted.size(); ++i) {
      if (sorted[i]->key == sorted[i - 1]->key) {
        throw InputError(source_, sorted[i]->key_place, "the key \"" + sorted[i]->key + "\" is written twice",
                         "keep one of them");
      }
    }
  }

  std::string_view text_;
  const std::string& source_;
  bool leave_nulls_out_;
  PlaceCounter counter_;
  const char* reached_ = nullptr;
  std::size_t token_ = 0;
  Node root_;
  std::vector<Node*> open_;
  std::string key_;
  Place key_place_;
};

Document read(std::string_view text, std::string source_name, bool leave_nulls_out) {
  text = guarded_text(text, source_name);
  Document document{std::move(source_name), {}};
  TreeBuilder builder(text, document.source, leave_nulls_out);
  const CountingIterator first{text.data(), builder.reached()};
  const CountingIterator last{text.data() + text.size(), builder.reached()};
  json::sax_parse(first, last, &builder);
  document.root = builder.take_root();
  return document;
}

}  // namespace

Document read_json(std::string_view text, std::string source_name) { return read(text, std::move(source_name), false); }

Document read_json_without_nulls(std::string_view text, std::string source_name) {
  return read(text, std::move(source_name), true);
}

}  // namespace tillwrap::decode
