// Which output feeds which device: the part of composing a day that has to be searched.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"

namespace tillwrap::app {

// One device to be fed.
struct FeedUnit {
  const catalogue::DeviceKind* kind = nullptr;
  std::string name;
  int wish = 0;            // index into the wishes
  double watts = 0.0;      // usual draw
  bool on_cells = false;   // asked for
  bool can_cells = false;  // its kind has a battery door for cells
};

// How one device gets its power.
struct UnitFeed {
  enum class From { box, direct, built_in, own_bank, own_plate, cells };
  From from = From::cells;
  int output = -1;      // box: index into the box kind's outputs
  int input = -1;       // index into the device kind's inputs; cells: -1
  bool shared = false;  // the output feeds another device too
  std::string bank;     // own_bank: pack id
  double bank_v = 0.0;  // own_bank: level to ask a PD bank for; 0: its only one
};

// Rested volts when full and nominal, or the regulated output of a bank.
struct Volts {
  double nominal_v = 0.0;
  double full_v = 0.0;
};
// What the main pack sits in and goes through.
struct MainFeed {
  const catalogue::PackKind* pack = nullptr;
  const catalogue::HolderKind* holder = nullptr;
  const catalogue::BoxKind* box = nullptr;  // null: straight into one device
  int holders = 1;                          // packs that carry at once
  double level_v = 0.0;                     // to ask a PD bank for; 0: it has one only
  Volts volts;                              // of the pack at that level
  bool by_lead = false;                     // a lead from holder to box, not a holder that is part of it
  std::vector<UnitFeed> feeds;              // a unit each
  int shared = 0;                           // outputs that need a splitter lead
};

// `level_v`: what a PD bank is asked for; 0: its first.
Volts pack_volts(const catalogue::PackKind& pack, double level_v, const catalogue::Catalogue& catalogue);

// Amps a unit takes when that source is nearly down to its end.
double feed_amps(double watts, double nominal_v, bool regulated);

// Amps an output may carry for hours: its fuse by its law, its plug, its regulator.
double output_amps(const catalogue::BoxOutput& output, const catalogue::Catalogue& catalogue);

// The smallest arrangement that feeds everything; `box` and `holder` narrow the choice when not empty. Throws
// CannotWire.
MainFeed main_feed(const std::vector<FeedUnit>& units, const catalogue::PackKind* pack, int packs,
                   const std::string& holder, const std::string& box, const catalogue::Catalogue& catalogue);

}  // namespace tillwrap::app
