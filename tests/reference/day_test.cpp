// A day's stepping against ngspice integrating the same equations as a circuit: time to cut-off within 0.1 %.
// In the deck a charge is a volt on a capacitor of the cell's capacity, a lag a leaky capacitor of 1 F, the
// open-circuit curve a piecewise-linear source through the same fine points. Isothermal on both sides.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "forecast/simulator.hpp"
#include "reference/spice.hpp"

namespace tillwrap::forecast {
namespace {

using reference::Deck;
using reference::number;

constexpr double kMostApart = 1e-3;
constexpr double kHour = 3600.0;

// Open-circuit volts of an NCA 18650 cell (Kollmeyer 2018, doi:10.17632/wykht8y7tg.1, CC-BY-4.0), resampled at 401
// points so that a straight line between points and our smooth curve are the same to less than 0.1 mV above 2 % charge.
Curve fine_ocv() {
  const Curve measured(
      {0.0, 0.01, 0.02, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95, 1.0},
      {2.499, 2.940, 3.076, 3.256, 3.331, 3.402, 3.461, 3.509, 3.544, 3.602, 3.665, 3.770, 3.860, 3.946, 4.053, 4.094,
       4.170});
  std::vector<double> x(401);
  std::vector<double> y(401);
  for (std::size_t i = 0; i < x.size(); ++i) {
    x[i] = static_cast<double>(i) / 400.0;
    y[i] = measured.value(x[i]);
  }
  return {x, y};
}

// 4S2P, 6.8 Ah, resistances of the size measured on such cells (36.5 mohm a cell at 25 °C and 0.5C, same set).
cell::PackParams plain_pack() {
  cell::PackParams pack;
  pack.label = "P";
  pack.series = 4;
  pack.parallel = 2;
  pack.electronics_ohm = 0.04;
  pack.heat_capacity_j_k = 1e12;  // isothermal
  pack.cooling_w_k = 0.0;
  pack.cell.ocv = fine_ocv();
  pack.cell.capacity_as = 3.4 * kHour;
  pack.cell.rated_ah = 3.4;
  pack.cell.series_ohm = 0.012;
  pack.cell.electrolyte_ohm = 0.012;
  pack.cell.rc_ohm = 0.014;
  pack.cell.rc_s = 35.0;
  pack.cell.lag_rate = {1.0, 1.0};
  pack.cell.diffusion_s = 1000.0;
  return pack;
}

// The full lithium form: two diffusion modes of a sphere, quasi-steady remainder, charge transfer.
cell::PackParams diffusing_pack() {
  cell::PackParams pack = plain_pack();
  pack.cell.lag_gain = {2.0 / 3.0, 2.0 / 3.0};
  pack.cell.lag_rate = {20.19, 59.68};
  pack.cell.surface_gain = 0.0225;
  pack.cell.diffusion_s = 8000.0;
  pack.cell.exchange_a = 0.8;
  pack.cell.exchange_alpha = 0.5;
  return pack;
}

// The pack as a circuit between `out` and ground.
void add_pack(Deck& deck, const std::string& k, const std::string& out, const cell::PackParams& pack, double charge,
              double temperature_k) {
  const cell::CellParams& c = pack.cell;
  const std::string cell_a = "(I(Vsense" + k + ")/" + number(pack.parallel) + ")";
  const std::string per_s = "(" + cell_a + "/" + number(c.capacity_as) + ")";
  deck.line("Cz" + k + " z" + k + " 0 " + number(c.capacity_as));
  deck.line(".ic V(z" + k + ")=" + number(charge) + " V(rc" + k + ")=0");
  deck.line(".nodeset V(" + out + ")=14 V(s" + k + ")=" + number(charge));
  deck.line("Bz" + k + " z" + k + " 0 I=" + cell_a);
  std::string surface = "V(z" + k + ")-" + number(c.surface_gain * c.diffusion_s) + "*" + per_s;
  for (std::size_t n = 0; n < c.lag_gain.size(); ++n) {
    if (c.lag_gain[n] == 0.0) continue;
    const std::string x = "x" + std::to_string(n) + k;
    deck.line("C" + x + " " + x + " 0 1");
    deck.line(".ic V(" + x + ")=0");
    deck.line("R" + x + " " + x + " 0 " + number(c.diffusion_s / c.lag_rate[n]));
    deck.line("B" + x + " 0 " + x + " I=" + number(c.lag_gain[n]) + "*" + per_s);
    surface += "-V(" + x + ")";
  }
  deck.line("Bs" + k + " s" + k + " 0 V=" + surface);
  std::string points;
  for (std::size_t i = 0; i < c.ocv.knots_x().size(); ++i) {
    points += "\n+ ," + number(c.ocv.knots_x()[i]) + "," + number(c.ocv.knots_y()[i]);
  }
  deck.line("Bu" + k + " u" + k + " 0 V=pwl(V(s" + k + ")" + points + "\n+ )");
  std::string cell_v = "V(u" + k + ")-" + cell_a + "*" + number(c.series_ohm + c.electrolyte_ohm) + "-V(rc" + k + ")";
  if (c.exchange_a > 0.0) {
    const double thermal_v = 2.0 * 8.314462618 * temperature_k / 96485.33212;  // 2RT/F, SI 2019
    cell_v += "-" + number(thermal_v) + "*asinh(" + cell_a + "/(" + number(2.0 * c.exchange_a) + "*(4*V(s" + k +
              ")*(1-V(s" + k + ")))^" + number(c.exchange_alpha) + "))";
  }
  deck.line("Brc" + k + " 0 rc" + k + " I=" + cell_a);
  deck.line("Rrc" + k + " rc" + k + " 0 " + number(c.rc_ohm));
  deck.line("Crc" + k + " rc" + k + " 0 " + number(c.rc_s / c.rc_ohm));
  deck.line("Bpack" + k + " p" + k + " 0 V=" + number(pack.series) + "*(" + cell_v + ")");
  deck.line("Vsense" + k + " p" + k + " q" + k + " 0");
  deck.line("Rpack" + k + " q" + k + " " + out + " " + number(pack.electronics_ohm));
}

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
