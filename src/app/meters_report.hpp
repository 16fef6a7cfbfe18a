// `tillwrap meters` in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "app/day_file.hpp"
#include "meters/meters.hpp"

namespace tillwrap::app {

struct MetersReport {
  const DayFile* file = nullptr;
  const meters::Answer* answer = nullptr;
  bool one_device = false;  // asked for one: everything about it
};

// Spread and load doubt as for odds; `device` -1: all with a meter.
meters::Options meters_options(const DayFile& file, int device);

// Why the profile to set is not the pack's own although the device has it, or what to mind of the own one; empty:
// nothing.
std::string profile_why(const meters::DeviceMeter& meter);

std::string meters_text(const MetersReport& report);
std::string meters_json(const MetersReport& report);  // schema/meters.schema.json
nlohmann::ordered_json meters_object(const MetersReport& report);

}  // namespace tillwrap::app
