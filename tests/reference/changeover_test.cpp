// Whole small wirings against ngspice through a change of pack and a change-over to the bridge: volts within 1 mV at
// every node, moments within a second. Each port of the wiring gets a device that draws nothing, so that the curves
// hold the volts of every node. Every wiring runs as one circuit (spice_day.hpp).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "forecast/kit.hpp"
#include "reference/pack_circuit.hpp"
#include "reference/spice_day.hpp"

namespace tillwrap::test {
namespace {

constexpr double kMostApartV = 1e-3;
constexpr double kMostApart_s = 1.0;
constexpr double kBetween_v = 11.7;  // above the tray's volts, below the box's
constexpr double kAway_s = 45.0;     // from a switch: ngspice's edges and ours differ by a step there

cell::PackParams smaller(cell::PackParams pack, double fraction) {
  pack.cell.capacity_as *= fraction;
  return pack;
}

// Recorder with two ranked inputs: the box first, its own tray second.
struct Wiring {
  Kit kit{2.0};
  int bus = 0, cup = 0, tray = 0, recorder = 0, tray_port = 0;
  double least_v = 10.0, return_v = 11.0;

  void box(const cell::PackParams& first, double first_charge, const cell::PackParams& second, double change_at_s,
           double gap_s) {
    bus = kit.port("bus");
    cup = kit.holder("cup", bus, kit.pack(first, first_charge), 0.02);
    kit.day.holders[at(cup)].gap_s = gap_s;
    kit.day.holders[at(cup)].slots.push_back({.pack = kit.pack(second, 0.95), .at_s = change_at_s});
    // The box's own draw, so that it is dark without a pack.
    const int own = kit.device_at("box", bus, -1, {.name = "on", .power_w = 0.6}, 4.0, 5.0);
    kit.day.devices[at(own)].need = day::Need::optional;
  }
  void bridge(const cell::PackParams& pack, double watts) {
    tray_port = kit.port("tray");
    tray = kit.holder("tray", tray_port, kit.pack(pack, 0.9), 0.06);
    const int inlet = kit.port("inlet");
    kit.lead(bus, inlet, 0.09, 0.03);
    const int inner = kit.port("recorder");
    const int by_box = kit.lead(inlet, inner, 0.004);
    const int by_tray = kit.lead(tray_port, inner, 0.01);
    recorder = kit.device_at("recorder", inner, -1, {.name = "on", .power_w = watts}, 6.0, 7.0);
    kit.day.devices[at(recorder)].inputs = {
        {.lead = by_box, .least_v = least_v, .return_v = return_v, .cutoff_v = least_v - 1.0, .restart_v = return_v},
        {.lead = by_tray, .least_v = 6.0, .return_v = 7.0, .cutoff_v = 6.0, .restart_v = 7.0}};
    kit.day.devices[at(recorder)].need = day::Need::unbroken;
    kit.day.devices[at(recorder)].hold_up_f = 1e-3;
  }
};

// Devices that draw nothing, one a port; they change no volts.
void listen(Kit& kit) {
  const std::size_t ports = kit.day.ports.size();
  for (std::size_t p = 0; p < ports; ++p) {
    const int ear =
        kit.device_at("at " + kit.day.ports[p].name, static_cast<int>(p), -1, {.name = "listens"}, 0.0, 0.0);
    kit.day.devices[at(ear)].need = day::Need::optional;
  }
}

// `sags`: the recorder leaves the box before the change, and when it comes back is compared too.
void compare(Wiring wiring, bool sags) {
  if (!reference::have_spice()) GTEST_SKIP() << "ngspice is not installed";
  const std::size_t first_ear = wiring.kit.day.devices.size();
  listen(wiring.kit);
  const day::Scenario& day = wiring.kit.day;
  const forecast::Model model(day);
  const forecast::ChangePlan plan = forecast::plan_changes(model, day.off_s);
  const forecast::DayRun run = forecast::run_day(
      model, plan, {.search_until_s = day.off_s, .trace = true, .longest_step_s = 120.0, .tolerance = 0.1});
  ASSERT_EQ(run.unsolved, 0);
  EXPECT_EQ(run.first_loss.device, -1) << "the recorder was lost at " << run.first_loss.at_s;
  const double away_s = time_of(run, forecast::EventKind::input_switched, wiring.recorder, 0);
  const double back_s = time_of(run, forecast::EventKind::input_switched, wiring.recorder, 1);
  ASSERT_LT(back_s, day.off_s);

  // Rows of the curves away from anything that switches, and some while the cup is empty.
  const double out_s = time_of(run, forecast::EventKind::change_out, wiring.cup);
  const double in_s = time_of(run, forecast::EventKind::change_in, wiring.cup, 1);
  std::vector<double> switches{away_s, back_s};
  for (const forecast::Event& event : run.events) switches.push_back(event.at_s);
  std::vector<std::size_t> rows;
  double last_s = -1e9;
  for (std::size_t r = 1; r < run.trace.at_s.size(); ++r) {
    const double t = run.trace.at_s[r];
    const bool empty = t > out_s + 5.0 && t < in_s - 5.0;
    const bool near =
        std::any_of(switches.begin(), switches.end(), [&](double s) { return std::fabs(s - t) < kAway_s; });
    if ((near && !empty) || t - last_s < (empty ? 4.0 : day.off_s / 60.0)) continue;
    last_s = t;
    rows.push_back(r);
  }
  ASSERT_GT(rows.size(), 20U);

  reference::Deck deck;
  reference::add_day(deck, model, plan, {.curve_points = 1200, .node_f = 1e-5});
  std::vector<std::string> nodes;
  for (std::size_t p = 0; p < day.ports.size(); ++p) nodes.push_back("n" + std::to_string(p));
  std::vector<double> moments_s;
  for (const std::size_t r : rows) moments_s.push_back(run.trace.at_s[r]);
  std::vector<reference::Crossing> crossings;
  // The recorder's own volts jump from the box's to the tray's and back.
  const std::string inside = "n" + std::to_string(day.devices[at(wiring.recorder)].port);
  crossings.push_back({.node = inside, .volts = kBetween_v});
  crossings.push_back({.node = inside, .volts = kBetween_v, .rising = true});
  const reference::Transient spice = reference::transient(deck, nodes, moments_s, crossings, day.off_s, 2.0);

  double worst_v = 0.0;
  std::string where;
  for (std::size_t m = 0; m < rows.size(); ++m) {
    for (std::size_t p = 0; p < day.ports.size(); ++p) {
      const double apart = std::fabs(spice.volts[m][p] - run.trace.device_v[first_ear + p][rows[m]]);
      if (apart <= worst_v) continue;
      worst_v = apart;
      where = day.ports[p].name + " at " + std::to_string(moments_s[m]);
    }
  }
  EXPECT_LE(worst_v, kMostApartV) << where;
  EXPECT_NEAR(spice.crossing_s[0], away_s, kMostApart_s);
  EXPECT_NEAR(spice.crossing_s[1], back_s, kMostApart_s);
  EXPECT_EQ(sags, away_s < out_s - 60.0);
  std::printf(
      "[ circuit  ] %zu nodes, %zu moments: worst %.3f mV (%s); away %.2f s, ngspice %.2f s; back %.2f s, "
      "%.2f s\n",
      day.ports.size(), rows.size(), 1e3 * worst_v, where.c_str(), away_s, spice.crossing_s[0], back_s,
      spice.crossing_s[1]);
}

// The cup is empty for forty seconds; the tray carries the recorder meanwhile.
TEST(ChangeOverAgainstNgspice, TrayCarriesTheRecorderWhileTheCupIsEmpty) {
  Wiring wiring;
  wiring.box(reference::plain_pack(), 0.8, reference::plain_pack(), 3600.0, 40.0);
  wiring.bridge(catalogue_pack("aa-nimh-lsd-x8"), 9.0);
  compare(wiring, false);
}

// Diffusion and charge transfer in the cup, receivers beside the recorder, which go dark and come back.
TEST(ChangeOverAgainstNgspice, ReceiversOnTheBoxGoDarkWithIt) {
  Wiring wiring;
  wiring.box(reference::diffusing_pack(), 0.7, reference::diffusing_pack(), 3000.0, 25.0);
  wiring.bridge(catalogue_pack("aa-nimh-lsd-x8"), 8.2);
  for (int k = 0; k < 3; ++k) {
    const int out = wiring.kit.port("out " + std::to_string(k));
    wiring.kit.lead(wiring.bus, out, 0.0, 0.05);
    const int device = wiring.kit.device("receiver " + std::to_string(k), out, 3.0 + k, 6.0, 6.5, 0.1 + 0.05 * k);
    wiring.kit.day.devices[at(device)].need = day::Need::optional;
  }
  compare(wiring, false);
}

// The box sags below what the recorder takes before the change; it leaves for the tray by itself and comes back with
// the fresh pack.
TEST(ChangeOverAgainstNgspice, RecorderLeavesASaggingBox) {
  Wiring wiring;
  wiring.least_v = 12.6;
  wiring.return_v = 14.2;
  wiring.box(smaller(reference::plain_pack(), 0.6), 0.35, reference::plain_pack(), 6300.0, 20.0);
  wiring.bridge(catalogue_pack("aa-nimh-lsd-x8"), 9.0);
  const int lamp = wiring.kit.device("lamp", wiring.bus, 3.0, 5.0, 5.5, 0.15);
  wiring.kit.day.devices[at(lamp)].need = day::Need::optional;
  compare(wiring, true);
}

// A regulated output on the box, a measured lithium set that warms itself in a bag, the box's chain of resistances.
TEST(ChangeOverAgainstNgspice, WarmPacksAndARegulator) {
  Wiring wiring;
  wiring.kit.day.places.push_back(
      {.name = "bag", .kind = day::Place::Kind::bag, .heat_capacity_j_k = 5000.0, .cooling_w_k = 1.0});
  wiring.kit.day.periods[0].air_k = 276.15;
  wiring.box(catalogue_pack("smart-pack-14v4-98wh"), 0.9, catalogue_pack("smart-pack-14v4-98wh"), 3600.0, 30.0);
  wiring.bridge(catalogue_pack("aa-nimh-lsd-x8"), 8.0);
  for (day::Port& port : wiring.kit.day.ports) port.place = 1;
  for (day::Holder& holder : wiring.kit.day.holders) holder.place = 1;
  // Packs that wait do so in the open air, which is at one temperature here.
  wiring.kit.day.places.push_back({.name = "open", .kind = day::Place::Kind::air});
  for (day::Pack& pack : wiring.kit.day.packs) pack.spare_place = 2;
  for (day::Device& device : wiring.kit.day.devices) device.place = 1;
  const int regulated = wiring.kit.port("regulated", 1);
  wiring.kit.day.regulators.push_back({.name = "output",
                                       .in_port = wiring.bus,
                                       .out_port = regulated,
                                       .place = 1,
                                       .law = {.set_v = 12.0,
                                               .out_ohm = 0.03,
                                               .idle_w = 0.1,
                                               .slope = 1.06,
                                               .square_ohm = 0.25,
                                               .min_in_v = 9.0,
                                               .restart_in_v = 10.0}});
  const int cue = wiring.kit.device("cue", regulated, 2.0, 6.0, 6.5, 0.2);
  wiring.kit.day.devices[at(cue)].need = day::Need::optional;
  wiring.kit.day.devices[at(cue)].place = 1;
  compare(wiring, false);
}

}  // namespace
}  // namespace tillwrap::test
