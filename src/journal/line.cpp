#include "journal/line.hpp"

#include "decode/table_reader.hpp"
#include "journal/uuid.hpp"

namespace tillwrap::journal {

namespace {

constexpr std::int64_t kLatestVersion = 1'000'000;

std::string_view without_blanks(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return text;
}

void check_label(decode::TableReader& reader, std::string_view key, const std::string& text) {
  if (text.empty()) reader.fail(key, std::string(key) + " is empty", "write a name");
  if (text.size() > kMostLabelBytes)
    reader.fail(key, std::string(key) + " is too long for a name", "at most 200 bytes");
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7F)
      reader.fail(key, std::string(key) + " holds a control character", "write a name in plain letters");
  }
}

bool is_date(const std::string& text) {
  if (text.size() != 10) return false;
  try {
    parse_moment(text + "T00:00:00Z");
    return true;
  } catch (const MomentError&) {
    return false;
  }
}

std::string event_names() {
  std::string names;
  for (const Point& point : points()) names += (names.empty() ? "" : ", ") + std::string(point.name);
  return names;
}

void read_key(decode::TableReader& reader, const Key& key, Line& line) {
  if (!key.needed && reader.node().find(key.name) == nullptr) return;
  const decode::Allowed allowed{.least = key.least, .most = key.most};
  switch (key.value) {
    case Value::label: {
      std::string text = reader.text(key.name);
      check_label(reader, key.name, text);
      line.texts.emplace_back(key.name, std::move(text));
      return;
    }
    case Value::text:
      line.texts.emplace_back(key.name, reader.text(key.name));
      return;
    case Value::date: {
      std::string text = reader.text(key.name);
      if (!is_date(text)) reader.fail(key.name, std::string(key.name) + " is no date", "write it as 2024-03-01");
      line.texts.emplace_back(key.name, std::move(text));
      return;
    }
    case Value::id: {
      std::string text = reader.text(key.name);
      if (!is_uuid7(text)) reader.fail(key.name, "this is no id of a line", "a UUID of version 7 in lower case");
      line.texts.emplace_back(key.name, std::move(text));
      return;
    }
    case Value::point: {
      std::string text = reader.text(key.name);
      if (point_of(text) == nullptr)
        reader.fail(key.name, "there is no point \"" + text.substr(0, 60) + "\"", "allowed: " + event_names());
      line.texts.emplace_back(key.name, std::move(text));
      return;
    }
    case Value::temperature:
      line.texts.emplace_back(key.name, reader.text(key.name));
      try {
        line.numbers.emplace_back(key.name,
                                  decode::parse_quantity(line.texts.back().second, decode::Dimension::temperature));
      } catch (const decode::QuantityError& error) {
        reader.fail(key.name, error.what(), error.hint);
      }
      if (!(line.numbers.back().second >= 173.15 && line.numbers.back().second <= 373.15))
        reader.fail(key.name, "no pack lies at such a temperature", "allowed: -100 to 100 °C");
      return;
    case Value::reading: {
      const Point* point = point_of(line.words("point"));
      line.numbers.emplace_back(key.name, reader.number(key.name, {.least = point->least, .most = point->most}));
      return;
    }
    case Value::fraction:
    case Value::factor:
    case Value::minutes:
    case Value::charge_ah:
    case Value::money:
      line.numbers.emplace_back(key.name, reader.number(key.name, allowed));
      return;
  }
}

Line read(const decode::Document& document) {
  decode::TableReader reader(document, document.root, "the line");
  Line line;
  line.version = reader.integer("v", 1, kLatestVersion);
  line.id = reader.text("id");
  if (!is_uuid7(line.id)) {
    reader.fail("id", "\"" + line.id.substr(0, 60) + "\" is no id of a line",
                "a UUID of version 7 in lower case (RFC 9562)");
  }
  try {
    line.at = parse_moment(reader.text("at"));
  } catch (const MomentError& error) {
    reader.fail("at", error.what(), error.hint);
  }
  if (line.version > kVersion) {
    // Only what orders and names a line is held to for ever; the rest may have changed its meaning.
    const auto plain = [&](std::string_view key) {
      const decode::Node* node = document.root.find(key);
      return node != nullptr && node->kind == decode::Kind::text ? node->text : std::string();
    };
    line.by = plain("by");
    line.what = plain("what");
    return line;
  }
  line.by = reader.text("by");
  check_label(reader, "by", line.by);
  line.what = reader.text("what");
  check_label(reader, "what", line.what);
  line.form = form_of(line.what);
  if (line.form == nullptr) return line;
  for (const Key& key : line.form->keys) read_key(reader, key, line);
  if (line.form->event == Event::taken_back && line.words("of") == line.id)
    reader.fail("of", "the line takes itself back", "name the id of an earlier line");
  return line;
}

}  // namespace

const std::string& Line::words(std::string_view key) const {
  static const std::string none;
  for (const auto& [name, text] : texts) {
    if (name == key) return text;
  }
  return none;
}

std::optional<double> Line::number(std::string_view key) const {
  for (const auto& [name, value] : numbers) {
    if (name == key) return value;
  }
  return std::nullopt;
}

bool before(const Line& a, const Line& b) {
  if (a.at.us != b.at.us) return a.at.us < b.at.us;
  if (a.id != b.id) return a.id < b.id;
  return a.text < b.text;
}

Line parse_line(std::string_view text, const std::string& source, std::size_t number) {
  if (text.size() > kMostLineBytes) {
    throw decode::InputError(source, {number, 1}, "the line has " + std::to_string(text.size()) + " bytes",
                             "a line of a journal has at most " + std::to_string(kMostLineBytes));
  }
  if (number == 1 && text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  try {
    Line line = read(decode::read_json_without_nulls(text, source));
    line.text = without_blanks(text);
    return line;
  } catch (const decode::InputError& error) {
    throw decode::InputError(source, {number, error.place.column}, error.message, error.hint);
  }
}

std::vector<Line> parse_lines(std::string_view text, const std::string& source) {
  std::vector<Line> out;
  std::size_t number = 0;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    const std::string_view one = text.substr(0, end);
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
    ++number;
    if (!without_blanks(one).empty()) out.push_back(parse_line(one, source, number));
  }
  return out;
}

std::string json_text(std::string_view text) {
  constexpr std::string_view hex = "0123456789abcdef";
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (byte < 0x20 || byte == 0x7F) {
      out += "\\u00";
      out += hex[byte >> 4U];
      out += hex[byte & 15U];
    } else {
      out += c;
    }
  }
  return out + "\"";
}

std::string compose_line(std::string_view id, const Moment& at, std::string_view by, std::string_view what,
                         const std::vector<std::pair<std::string, std::string>>& rest) {
  std::string out = "{\"v\":" + std::to_string(kVersion) + ",\"id\":" + json_text(id) +
                    ",\"at\":" + json_text(moment_text(at)) + ",\"by\":" + json_text(by) +
                    ",\"what\":" + json_text(what);
  for (const auto& [key, value] : rest) out += "," + json_text(key) + ":" + value;
  return out + "}";
}

}  // namespace tillwrap::journal
