// A day the page asked about, read once: the questions about it come one after another.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "app/track_day.hpp"
#include "decode/table_reader.hpp"
#include "odds/odds.hpp"

namespace tillwrap::door {

// The last tracking in steps, to go on with: what was asked, and how many of the earlier steps' numbers it has taken.
struct Steps {
  std::string question;
  std::size_t taken = 0;
  std::unique_ptr<app::DayTracking> tracking;
};

struct KnownDay {
  std::string text;
  decode::Document document;
  app::DayFile file;
  std::vector<app::MeasuredOutcome> measured;
  std::map<std::string, std::unique_ptr<odds::Worker>> workers;  // by options
  Steps steps;
};

}  // namespace tillwrap::door
