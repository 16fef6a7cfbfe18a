// `tillwrap health PACK --day DAY`: what the journal's readings of one day say of the packs in use on it, by that day's
// wiring and loads.
#pragma once

#include <cstdint>
#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "app/day_file.hpp"
#include "health/trend.hpp"
#include "journal/fold.hpp"

namespace tillwrap::app {

struct DayPack {
  std::string label;
  std::optional<health::Band> capacity, resistance;  // over new; nothing: that day cannot tell
  double with_pairs_sd = 0.0;                        // see learn::PackFound
};

// Packs of which more is known together than of either.
struct DayTogether {
  std::string one, other;
  health::Band capacity;  // of both, over new
};

struct DayHealth {
  std::string day, date;  // file, ISO 8601
  std::int64_t until_us = 0;
  int offset_min = 0;          // of the zone the day's lines were written in
  std::vector<DayPack> packs;  // in use that day, those that can be charged
  std::vector<DayTogether> together;
  std::size_t weighed = 0;  // readings
  std::vector<std::string> notes;
  bool fits = true;  // false: some packs in use are not told of, as what was read fits none

  [[nodiscard]] const DayPack* pack(const std::string& label) const;
};

// Lines of the journal written for that date that are not taken back, in order, and the state before a moment.
struct DayOfJournal {
  std::vector<journal::Line> lines;
  std::function<journal::State(std::int64_t until_us)> state_before;
};

// Microseconds after 1970 between which lines are of that day, whatever their zone: the first excluded lies before, the
// last after. Throws decode::InputError where the day file has no date.
struct DaySpan {
  std::int64_t from_us = 0, until_us = 0;
};
DaySpan span_of(const DayFile& file);

// Throws decode::InputError: nothing was read on that day.
DayHealth health_of_day(const DayFile& file, const DayOfJournal& journal, const catalogue::Catalogue& catalogue);

// The day as a test of that pack; nothing where it tells no capacity.
std::optional<journal::Test> day_as_test(const DayHealth& day, const std::string& label);

// What is put into the journal of it: of each pack it tells of and the journal knows, label and test.
std::vector<std::pair<std::string, journal::Test>> tests_of_day(const DayHealth& day, const journal::State& state);

// That it was not in use, or what would tell its resistance where that day does not; else empty.
std::string about_pack(const DayHealth& day, const std::string& label);
// Sentences about `label` first.
std::vector<std::string> day_words(const DayHealth& day, const std::string& label);
nlohmann::ordered_json day_json(const DayHealth& day);

}  // namespace tillwrap::app
