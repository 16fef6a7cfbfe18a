// The day file: a person's kit, wiring and day (TOML or JSON, docs/formats.md), resolved against the catalogue into a
// scenario the engine can compute.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "day/scenario.hpp"
#include "decode/node.hpp"
#include "kit/inventory.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

// Something odd that does not stop a forecast.
struct Warning {
  decode::Place place;
  std::string text;
};

// A measured draw to be met: scales everything downstream of a point.
struct MeasuredDraw {
  decode::Place place;
  std::string at;  // thing whose downstream devices are scaled
  std::vector<int> devices;
  double power_w = 0.0;  // at that point; 0 when given by a gauge
  double volts = 12.0;   // taken for what draws a constant current there
  int period = 0;        // modes in force when it was read
  int holder = -1;       // gauge form: the holder's pack went from one charge to another
  double from_charge = 0.0, to_charge = 0.0, from_s = 0.0, to_s = 0.0;
};

// Parameter files by the name a day gives them, see params_named.
using ParamsFiles = std::map<std::string, decode::Document>;

struct DayFile {
  std::string source;
  day::Scenario scenario;
  kit::Inventory inventory;  // index for index with the scenario
  std::vector<MeasuredDraw> measured;
  std::vector<Warning> warnings;
  odds::Spread spread;              // how far things may turn out otherwise
  bool own_load_spread = false;     // the file says how well the load is known
  std::optional<std::string> date;  // ISO 8601
  ParamsFiles params;               // what its packs name, for reading a changed form of the day
};

// The parameter files a day names (`params` of its packs), each as written there and once. The door reads them, a path
// being relative to the day file's folder, and hands them in by that name.
struct NamedFile {
  std::string name;
  decode::Place place;  // where the day names it
};
std::vector<NamedFile> params_named(const decode::Document& day);

// Throws decode::InputError on the first thing that is wrong; warnings are collected.
DayFile read_day(const decode::Document& document, const catalogue::Catalogue& catalogue,
                 const ParamsFiles& params = {});

}  // namespace tillwrap::app
