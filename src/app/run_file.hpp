// The run file: consecutive days of a production, each a day file, with the rests between.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "decode/node.hpp"
#include "kit/inventory.hpp"

namespace tillwrap::app {

struct RunDay {
  std::string file;  // as written; relative to the run file
  decode::Place place;
  std::optional<std::string> date;  // ISO 8601
  std::string where;                // in words
  // The rest after it: in place of the day file's own.
  std::optional<kit::Rest> rest;
  std::string rest_place;
  double travel_s = 0.0;              // packed, nothing charges
  bool charging = true;               // false: nothing is charged in this rest
  std::vector<std::string> chargers;  // those at hand then; empty: all of the day file
};

struct RunFile {
  std::string source;
  std::string title;
  bool fresh_cells = true;  // cells that are thrown away are new every day
  std::vector<RunDay> days;
};

// Whether a document is a run rather than one day: its days are a list.
bool is_run(const decode::Document& document);

// Throws decode::InputError.
RunFile read_run(const decode::Document& document);

}  // namespace tillwrap::app
