#include "catalogue/computed.hpp"

#include <cmath>

#include "catalogue/wording.hpp"
#include "quantity/maths.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::catalogue {
namespace {

Computed number(std::string key, double value) {
  std::string label = label_of(key);
  // Four digits are more than copper keeps to.
  const double digit = maths::pow(10.0, std::floor(maths::log(value) / maths::log(10.0)) - 3.0);
  std::string words = number_of(key, std::floor(value / digit + 0.5) * digit);
  return {std::move(key), std::move(label), std::move(words), value};
}

Computed list(std::string key, std::string label, const std::vector<std::string>& ids) {
  std::string words;
  for (const std::string& id : ids) words += (words.empty() ? "" : ", ") + id;
  return {std::move(key), std::move(label), words.empty() ? "none" : words, ids};
}

}  // namespace

std::vector<Computed> computed(const Catalogue& catalogue, const Entry& entry) {
  std::vector<Computed> out;
  if (const WireKind* wire = catalogue.wire(entry.id)) {
    if (wire->awg >= 0) {
      out.push_back(number("diameter_mm", wiring::awg_diameter_mm(wire->awg)));
      out.push_back(number("area_mm2", wire->area_mm2));
    }
    out.push_back(number("at_20_c_ohm_per_km", wire->ohm_per_m * 1e3));
    out.push_back(number("ampacity_a", wire->ampacity_a));
  } else if (const PackKind* pack = catalogue.pack(entry.id)) {
    out.push_back(list("holders", "goes into", pack->fits));
    std::vector<std::string> chargers;
    for (const ChargerKind& charger : catalogue.chargers) {
      for (const std::string& id : charger.fits) {
        if (id == pack->id) chargers.push_back(charger.id);
      }
    }
    out.push_back(list("chargers", "charged by", chargers));
  } else if (const CellKind* cell = catalogue.cell(entry.id)) {
    std::vector<std::string> packs;
    for (const PackKind& pack_kind : catalogue.packs) {
      if (pack_kind.cell == cell->id) packs.push_back(pack_kind.id);
    }
    out.push_back(list("packs", "used in", packs));
  }
  return out;
}

}  // namespace tillwrap::catalogue
