// The kinds of events a journal line can tell of, and the keys each has: one table that reading, writing and listing
// share (docs/formats.md, journal).
#pragma once

#include <limits>
#include <string>
#include <string_view>
#include <vector>

namespace tillwrap::journal {

enum class Event {
  acquired,
  charged,
  rested,
  put_in,
  taken_out,
  reading,
  period,
  late,
  tested,
  used,
  retired,
  taken_back,
};

enum class Value {
  label,        // a short name, not empty
  text,         // any words
  date,         // ISO 8601 calendar date
  fraction,     // 0..1 in the line, "80 %" as typed
  factor,       // plain number
  temperature,  // text with its unit in the line: "18 °C"
  minutes,      // number, may be negative
  charge_ah,    // number, Ah
  money,        // number
  reading,      // number; what it means goes with `point`
  id,           // of another line
  point,        // one of kPoints
};

struct Key {
  std::string_view name;
  Value value = Value::text;
  bool needed = false;
  double least = -std::numeric_limits<double>::infinity();
  double most = std::numeric_limits<double>::infinity();
};

struct Form {
  Event event;
  std::string_view name;  // as `what` has it
  std::vector<Key> keys;  // the first is what the event is about
  [[nodiscard]] const Key* key(std::string_view name) const;
};

const std::vector<Form>& forms();
const Form* form_of(std::string_view name);  // null: no such event
const Form& form_of(Event event);

// Named points a reading is taken at, and what its value is.
struct Point {
  std::string_view name;
  std::string_view unit;  // "V", "A"; "" for a fraction
  double least;
  double most;
};
const std::vector<Point>& points();
const Point* point_of(std::string_view name);

}  // namespace tillwrap::journal
