// What a device's display makes of its input volts, as whoever makes the device would calibrate it: a typical new pack
// of that chemistry and number of cells, discharged by the device's own usual draw.
#pragma once

#include <optional>
#include <string>

#include "catalogue/catalogue.hpp"
#include "kit/inventory.hpp"
#include "quantity/curve.hpp"

namespace tillwrap::meters {

struct Scale {
  tillwrap::Curve share;  // of the usable energy, 0..1, over volts
  double warn_v = 0.0;    // at a fifth left (common practice: 20 to 25 %)

  [[nodiscard]] double empty_v() const { return share.knots_x().front(); }  // shows 0, and below
  [[nodiscard]] double full_v() const { return share.knots_x().back(); }    // shows all, and above
  [[nodiscard]] double left_at(double volts) const { return share.held(volts); }
};

// A profile of the catalogue, or one like it for another number of cells, on one device.
struct Profile {
  std::string id;
  std::string title;
  std::string chemistry;
  int cells = 0;
  Scale scale;
};

// The device as its maker knows it.
struct UsualLoad {
  double draw_w = 0.0;          // constant power, where > 0
  double draw_a = 0.0;          // else constant current
  double least_cutoff_v = 0.0;  // of its inputs: below, none of them runs it
};
UsualLoad usual_load(const catalogue::DeviceKind& kind);

// The pack of the catalogue a maker would take: of that chemistry, of that number of cells or the nearest to it, the
// middle one by energy. Nothing that holds its output at a voltage. `series` is brought to `cells`.
cell::PackParams typical_pack(const catalogue::Catalogue& catalogue, const std::string& family, int cells);

// From full at 20 °C down to `end_v`, or to the device's cut-off where that is higher and the pack starts above it. A
// load too strong for the pack is taken as a fifth of its capacity an hour (the rating of IEC 61951-2 and IEC 61960).
Scale calibrated(const cell::PackParams& pack, const UsualLoad& load, double end_v);

Profile on_device(const catalogue::Catalogue& catalogue, const catalogue::MeterProfile& kind, const UsualLoad& load);

// What its display goes by: the profile the user says it is set to, or the only one it has; nothing when that is not
// known.
std::optional<Profile> known_profile(const catalogue::Catalogue& catalogue, const kit::DeviceItem& item);

}  // namespace tillwrap::meters
