// A day's stepping against ngspice integrating the same equations as a circuit: time to cut-off within 0.1 %.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "forecast/simulator.hpp"
#include "reference/pack_circuit.hpp"
#include "reference/spice.hpp"

namespace tillwrap::forecast {
namespace {

using reference::add_pack;
using reference::Deck;
using reference::diffusing_pack;
using reference::number;
using reference::plain_pack;

constexpr double kMostApart = 1e-3;
constexpr double kHour = 3600.0;

struct Leg {
  double hours;
  double watts;
};

// One day in one place at 20 °C, one constant-power device on a lead of 0.12 ohm.
class Bench {
 public:
  Bench(std::vector<Leg> legs, double cutoff_v) : legs_(std::move(legs)), cutoff_v_(cutoff_v) {
    day_.title = "bench";
    day_.places.push_back({.name = "here", .kind = day::Place::Kind::fixed, .fixed_k = kRoomK});
    bus_ = port("bus");
    const int inner = port("device");
    day_.leads.push_back({.name = "lead", .from = bus_, .to = inner, .cable_ohm = 0.09, .contact_ohm = 0.03});
    day::Device device;
    device.name = "load";
    device.port = inner;
    device.cutoff_v = cutoff_v;
    device.restart_v = cutoff_v + 1.0;
    device.restarts_itself = false;
    device.inputs.push_back({.lead = 0});
    double at_s = 0.0;
    for (std::size_t i = 0; i < legs_.size(); ++i) {
      day::Mode mode;
      mode.name = "leg " + std::to_string(i + 1);
      mode.power_w = legs_[i].watts;
      device.modes.push_back(mode);
      const double until_s = at_s + legs_[i].hours * kHour;
      day_.periods.push_back(
          {.name = mode.name, .from_s = at_s, .until_s = until_s, .air_k = kRoomK, .mode = {static_cast<int>(i)}});
      at_s = until_s;
    }
    day_.devices.push_back(device);
    day_.call_s = 0.0;
    day_.wrap_s = day_.off_s = at_s;
  }

  void holder(const cell::PackParams& params, double charge, double contact_ohm, bool one_way = false) {
    const std::string k = std::to_string(day_.packs.size());
    day::Pack pack;
    pack.params = params;
    pack.start_charge = charge;
    day_.packs.push_back(pack);
    day::Holder holder;
    holder.name = "cup " + k;
    holder.port = bus_;
    holder.contact_ohm = contact_ohm;
    holder.one_way = one_way;
    holder.slots.push_back({.pack = static_cast<int>(day_.packs.size()) - 1, .at_s = 0.0});
    day_.holders.push_back(holder);
    const std::string end = "e" + k;
    add_pack(deck_, k, end, params, charge, kRoomK);
    const std::string contact = one_way ? "d" + k : end;
    if (one_way) deck_.line("Done" + k + " " + end + " " + contact + " sharp");
    deck_.line("Rcontact" + k + " " + contact + " bus " + number(contact_ohm));
  }

  // A second device, at constant power on a regulated output of the bus: P_in = idle + a P_out + b (P_out / V_in)².
  void behind_regulator(double watts, const wiring::RegulatorLaw& law) {
    const int regulated = port("regulated");
    const int inner = port("second");
    day_.regulators.push_back({.name = "output", .in_port = bus_, .out_port = regulated, .law = law});
    day_.leads.push_back({.name = "second lead", .from = regulated, .to = inner, .cable_ohm = 0.2, .contact_ohm = 0.1});
    day::Device device;
    device.name = "second";
    device.port = inner;
    device.cutoff_v = 5.0;
    device.restart_v = 6.0;
    device.need = day::Need::optional;
    device.modes.push_back({.name = "on", .power_w = watts});
    device.inputs.push_back({.lead = 1});
    day_.devices.push_back(device);
    for (day::Period& period : day_.periods) period.mode.push_back(0);
    deck_.line("Vset t 0 " + number(law.set_v));
    deck_.line("Rset t r " + number(law.out_ohm));
    deck_.line("Rsecond r second 0.3");
    deck_.line("Bsecond second 0 I=" + number(watts) + "/max(V(second),3)");
    const std::string out_w = "(-I(Vset)*" + number(law.set_v) + ")";
    deck_.line("Bdrawn bus 0 I=(" + number(law.idle_w) + "+" + number(law.slope) + "*" + out_w + ")/max(V(bus),3)+" +
               number(law.square_ohm) + "*" + out_w + "^2/max(V(bus),3)^3");
  }

  void expect_same_end(double most_apart = kMostApart) {
    if (!reference::have_spice()) GTEST_SKIP() << "ngspice is not installed";
    deck_.line(".model sharp D(IS=1e-6 N=1e-3)");
    deck_.line("Rlead bus dev 0.12");
    deck_.line(".nodeset V(bus)=14 V(dev)=14");
    std::string power;
    double at_s = 0.0;
    for (const Leg& leg : legs_) {
      power += " " + number(at_s) + " " + number(leg.watts);
      at_s += leg.hours * kHour;
      power += " " + number(at_s - 0.01) + " " + number(leg.watts);
    }
    deck_.line("Vpower power 0 PWL(" + power + ")");
    deck_.line("Bload dev 0 I=V(power)/max(V(dev),3)");
    const double spice_s = reference::falls_through_at(deck_, "dev", cutoff_v_, at_s, 2.0);

    const Model model(day_);
    ChangePlan plan;
    for (std::size_t h = 0; h < day_.holders.size(); ++h) {
      plan.push_back({.holder = static_cast<int>(h), .pack = static_cast<int>(h), .at_s = 0.0});
    }
    const DayRun run = run_day(model, plan, {.search_until_s = at_s});
    ASSERT_EQ(run.first_loss.device, 0) << "no loss; ngspice cuts off at " << spice_s << " s";
    EXPECT_NEAR(run.first_loss.at_s, spice_s, most_apart * spice_s);
    std::printf("[ cut-off  ] ours %.1f s, ngspice %.1f s, %+.4f %%\n", run.first_loss.at_s, spice_s,
                100.0 * (run.first_loss.at_s / spice_s - 1.0));
  }

 private:
  static constexpr double kRoomK = 293.15;

  int port(const std::string& name) {
    day_.ports.push_back({.name = name});
    return static_cast<int>(day_.ports.size()) - 1;
  }

  day::Scenario day_;
  std::vector<Leg> legs_;
  double cutoff_v_;
  int bus_ = 0;
  Deck deck_;
};

TEST(DayAgainstNgspice, PackWithRcThroughSixHours) {
  Bench bench({{8.0, 15.2}}, 12.5);
  bench.holder(plain_pack(), 0.97, 0.03);
  bench.expect_same_end();
}

TEST(DayAgainstNgspice, LoadThatChangesThroughTheDay) {
  Bench bench({{0.75, 17.0}, {3.0, 19.6}, {0.5, 9.0}, {0.5, 19.6}, {0.75, 9.0}, {4.0, 24.6}}, 13.0);
  bench.holder(plain_pack(), 0.97, 0.03);
  bench.expect_same_end();
}

TEST(DayAgainstNgspice, DiffusionAndChargeTransfer) {
  Bench bench({{1.0, 17.0}, {1.0, 25.0}, {0.5, 6.0}, {6.0, 20.0}}, 12.5);
  bench.holder(diffusing_pack(), 0.95, 0.03);
  bench.expect_same_end();
}

TEST(DayAgainstNgspice, RegulatedOutputBesideADirectLoad) {
  Bench bench({{10.0, 9.0}}, 12.5);
  bench.holder(plain_pack(), 0.97, 0.03);
  bench.behind_regulator(6.0, {.set_v = 12.0,
                               .out_ohm = 0.03,
                               .limit_a = 3.0,
                               .idle_w = 0.2,
                               .slope = 1.08,
                               .square_ohm = 0.3,
                               .min_in_v = 9.0,
                               .restart_in_v = 10.0});
  bench.expect_same_end();
}

// Unequal packs behind ideal diodes: the fuller one carries first, then they share.
TEST(DayAgainstNgspice, TwoPacksInOrDrainInTurn) {
  Bench bench({{14.0, 24.0}}, 12.5);
  bench.holder(plain_pack(), 0.95, 0.03, true);
  bench.holder(diffusing_pack(), 0.70, 0.05, true);
  bench.expect_same_end();
}

}  // namespace
}  // namespace tillwrap::forecast
