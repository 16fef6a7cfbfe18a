// A day the page asked about, read once: the questions about it come one after another.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "decode/table_reader.hpp"
#include "odds/odds.hpp"

namespace tillwrap::door {

struct KnownDay {
  std::string text;
  decode::Document document;
  app::DayFile file;
  std::vector<app::MeasuredOutcome> measured;
  std::map<std::string, std::unique_ptr<odds::Worker>> workers;  // by options
};

}  // namespace tillwrap::door
