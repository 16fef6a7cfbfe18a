#include "catalogue/reading.hpp"

#include <algorithm>
#include <array>

namespace tillwrap::catalogue {
namespace {

constexpr std::array<std::pair<std::string_view, Mark>, 6> kMarks = {{
    {"measured", Mark::measured},
    {"standard", Mark::standard},
    {"derived", Mark::derived},
    {"secondary", Mark::secondary},
    {"from memory", Mark::memory},
    {"common practice", Mark::practice},
}};

bool kebab(std::string_view id) {
  if (id.empty() || id.front() == '-' || id.back() == '-') return false;
  return std::all_of(id.begin(), id.end(),
                     [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-'; });
}

Estimate read_three(TableReader& reader, const decode::Node& node, std::string_view key, std::string_view suffix,
                    Dimension dimension, const Allowed& allowed) {
  const std::vector<double> written = reader.numbers(node.key);
  if (written.size() != 3)
    reader.fail(node.key, reader.what() + ": \"" + node.key + "\" has not three numbers", "write [low, typical, high]");
  std::array<double, 3> si{};
  for (std::size_t i = 0; i < 3; ++i) {
    si[i] = suffix.empty() ? written[i] : decode::from_suffixed(written[i], suffix, dimension).value_or(written[i]);
    if (!allowed.holds(si[i])) {
      reader.fail(
          node.key, reader.what() + ": \"" + std::string(key) + "\" is " + decode::number_words(written[i]),
          "allowed: " + decode::allowed_words(allowed, suffix.empty() ? std::nullopt : std::optional(dimension)));
    }
  }
  if (si[0] > si[1] || si[1] > si[2]) {
    reader.fail(node.key, reader.what() + ": \"" + node.key + "\" does not ascend", "write [low, typical, high]");
  }
  return {si[0], si[1], si[2]};
}

}  // namespace

std::string_view mark_word(Mark mark) {
  for (const auto& [word, value] : kMarks) {
    if (value == mark) return word;
  }
  return "";
}

Mark read_mark(TableReader& reader) {
  std::vector<std::string> words;
  for (const auto& row : kMarks) words.emplace_back(row.first);
  const std::string word = reader.one_of("mark", words);
  return std::find_if(kMarks.begin(), kMarks.end(), [&](const auto& row) { return row.first == word; })->second;
}

void read_entry(TableReader& reader, Entry& entry, Origin origin) {
  entry.node = &reader.node();
  entry.id = reader.text("id");
  if (!kebab(entry.id))
    reader.fail("id", "the id \"" + entry.id + "\" is not plain", "use a to z, 0 to 9 and - inside");
  entry.aliases = reader.texts_or_none("aliases");
  const bool strict = origin == Origin::catalogue;
  entry.title = strict ? reader.text("title") : reader.text_or("title", entry.id);
  entry.note = reader.text_or("note", "");
  entry.provenance.source = strict ? reader.text("source") : reader.text_or("source", "brought along, no source given");
  if (entry.provenance.source.empty()) reader.fail("source", "an empty source", "say where the numbers come from");
  if (strict || reader.has("mark")) entry.provenance.mark = read_mark(reader);
  entry.provenance.checked = strict ? reader.text("checked") : reader.text_or("checked", "");
  entry.provenance.valid = reader.text_or("valid", "");
  if (auto own = reader.maybe_table("sources", entry.id + ", sources")) {
    for (const decode::Node& child : own->node().children) {
      TableReader one = own->table(child.key);
      Provenance p;
      p.source = one.text("source");
      p.mark = read_mark(one);
      p.checked = one.text_or("checked", entry.provenance.checked);
      p.valid = one.text_or("valid", "");
      one.finish();
      entry.own_provenance.emplace_back(child.key, std::move(p));
    }
  }
}

std::optional<Estimate> maybe_estimate(TableReader& reader, std::string_view key, Dimension dimension,
                                       const Allowed& allowed) {
  for (const std::string_view suffix : decode::suffixes(dimension)) {
    const decode::Node* node = reader.node().find(std::string(key) + "_" + std::string(suffix));
    if (node == nullptr || node->kind != decode::Kind::array) continue;
    return read_three(reader, *node, key, suffix, dimension, allowed);
  }
  const auto one = reader.maybe_quantity(key, dimension, allowed);
  if (!one) return std::nullopt;
  return Estimate{*one, *one, *one};
}

Estimate estimate(TableReader& reader, std::string_view key, Dimension dimension, const Allowed& allowed) {
  if (const auto value = maybe_estimate(reader, key, dimension, allowed)) return *value;
  const double one = reader.quantity(key, dimension, allowed);  // says what is missing
  return {one, one, one};
}

std::optional<Estimate> maybe_plain_estimate(TableReader& reader, std::string_view key, const Allowed& allowed) {
  const decode::Node* node = reader.node().find(key);
  if (node != nullptr && node->kind == decode::Kind::array) {
    return read_three(reader, *node, key, "", Dimension::factor, allowed);
  }
  const auto one = reader.maybe_number(key, allowed);
  if (!one) return std::nullopt;
  return Estimate{*one, *one, *one};
}

std::vector<std::vector<double>> rows(TableReader& reader, std::string_view key, std::size_t width) {
  std::vector<std::vector<double>> out;
  const std::string name(key);
  for (const decode::Node& row : reader.list(key).children) {
    std::vector<double> numbers;
    for (const decode::Node& cell : row.children) {
      if (!cell.is_number()) break;
      numbers.push_back(cell.number);
    }
    if (row.kind != decode::Kind::array || row.children.size() != width || numbers.size() != width) {
      throw decode::InputError(
          reader.document().source, row.place,
          reader.what() + ": a row of \"" + name + "\" has not " + std::to_string(width) + " numbers",
          "write [[..., ...], [..., ...]]");
    }
    out.push_back(std::move(numbers));
  }
  return out;
}

std::optional<Regulator> maybe_regulator(TableReader& reader) {
  auto table = reader.maybe_table("regulator");
  if (!table) return std::nullopt;
  Regulator r;
  r.output_v = table->quantity("output", Dimension::voltage, kPositive);
  r.idle_w = table->quantity("idle", Dimension::power, kNotNegative);
  r.gain = table->number("gain", {.least = 1.0});
  r.loss_ohm = table->quantity("loss", Dimension::resistance, kNotNegative);
  r.most_w = table->quantity("most", Dimension::power, kPositive);
  r.input_least_v = table->quantity_or("input_least", Dimension::voltage, 0.0, kNotNegative);
  r.input_most_v = table->quantity_or("input_most", Dimension::voltage, 0.0, kNotNegative);
  r.low_load_a = table->quantity_or("low_load", Dimension::current, 0.0, kNotNegative);
  // "low_load" in amps and in seconds share their stem; the second is asked for by its whole name.
  r.low_load_s = table->quantity_or("low_load_s", Dimension::duration, 0.0, kNotNegative);
  table->finish();
  return r;
}

std::vector<PowerProfile> profiles(TableReader& reader) {
  std::vector<PowerProfile> out;
  if (reader.node().find("profiles") == nullptr) {
    reader.allow("profiles");
    return out;
  }
  for (const auto& row : rows(reader, "profiles", 2)) {
    if (!(row[0] > 0.0) || !(row[1] > 0.0))
      reader.fail("profiles", reader.what() + ": a profile is not positive", "write [volts, amps]");
    out.push_back({row[0], row[1]});
  }
  return out;
}

}  // namespace tillwrap::catalogue
