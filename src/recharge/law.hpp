// What a charger does with a pack.
#pragma once

#include "cell/charging.hpp"
#include "recharge/recharge.hpp"

namespace tillwrap::recharge {

// Volts a nickel cell stands at near the end of its charge, for the watts it takes (from memory).
inline constexpr double kNickelEndCell_v = 1.5;

// That many loose cells of a pack, each in its own bay with the same current; 0: the pack as it is.
day::Pack part_of(const day::Pack& pack, int cells);
double end_volts(const day::Pack& pack);
double amps_with(const Charger& charger, const day::Pack& pack, std::size_t sharing);
cell::ChargeLaw law_on(const Charger& charger, const day::Pack& pack, std::size_t sharing);
// Where it lies while it waits: beside the first charger that takes it.
double resting_k(const Night& night, const Battery& battery);

}  // namespace tillwrap::recharge
