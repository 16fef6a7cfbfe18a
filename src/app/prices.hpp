// What things cost: as the user says in the day file, else the catalogue's guess.
#pragma once

#include <string>

#include "app/wording.hpp"
#include "catalogue/catalogue.hpp"
#include "kit/inventory.hpp"

namespace tillwrap::app {

// One pack of a kind: as written for another of it, or for the kind.
Money pack_price(const kit::Inventory& kit, const catalogue::PackKind& kind);

// A box, holder, adapter, charger or plug.
template <typename Kind>
Money price_of(const kit::Inventory& kit, const Kind& kind) {
  const auto own = kit.prices.find(kind.id);
  return own == kit.prices.end() ? Money::of(kind.price_usd, false) : Money::of(own->second, true);
}

// A made-up lead: the user's price of any, else its two ends (connector ids; an empty one costs nothing) and so much
// cable.
Money lead_price(const kit::Inventory& kit, const catalogue::Catalogue& catalogue, const std::string& from_plug,
                 const std::string& to_plug, double length_m, double area_mm2);
double area_of(const kit::WireItem& wire);  // mm2

// The charger for such packs that costs least; null when the catalogue has none.
const catalogue::ChargerKind* cheapest_charger(const kit::Inventory& kit, const catalogue::Catalogue& catalogue,
                                               const std::string& pack_kind);

}  // namespace tillwrap::app
