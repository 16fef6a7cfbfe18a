// Prints hashes of the bits the engine computes. Built twice, natively and to WebAssembly; the two outputs must be
// equal. FNV-1a, 64 bit (draft-eastlake-fnv), over the IEEE-754 bits of each result, so one differing bit shows.
#include <bit>
#include <cinttypes>
#include <cstdint>
#include <cstdio>

#include "forecast/forecast.hpp"
#include "quantity/maths.hpp"

namespace {

using namespace tillwrap;

class Hash {
 public:
  void add(double value) {
    const auto bits = std::bit_cast<std::uint64_t>(value);
    for (unsigned byte = 0; byte < 8; ++byte) {
      hash_ ^= (bits >> (8U * byte)) & 0xffU;
      hash_ *= 0x100000001b3ULL;
    }
  }
  void print(const char* what) const { std::printf("%-14s %016" PRIx64 "\n", what, hash_); }

 private:
  std::uint64_t hash_ = 0xcbf29ce484222325ULL;
};

constexpr int kPoints = 100000;

template <typename Function>
void probe(const char* what, double from, double to, Function function) {
  Hash hash;
  for (int i = 0; i < kPoints; ++i) hash.add(function(from + (to - from) * i / (kPoints - 1)));
  hash.print(what);
}

// A lithium pack with every term of the cell at work.
day::Pack pack(const char* label, double age) {
  day::Pack pack;
  cell::PackParams& p = pack.params;
  p.label = label;
  p.series = 4;
  p.parallel = 2;
  p.electronics_ohm = 0.04;
  p.weak_fraction = 0.97;
  p.heat_capacity_j_k = 500.0;
  p.cooling_w_k = 0.35;
  p.protection.under_v = 10.0;
  cell::CellParams& c = p.cell;
  c.ocv = Curve({0.0, 0.02, 0.1, 0.3, 0.5, 0.8, 1.0}, {2.50, 3.08, 3.33, 3.54, 3.67, 3.95, 4.17});
  c.capacity_as = age * 3.4 * 3600.0;
  c.rated_ah = 3.4;
  c.lag_gain = {2.0 / 3.0, 2.0 / 3.0};
  c.lag_rate = {20.19, 59.68};
  c.surface_gain = 0.0225;
  c.diffusion_s = 6000.0;
  c.diffusion_activation_k = 3000.0;
  c.series_ohm = 0.01;
  c.electrolyte_ohm = 0.015;
  c.electrolyte_activation_k = 2000.0;
  c.exchange_a = 0.8;
  c.exchange_activation_k = 5000.0;
  c.exchange_alpha = 0.5;
  c.rc_ohm = 0.01;
  return pack;
}

// A cold day: one bag, two packs, two devices, one left to the forecast to change.
day::Scenario cold_day() {
  day::Scenario day;
  day.places.push_back({.name = "air"});
  day.places.push_back({.name = "bag", .kind = day::Place::Kind::bag, .heat_capacity_j_k = 6000.0, .cooling_w_k = 1.0});
  day.places.push_back({.name = "pocket", .kind = day::Place::Kind::fixed, .fixed_k = 300.0});
  for (const char* name : {"box", "recorder", "receiver"}) day.ports.push_back({.name = name, .place = 1});
  for (int device = 0; device < 2; ++device) {
    day.leads.push_back({.from = 0, .to = device + 1, .place = 1, .cable_ohm = 0.06, .contact_ohm = 0.03});
    day::Device d;
    d.name = device == 0 ? "recorder" : "receiver";
    d.port = device + 1;
    d.place = 1;
    d.modes = {{.name = "on", .power_w = device == 0 ? 14.0 : 5.6}, {.name = "low", .power_w = 4.0}};
    d.cutoff_v = 11.0;
    d.restart_v = 11.5;
    d.inputs.push_back({.lead = device});
    day.devices.push_back(d);
  }
  day.packs = {pack("A", 0.96), pack("B", 0.71)};
  for (day::Pack& p : day.packs) p.spare_place = 2;
  day::Holder cup;
  cup.name = "cup";
  cup.port = 0;
  cup.place = 1;
  cup.contact_ohm = 0.02;
  cup.slots = {{.pack = 0, .at_s = 6.0 * 3600.0}, {.pack = 1}};
  day.holders.push_back(cup);
  const double hour[] = {6, 7, 10, 11, 13, 14, 19};
  const double air_k[] = {285, 267, 275, 293, 293, 271};
  for (std::size_t i = 0; i < 6; ++i) {
    const int mode = i == 2 || i == 4 ? 1 : 0;
    day.periods.push_back({.name = "period",
                           .from_s = hour[i] * 3600.0,
                           .until_s = hour[i + 1] * 3600.0,
                           .air_k = air_k[i],
                           .mode = {mode, mode}});
  }
  day.call_s = 7.0 * 3600.0;
  day.wrap_s = 18.5 * 3600.0;
  day.off_s = 19.0 * 3600.0;
  return day;
}

void probe_day() {
  const forecast::Forecast day = forecast::forecast(cold_day(), {.trace = true});
  Hash hash;
  for (const auto& row : day.run.trace.device_v) {
    for (const double volts : row) hash.add(volts);
  }
  for (const auto& row : day.run.trace.place_k) {
    for (const double kelvin : row) hash.add(kelvin);
  }
  for (const forecast::Stint& stint : day.run.stints) {
    hash.add(stint.end_charge);
    hash.add(stint.delivered_j);
  }
  for (const double value :
       {day.margin_s, day.safe_s, day.likely_s, day.run.account.drawn_j, day.run.account.cells_j}) {
    hash.add(value);
  }
  hash.print("forecast");
  std::printf("margin %.3f s, safe to %.3f s, %.6f Wh drawn, %zu stints, %zu trace rows\n", day.margin_s, day.safe_s,
              day.run.account.drawn_j / 3600.0, day.run.stints.size(), day.run.trace.at_s.size());
}

}  // namespace

int main() {
  probe("exp", -700.0, 700.0, [](double x) { return maths::exp(x); });
  probe("log", -700.0, 700.0, [](double x) { return maths::log(maths::exp(x)); });
  probe("asinh", -50.0, 50.0, [](double x) { return maths::asinh(x); });
  probe("pow", 1e-3, 1e3, [](double x) { return maths::pow(x, 0.37); });
  probe_day();
}
