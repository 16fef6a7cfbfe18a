// Packs for the comparisons, and the same packs as circuits.
//
// In the circuit a charge is a volt on a capacitor of the cell's capacity, a lag a leaky capacitor of 1 F, the
// open-circuit curve a piecewise-linear source through the same fine points. Isothermal on both sides.
#pragma once

#include <string>

#include "cell/pack.hpp"
#include "reference/spice.hpp"

namespace tillwrap::reference {

// Open-circuit curve, resistances and one RC; nothing depends on temperature.
cell::PackParams plain_pack();

// The full lithium form: two diffusion modes of a sphere, quasi-steady remainder, charge transfer.
cell::PackParams diffusing_pack();

// Adds the pack between node `out` and ground, its own nodes ending in `k`.
void add_pack(Deck& deck, const std::string& k, const std::string& out, const cell::PackParams& pack, double charge,
              double temperature_k);

}  // namespace tillwrap::reference
