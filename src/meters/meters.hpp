// Which meter profile to set on which device, how wrong the others are, where to warn and cut off, what it should read
// when.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "meters/in_place.hpp"
#include "meters/profiles.hpp"
#include "meters/readings.hpp"
#include "meters/worth.hpp"

namespace tillwrap::meters {

struct Options {
  odds::Spread spread;
  std::uint32_t days = 128;
  std::uint64_t seed = 1;
  int device = -1;  // only this one, whether the catalogue knows its meter or not; -1: all that have a meter
};

struct VoltsToSet {
  bool warns = false;      // volts can warn
  double warn_v = 0.0;     // 30 min or a fifth of the usable energy is left, whichever comes first
  double warn_left = 0.0;  // share then
  double warn_left_s = 0.0;
  double change_v = 0.0;      // the reserve or a tenth is left, whichever comes first
  double cutoff_v = 0.0;      // just above where the pack would cut itself off, not below the device's own
  double own_cutoff_v = 0.0;  // of the device, as in the kit
  bool guards = false;        // cutoff_v comes before the pack's own cut-off on nine days in ten
  double trip_v = 0.0;        // at the device when the pack cuts itself off; 0: the device goes off first
};

struct DeviceMeter {
  Feed feed;
  Discharge discharge;
  double low_end_s = 0.0, high_end_s = 0.0;  // eight discharges in ten last between
  bool flat = false;                         // the volts move less than the display shows: no profile fits
  Guidance guidance;
  double display_v = 0.1;
  VoltsToSet volts;
  bool list_known = false;               // profiles are the device's own; otherwise generic ones
  std::vector<ProfileVerdict> profiles;  // best first
  int own_index = -1;                    // in profiles: the pack's own chemistry and cells; -1: not in the list
  std::string set;                       // what the user has set; empty: not said
  int set_index = -1;                    // in profiles

  // The first of the profiles is worth setting: it reads within kFits of the truth on the mean.
  [[nodiscard]] bool fits() const { return !flat && !profiles.empty() && profiles.front().error <= kFits; }
};

struct Answer {
  std::vector<DeviceMeter> meters;    // by device, then what gives most
  std::vector<ReadingList> readings;  // one a device, for what gives it most
};

// The profiles in force are judged by Curve and reserve; throws nothing. `scenario` with measured draws applied.
Answer meters(const day::Scenario& scenario, const kit::Inventory& inventory, const catalogue::Catalogue& catalogue,
              const Options& options);

// Volts to type in, from a discharge and the volts at which the pack cut itself off on drawn days (sorted).
VoltsToSet volts_to_set(const Discharge& discharge, const std::vector<double>& trips_v, double own_cutoff_v,
                        double reserve_s);

}  // namespace tillwrap::meters
