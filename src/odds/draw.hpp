// One drawn day put onto a scenario: where each unknown stands on day k of a seed, and what that makes of loads, packs,
// air and bag.
#pragma once

#include <cstdint>
#include <vector>

#include "forecast/split.hpp"
#include "odds/odds.hpp"

namespace tillwrap::odds {

// Where each unknown stands on one day, in standard deviations (the start charge: how far short).
struct Luck {
  double load = 0.0, capacity = 0.0, resistance = 0.0, start_charge = 0.0, air = 0.0, bag = 0.0;
  bool worst = false;  // everything of its own stands at the bad side too
  std::uint32_t day = 0;
};

// The unknowns in order of their dimension of the sequence.
enum Dimension { kLoad, kCapacity, kResistance, kStartCharge, kAir, kBag, kCommonDimensions };

// How many standard deviations to the bad side count as the worst that happens.
inline constexpr double kWorst = 4.0;

class Draw {
 public:
  // Packs of one kind and age (by their health, as the resistance shows it) share their luck.
  Draw(const day::Scenario& whole, const Spread& spread, std::uint64_t seed);

  [[nodiscard]] Luck luck_of(std::uint32_t day) const;
  // `now` becomes `fresh` (a piece's scenario as given, same shape) as it turns out. `piece` names the whole day's
  // devices and packs, so that one device has the same luck in whatever piece or variant of it it is looked at.
  void apply(const forecast::Piece& piece, const day::Scenario& fresh, const Luck& luck, day::Scenario& now) const;

 private:
  Spread spread_;
  std::uint64_t seed_;
  std::vector<int> group_of_pack_;
};

}  // namespace tillwrap::odds
