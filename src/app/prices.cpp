#include "app/prices.hpp"

#include <algorithm>
#include <cmath>

#include "wiring/wire.hpp"

namespace tillwrap::app {

Money pack_price(const kit::Inventory& kit, const catalogue::PackKind& kind) {
  for (const kit::PackItem& item : kit.packs) {
    if (item.kind == &kind && item.own_price) return Money::of(item);
  }
  return price_of(kit, kind);
}

Money lead_price(const kit::Inventory& kit, const catalogue::Catalogue& catalogue, const std::string& from_plug,
                 const std::string& to_plug, double length_m, double area_mm2) {
  const auto own = kit.prices.find("lead");
  if (own != kit.prices.end()) return Money::of(own->second, true);
  Money sum;
  for (const std::string& plug : {from_plug, to_plug}) {
    const catalogue::ConnectorKind* kind = plug.empty() ? nullptr : catalogue.connector(plug);
    if (kind != nullptr) sum += price_of(kit, *kind);
  }
  const auto nearest = std::min_element(catalogue.wires.begin(), catalogue.wires.end(),
                                        [&](const catalogue::WireKind& a, const catalogue::WireKind& b) {
                                          return std::fabs(a.area_mm2 - area_mm2) < std::fabs(b.area_mm2 - area_mm2);
                                        });
  if (nearest != catalogue.wires.end()) sum += Money::of(nearest->price_usd_m * length_m, false);
  return sum;
}

double area_of(const kit::WireItem& wire) { return wire.awg >= 0 ? wiring::awg_area_mm2(wire.awg) : wire.area_mm2; }

const catalogue::ChargerKind* cheapest_charger(const kit::Inventory& kit, const catalogue::Catalogue& catalogue,
                                               const std::string& pack_kind) {
  const catalogue::ChargerKind* best = nullptr;
  double least = 0.0;
  for (const catalogue::ChargerKind& kind : catalogue.chargers) {
    if (std::find(kind.fits.begin(), kind.fits.end(), pack_kind) == kind.fits.end()) continue;
    const Money price = price_of(kit, kind);
    if (best != nullptr && price.rough() >= least) continue;
    best = &kind;
    least = price.rough();
  }
  return best;
}

}  // namespace tillwrap::app
