// Random wirings and days for the properties, drawn with RapidCheck. Includes regulators, one-way cups, mains that come
// and go, a bag, modes over periods, fuses, real packs of several chemistries.
#pragma once

#include <rapidcheck.h>

#include <string>

#include "forecast/kit.hpp"

namespace tillwrap::test {

inline double between(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 10001) / 10000.0; }
inline bool one_in(int n) { return *rc::gen::inRange(0, n) == 0; }

inline cell::PackParams random_pack() {
  static const std::vector<std::string> kinds{
      "smart-pack-14v4-98wh", "smart-pack-14v4-49wh", "plate-pack-14v4-98wh", "vrla-12v-7ah", "lfp-12v8", "nimh-12v",
      "aa-alkaline-x8",       "aa-lithium-x8",        "bank-12v-barrel"};
  cell::PackParams params = catalogue_pack(*rc::gen::elementOf(kinds));
  params.cell =
      cell::aged(params.cell, {.capacity_fraction = between(0.6, 1.0), .resistance_factor = between(1.0, 2.5)});
  return params;
}

inline Kit random_kit() {
  Kit kit(between(3.0, 14.0));
  kit.day.places.push_back({.name = "bag",
                            .kind = day::Place::Kind::bag,
                            .heat_capacity_j_k = between(1000.0, 9000.0),
                            .cooling_w_k = between(0.5, 2.0)});
  kit.day.periods[0].air_k = between(258.0, 308.0);
  const int boxes = *rc::gen::inRange(1, 4);
  std::vector<int> box;
  for (int b = 0; b < boxes; ++b) {
    box.push_back(kit.port("box " + std::to_string(b), 1));
    if (b > 0) kit.lead(box[at(*rc::gen::inRange(0, b))], box.back(), between(0.0, 0.1), between(0.0, 0.05));
  }
  const int holders = *rc::gen::inRange(1, 4);
  for (int h = 0; h < holders; ++h) {
    const int made =
        kit.holder("cup " + std::to_string(h), box[0], kit.pack(random_pack(), between(0.5, 1.0)), between(0.0, 0.06));
    day::Holder& holder = kit.day.holders[at(made)];
    holder.place = *rc::gen::inRange(0, 2);
    holder.gap_s = between(5.0, 40.0);
    if (holders > 1) {
      holder.one_way = true;
      holder.drop_v = between(0.0, 0.4);
    }
    if (one_in(2))
      holder.slots.push_back(
          {.pack = kit.pack(random_pack(), between(0.5, 1.0)), .at_s = between(0.2, 0.9) * kit.day.off_s});
  }
  if (one_in(3)) {
    // Mains above every pack: those behind diodes idle, a lone pack in the cup would be charged through it, which no
    // holder does; so only where the cups are one-way.
    if (holders > 1) kit.supply("mains", box[0], between(15.0, 17.5), between(0.01, 0.3), between(1.0, 10.0));
  }
  int regulated = -1;
  if (one_in(2)) {
    regulated = kit.port("regulated", 1);
    kit.day.regulators.push_back({.name = "output",
                                  .in_port = box.back(),
                                  .out_port = regulated,
                                  .place = 1,
                                  .law = {.set_v = between(5.0, 12.0),
                                          .out_ohm = between(0.0, 0.1),
                                          .limit_a = 4.0,
                                          .idle_w = between(0.0, 0.4),
                                          .slope = between(1.0, 1.15),
                                          .square_ohm = between(0.0, 0.4),
                                          .min_in_v = 6.0,
                                          .restart_in_v = 7.0}});
  }
  const int devices = *rc::gen::inRange(1, 9);
  for (int d = 0; d < devices; ++d) {
    const bool behind = regulated >= 0 && one_in(3);
    const int from = behind ? regulated : box[at(*rc::gen::inRange(0, boxes))];
    const int inner = kit.port("device " + std::to_string(d), 1);
    const int wire = kit.lead(from, inner, between(0.0, 0.3), between(0.0, 0.1));
    kit.day.leads[at(wire)].place = 1;
    day::Mode mode{.name = "on"};
    const int kind = *rc::gen::inRange(0, 3);
    if (kind == 0) mode.power_w = between(0.1, 5.0);
    if (kind == 1) mode.current_a = between(0.01, 0.4);
    if (kind == 2) mode.siemens = between(0.001, 0.03);
    const double cutoff_v = behind ? between(3.0, 4.5) : between(6.0, 11.0);
    const int made =
        kit.device_at("device " + std::to_string(d), inner, wire, mode, cutoff_v, cutoff_v + between(0.1, 1.5));
    day::Device& device = kit.day.devices[at(made)];
    device.place = 1;
    device.need = one_in(3) ? day::Need::optional : day::Need::rolling;
    device.restart_s = between(0.0, 40.0);
    device.efficiency = between(0.75, 1.0);
    device.idle_w = between(0.0, 0.2);
    if (one_in(4))
      kit.day.leads[at(wire)].fuse =
          day::Fuse{.law = catalogue_fuse("fuse-ul"), .rated_a = between(0.5, 3.0), .ohm = 0.03};
  }
  const int cuts = *rc::gen::inRange(0, 4);
  for (int k = 0; k < cuts; ++k) {
    const double at_s = between(0.05, 0.95) * kit.day.off_s + k;
    const int period = kit.split(at_s, "period " + std::to_string(k));
    day::Period& p = kit.day.periods[at(period)];
    p.air_k = between(258.0, 308.0);
    for (std::size_t d = 0; d < p.mode.size(); ++d) p.mode[d] = one_in(4) ? 1 : 0;
    for (char& live : p.supply_live) live = one_in(2) ? 1 : 0;
  }
  return kit;
}

}  // namespace tillwrap::test
