#include "app/gear.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "app/prices.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool part_of_its_box(const DayFile& file, const kit::HolderItem& holder) {
  return std::any_of(file.inventory.boxes.begin(), file.inventory.boxes.end(), [&](const kit::BoxItem& box) {
    const std::string& name = file.scenario.devices[at(box.device)].name;
    const bool sits = holder.sits_in == name || holder.sits_in.starts_with(name + ".");
    return sits &&
           std::find(box.kind->inputs.begin(), box.kind->inputs.end(), holder.kind->id) != box.kind->inputs.end();
  });
}

// Everything of a day that is bought by itself.
std::vector<Gear> gear_of(const DayFile& file, const kit::Inventory& prices, const catalogue::Catalogue& catalogue) {
  std::vector<Gear> all;
  const kit::Inventory& kit = file.inventory;
  for (const kit::BoxItem& box : kit.boxes) all.push_back({"box", box.kind->id, price_of(prices, *box.kind)});
  for (const kit::HolderItem& holder : kit.holders) {
    if (holder.kind == nullptr || holder.kind->price_usd <= 0.0 || part_of_its_box(file, holder)) continue;
    all.push_back({"holder", holder.kind->id, price_of(prices, *holder.kind)});
  }
  for (const kit::SupplyItem& supply : kit.supplies) {
    if (supply.kind != nullptr && supply.kind->price_usd > 0.0)
      all.push_back({"source", supply.kind->id, price_of(prices, *supply.kind)});
  }
  for (const kit::ChargerItem& charger : kit.chargers)
    all.push_back({"charger", charger.kind->id, price_of(prices, *charger.kind)});
  for (const kit::WireItem& wire : kit.wires) {
    if (wire.length_m <= 0.0) continue;  // the pack's or the adapter's own
    all.push_back(
        {"lead",
         fmt::format("{} to {}, {:.3g} m of {}", wire.from_plug.empty() ? "bare end" : wire.from_plug,
                     wire.to_plug.empty() ? "bare end" : wire.to_plug, wire.length_m,
                     wire.awg >= 0 ? fmt::format("AWG {}", wire.awg) : fmt::format("{:.3g} mm2", wire.area_mm2)),
         lead_price(prices, catalogue, wire.from_plug, wire.to_plug, wire.length_m, area_of(wire))});
  }
  return all;
}

}  // namespace

std::vector<Gear> gear_to_get(const DayFile& as_is, const DayFile& changed, const catalogue::Catalogue& catalogue) {
  std::vector<Gear> have = gear_of(as_is, as_is.inventory, catalogue);
  std::vector<Gear> get;
  for (Gear& one : gear_of(changed, as_is.inventory, catalogue)) {
    const auto same = std::find_if(have.begin(), have.end(),
                                   [&](const Gear& other) { return other.kind == one.kind && other.name == one.name; });
    if (same != have.end()) {
      have.erase(same);
    } else {
      get.push_back(std::move(one));
    }
  }
  return get;
}

Money price_of(const std::vector<Gear>& gear) {
  Money sum;
  for (const Gear& one : gear) sum += one.money;
  return sum;
}

}  // namespace tillwrap::app
