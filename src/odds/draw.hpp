// One drawn day put onto a scenario: where each unknown stands on day k of a seed, and what that makes of loads, packs,
// air and bag.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "forecast/split.hpp"
#include "odds/odds.hpp"

namespace tillwrap::odds {

// Where each unknown stands on one day, in standard deviations (the start charge: how far short).
struct Luck {
  double load = 0.0, capacity = 0.0, resistance = 0.0, start_charge = 0.0, air = 0.0, bag = 0.0;
  std::uint32_t day = 0;
  friend bool operator==(const Luck&, const Luck&) = default;
};

// The unknowns in order of their dimension of the sequence.
enum Dimension { kLoad, kCapacity, kResistance, kStartCharge, kAir, kBag, kCommonDimensions };

// What luck makes of one piece of the day: natural logarithms of factors, and what is taken off.
struct Turn {
  std::vector<double> load;      // by device of the piece
  std::vector<double> capacity;  // by pack of the piece
  double resistance = 0.0;
  double start_charge = 0.0;  // taken off the charge fraction
  double air_k = 0.0;         // added
  double bag = 0.0;           // of the bag's loss of heat
};

class Draw {
 public:
  // Packs of one kind and age (by their health, as the resistance shows it) share their luck.
  Draw(const day::Scenario& whole, const Spread& spread, std::uint64_t seed);

  [[nodiscard]] Luck luck_of(std::uint32_t day) const;
  // `now` becomes `fresh` (a piece's scenario as given, same shape) as it turns out. `piece` names the whole day's
  // devices and packs, so that one device has the same luck in whatever piece or variant of it it is looked at.
  void apply(const forecast::Piece& piece, const day::Scenario& fresh, const Luck& luck, day::Scenario& now) const;
  // The same in two steps; `turn` keeps its room.
  void turn_of(const forecast::Piece& piece, const Luck& luck, Turn& turn) const;
  static void put(const Turn& turn, const day::Scenario& fresh, day::Scenario& now);

  // The worst of each unknown in that turn, in standard deviations to the bad side, by Dimension; of the bag, which
  // may harm either way, to the side that loses more heat. The loads' and capacities' are of the common and the own
  // part together, the worst of any device or pack.
  [[nodiscard]] std::array<double, kCommonDimensions> badness(const Turn& turn) const;
  // Every device and pack at that badness; the bag at that many standard deviations.
  void turn_at(const std::array<double, kCommonDimensions>& badness, Turn& turn) const;

 private:
  [[nodiscard]] double load_sigma() const;
  [[nodiscard]] double capacity_sigma() const;

  Spread spread_;
  std::uint64_t seed_;
  std::vector<int> group_of_pack_;
};

}  // namespace tillwrap::odds
