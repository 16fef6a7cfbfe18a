// A journal line from what a person types: "charged C2 --charge '100 %' --at 21:30".
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "journal/fold.hpp"
#include "journal/line.hpp"
#include "journal/uuid.hpp"

namespace tillwrap::app {

// The zone times are typed in. The engine knows no zones: the caller does.
struct Zone {
  struct Local {
    int offset_min = 0;
    bool missing = false;  // the clock skipped it (summer time begins)
    bool twice = false;    // it came twice (summer time ends): `offset_min` is the first
  };
  std::function<int(std::int64_t us)> offset_at;                      // minutes east, at an instant
  std::function<Local(const journal::Civil& civil)> offset_of_local;  // at a local time
};
// Everywhere the same.
Zone fixed_zone(int offset_min);

// "now", "21:30", "9:30 pm", "yesterday 21:30", "2026-11-25 21:30", "10 min ago", or RFC 3339. A clock time that is
// still to come today is taken as yesterday's. What was taken for granted goes into `notes`. Throws decode::InputError.
journal::Moment moment_of(const std::string& text, std::int64_t now_us, const Zone& zone,
                          std::vector<std::string>& notes);

struct SaidEvent {
  std::string what;                // "charged", "put in"
  std::vector<std::string> words;  // what it is about, then --key value, --key=value or key=value
  std::string at = "now";
  std::string by;
};

// Keys and their texts of a `tested` line for that pack, which has both its spreads.
std::vector<std::pair<std::string, std::string>> tested_keys(const std::string& label, const journal::Test& test);

struct NewLine {
  journal::Line line;
  std::vector<std::string> notes;
};

// `ids_like` finds the ids of lines that begin or end in some letters, for taken_back. With `after`, an id, the new one
// sorts behind it, for several lines made at once. Throws decode::InputError.
NewLine new_line(const SaidEvent& said, std::int64_t now_us, const Zone& zone, const journal::RandomBytes& random,
                 const catalogue::Catalogue& catalogue,
                 const std::function<std::vector<std::string>(const std::string&)>& ids_like,
                 std::string_view after = {});

}  // namespace tillwrap::app
