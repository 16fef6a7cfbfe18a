// The rest after the day: when there is somebody at the chargers.
#include "app/day_builder.hpp"
#include "app/rest_table.hpp"
#include "app/stretches.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

std::vector<day::Span> stretches(decode::TableReader& reader, const char* key) {
  std::vector<day::Span> spans;
  reader.allow(key);
  const decode::Node* node = reader.take(key);
  if (node == nullptr) return spans;
  const auto add = [&](const decode::Node& one) {
    const std::string& source = reader.document().source;
    if (one.kind != decode::Kind::text)
      throw decode::InputError(source, one.place, "a stretch of time is expected",
                               "write stretches as \"20:30-23:30, 06:00-06:30\"");
    try {
      for (const day::Span& span : parse_stretches(one.text)) spans.push_back(span);
    } catch (const decode::QuantityError& error) {
      throw decode::InputError(source, one.place, error.what(),
                               error.hint.empty() ? "write stretches as \"20:30-23:30, 06:00-06:30\"" : error.hint);
    }
  };
  if (node->kind == decode::Kind::array) {
    for (const decode::Node& one : node->children) add(one);
  } else {
    add(*node);
  }
  return spans;
}

}  // namespace

kit::Rest read_rest_table(decode::TableReader& reader, std::string& place) {
  kit::Rest rest{.place = reader.place("there")};
  rest.from_s = reader.maybe_quantity("from", Dimension::clock);
  rest.until_s = reader.maybe_quantity("until", Dimension::clock);
  rest.there = stretches(reader, "there");
  rest.asleep = reader.boolean_or("asleep", false);
  rest.get_ups = static_cast<int>(reader.integer_or("get_up", 0, 2, 1));
  place = reader.text_or("place", "");
  rest.air_k = reader.maybe_quantity("air", Dimension::temperature, {.least = 213.15, .most = 333.15});
  rest.power = stretches(reader, "power");
  rest.watts = reader.quantity_or("watts", Dimension::power, 0.0, {.above = 0.0});
  return rest;
}

void DayBuilder::read_rest(Reader& root) {
  auto reader = root.maybe_table("rest", "the rest");
  if (!reader) return;
  std::string place;
  kit::Rest rest = read_rest_table(*reader, place);
  if (!place.empty()) rest.where = place_index(*reader, "place", "");
  reader->finish();
  out_.inventory.rest = std::move(rest);
}

}  // namespace tillwrap::app
