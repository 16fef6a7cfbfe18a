// What must hold for every day: the account closes, refinement converges, energy is the integral of the open-circuit
// curve, more load never lasts longer, same input same bits.
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <bit>
#include <cmath>

#include "forecast/by_hand.hpp"
#include "forecast/fixed_seed.hpp"
#include "forecast/random_day.hpp"

namespace tillwrap::test {
namespace {

using forecast::DayRun;

const FixedSeed kSeed("seed=20261125 max_success=150");

RC_GTEST_PROP(DayProperty, TheEnergyAccountCloses, ()) {
  const Kit kit = random_kit();
  const DayRun run = kit.run();
  const forecast::Account& a = run.account;
  RC_PRE(a.drawn_j > 1.0);
  RC_LOG() << "drawn " << a.drawn_j << " devices " << a.devices_j << " cables " << a.cables_j << " contacts "
           << a.contacts_j << " converters " << a.converters_j << " cells " << a.cells_j << "\n";
  RC_ASSERT(a.imbalance() <= 1e-6);
  RC_ASSERT(run.unsolved == 0);
  double devices_j = 0.0;
  for (const forecast::DeviceUse& use : run.devices) devices_j += use.energy_j;
  RC_ASSERT(std::fabs(devices_j - a.devices_j) <= 1e-9 * a.drawn_j + 1e-6);
  for (const double z : run.charge) RC_ASSERT(std::isfinite(z) && z <= 1.0 + 1e-9);
}

RC_GTEST_PROP(DayProperty, SameInputSameBits, ()) {
  const Kit kit = random_kit();
  const DayRun a = kit.run(6 * kHour_s, 1.0, true);
  const DayRun b = kit.run(6 * kHour_s, 1.0, true);
  const auto same = [](const std::vector<double>& x, const std::vector<double>& y) {
    if (x.size() != y.size()) return false;
    for (std::size_t i = 0; i < x.size(); ++i) {
      if (std::bit_cast<std::uint64_t>(x[i]) != std::bit_cast<std::uint64_t>(y[i])) return false;
    }
    return true;
  };
  RC_ASSERT(same(a.trace.at_s, b.trace.at_s));
  for (std::size_t d = 0; d < a.trace.device_v.size(); ++d) RC_ASSERT(same(a.trace.device_v[d], b.trace.device_v[d]));
  for (std::size_t h = 0; h < a.trace.holder_v.size(); ++h) {
    RC_ASSERT(same(a.trace.holder_v[h], b.trace.holder_v[h]));
    RC_ASSERT(same(a.trace.holder_a[h], b.trace.holder_a[h]));
    RC_ASSERT(same(a.trace.holder_charge[h], b.trace.holder_charge[h]));
    RC_ASSERT(same(a.trace.holder_k[h], b.trace.holder_k[h]));
  }
  for (std::size_t p = 0; p < a.trace.place_k.size(); ++p) RC_ASSERT(same(a.trace.place_k[p], b.trace.place_k[p]));
  RC_ASSERT(same(a.charge, b.charge));
  RC_ASSERT(same({a.account.drawn_j, a.account.devices_j, a.account.cells_j, a.first_loss.at_s},
                 {b.account.drawn_j, b.account.devices_j, b.account.cells_j, b.first_loss.at_s}));
  RC_ASSERT(a.events.size() == b.events.size());
}

// One lithium pack, one device, through a stretch of cold or warm air, to its cut-off.
Kit single(const std::string& kind, double watts, double air_k, double cutoff_v, double charge = 1.0) {
  Kit kit(40.0);
  kit.day.places.push_back({.name = "air"});
  kit.day.periods[0].air_k = air_k;
  const int bus = kit.port("bus", 1);
  const int cup = kit.holder("cup", bus, kit.pack(catalogue_pack(kind), charge), 0.02);
  kit.day.holders[at(cup)].place = 1;
  kit.day.packs[0].spare_place = 1;
  kit.device("load", bus, watts, cutoff_v, cutoff_v + 0.1, 0.05);
  kit.day.devices[0].restarts_itself = false;
  return kit;
}

// Volts at the device at an hour mark, straight between trace rows .
struct Curve1 {
  double ends_s;
  std::vector<double> volts;
};
Curve1 curve(const Kit& kit, double tolerance) {
  const DayRun run = kit.run(0.0, tolerance, true);
  Curve1 c{.ends_s = run.first_loss.at_s, .volts = {}};
  for (double t = 0.1 * kHour_s; t < 0.9 * run.first_loss.at_s; t += 0.1 * kHour_s) {
    std::size_t i = 1;
    while (run.trace.at_s[i] < t) ++i;
    const double share = (t - run.trace.at_s[i - 1]) / (run.trace.at_s[i] - run.trace.at_s[i - 1]);
    c.volts.push_back(run.trace.device_v[0][i - 1] + share * (run.trace.device_v[0][i] - run.trace.device_v[0][i - 1]));
  }
  return c;
}

// Tolerance 1, 0.1, 0.01 against 0.001: the differences shrink, and the default is within 0.1 % of the finest.
TEST(Refinement, ConvergesOnEveryChemistry) {
  struct Case {
    const char* kind;
    double watts;
    double air_k;
    double cutoff_v;
  };
  for (const Case& c :
       {Case{"smart-pack-14v4-98wh", 20.0, 293.15, 12.0}, Case{"smart-pack-14v4-98wh", 20.0, 263.15, 12.0},
        Case{"bank-12v-barrel", 12.0, 278.15, 10.0}, Case{"lfp-12v8", 15.0, 273.15, 11.5},
        Case{"vrla-12v-7ah", 14.0, 293.15, 10.8}, Case{"aa-nimh-x8", 6.0, 293.15, 8.0},
        Case{"aa-lithium-x8", 6.0, 268.15, 8.0}, Case{"aa-alkaline-x8", 3.0, 293.15, 7.0}}) {
    const Kit kit = single(c.kind, c.watts, c.air_k, c.cutoff_v);
    const Curve1 finest = curve(kit, 1e-3);
    ASSERT_LT(finest.ends_s, 1e9) << c.kind;
    double previous_s = 1e9;
    double previous_v = 1e9;
    for (const double tolerance : {1.0, 0.1, 0.01}) {
      const Curve1 now = curve(kit, tolerance);
      const double off_s = std::fabs(now.ends_s - finest.ends_s);
      // Events are located to 0.2 s in every run: differences below that say nothing.
      EXPECT_LE(off_s, std::max(previous_s, 0.4)) << c.kind << " at tolerance " << tolerance;
      previous_s = off_s;
      double apart_v = 0.0;
      for (std::size_t i = 0; i < std::min(now.volts.size(), finest.volts.size()); ++i) {
        apart_v = std::max(apart_v, std::fabs(now.volts[i] - finest.volts[i]));
      }
      // Straight lines between trace rows stand for the curve: the rows lie up to 15 min apart at the coarsest.
      EXPECT_LE(apart_v, std::max(previous_v, 1e-4)) << c.kind << " at tolerance " << tolerance;
      previous_v = apart_v;
      if (tolerance == 1.0) {
        EXPECT_LE(off_s, 1e-3 * finest.ends_s) << c.kind << " " << now.ends_s << " s, finest " << finest.ends_s;
      }
      std::printf("[ refined  ] %-22s %6.2f: %.1f s, %+.4f %%, %.2f mV\n", c.kind, tolerance, now.ends_s,
                  100.0 * (now.ends_s / finest.ends_s - 1.0), 1e3 * apart_v);
    }
  }
}

RC_GTEST_PROP(RefinementProperty, TheDefaultIsWithinATenthOfAPerCent, ()) {
  const double watts = between(4.0, 40.0);
  const Kit kit = single(one_in(2) ? "smart-pack-14v4-98wh" : "smart-pack-14v4-49wh", watts, between(255.0, 310.0),
                         between(11.0, 13.5), between(0.5, 1.0));
  const DayRun coarse = kit.run();
  const DayRun fine = kit.run(0.0, 0.01);
  RC_PRE(fine.first_loss.device == 0 && fine.first_loss.at_s > 600.0);
  RC_LOG() << coarse.first_loss.at_s << " s, fine " << fine.first_loss.at_s << " s\n";
  RC_ASSERT(std::fabs(coarse.first_loss.at_s - fine.first_loss.at_s) <= std::max(1e-3 * fine.first_loss.at_s, 1.0));
}

// Isothermal by a huge heat capacity: the open-circuit energy drawn equals Q ∫ U dz between the two charges.
RC_GTEST_PROP(DayProperty, IsothermalEnergyIsTheIntegralOfTheOpenCircuitCurve, ()) {
  cell::PackParams params = random_pack();
  params.heat_capacity_j_k = 1e12;
  params.weak_fraction = 1.0;
  params.protection = {};
  Kit kit(between(1.0, 10.0));
  const int bus = kit.port("bus");
  const double start = between(0.6, 1.0);
  kit.holder("cup", bus, kit.pack(params, start), 0.02);
  kit.device("load", bus, between(1.0, 20.0), 6.0, 6.5, 0.05);
  kit.day.devices[0].restarts_itself = false;
  kit.day.devices[0].modes.push_back({.name = "low", .power_w = 0.5});
  kit.mode_from(0.5 * kit.day.off_s, 0, 2);
  const DayRun run = kit.run();
  const double cells = params.series * params.parallel;
  const double exact_j = cells * params.cell.capacity_as * params.cell.ocv.integral(run.charge[0], start);
  RC_PRE(exact_j > 100.0);
  RC_LOG() << "drawn " << run.account.drawn_j << " J, integral " << exact_j << " J\n";
  RC_ASSERT(std::fabs(run.account.drawn_j - exact_j) <= 1e-4 * exact_j);
}

RC_GTEST_PROP(DayProperty, MoreLoadNeverLastsLonger, ()) {
  cell::PackParams params = random_pack();
  params.heat_capacity_j_k = 1e12;
  const double watts = between(1.0, 18.0);
  const double more_w = watts * (1.0 + between(0.001, 0.5));
  const auto lasts = [&](double w) {
    Kit kit(100.0);
    const int bus = kit.port("bus");
    kit.holder("cup", bus, kit.pack(params), 0.02);
    kit.device("load", bus, w, 8.0, 8.1, 0.05);
    kit.day.devices[0].restarts_itself = false;
    return kit.run().first_loss.at_s;
  };
  const double base_s = lasts(watts);
  RC_PRE(base_s > 60.0);
  RC_ASSERT(lasts(more_w) <= base_s + 0.4);  // both located to 0.2 s
}

// A second pack behind a diode, its volts below the first's all day: the day is the same.
TEST(Day, AnIdleOneWayPackChangesNothing) {
  const auto made = [](bool second, double second_v) {
    Kit kit(3.0);
    const int bus = kit.port("bus");
    const int first = kit.holder("cup 1", bus, kit.pack(straight_pack({.capacity_ah = 5.0, .ohm = 0.1})));
    kit.day.holders[at(first)].one_way = true;
    if (second) {
      const int other = kit.holder(
          "cup 2", bus,
          kit.pack(straight_pack({.full_v = second_v, .empty_v = second_v - 2, .capacity_ah = 5.0, .ohm = 0.1})));
      kit.day.holders[at(other)].one_way = true;
    }
    kit.device("load", bus, 12.0, 10.0, 11.0);
    return kit.run();
  };
  const DayRun alone = made(false, 0.0);
  const DayRun idle = made(true, 12.0);
  // The same to rounding: the wiring is eliminated with one node more.
  EXPECT_NEAR(idle.charge[0], alone.charge[0], 1e-12);
  EXPECT_EQ(idle.charge[1], 1.0);
  EXPECT_NEAR(idle.devices[0].energy_j, alone.devices[0].energy_j, 1e-6);
  EXPECT_NEAR(idle.devices[0].lowest_v, alone.devices[0].lowest_v, 1e-9);
  const DayRun shared = made(true, 15.9);
  EXPECT_LT(shared.charge[1], 1.0);
  EXPECT_GT(shared.charge[0], alone.charge[0]);
}

// "Highest voltage wins": unequal packs drain in turn; the fuller one alone until it has come down to the other.
TEST(Day, UnequalPacksDrainInTurn) {
  // Both 1 Ah, 16 to 12 V, one at 1.0, one at 0.75 (15 V); 1 A without resistance: the first alone for 900 s.
  Kit kit(1.0);
  const int bus = kit.port("bus");
  for (const double charge : {1.0, 0.75}) {
    const int cup = kit.holder("cup", bus, kit.pack(straight_pack({.capacity_ah = 1.0, .ohm = 0.001}), charge));
    kit.day.holders[at(cup)].one_way = true;
  }
  const int inner = kit.port("load");
  kit.device_at("load", inner, kit.lead(bus, inner, 0.0), {.name = "on", .current_a = 1.0}, 5.0, 6.0);
  const DayRun run = kit.run();
  // The rest together: 0.75 Ah over 1 h - 15 min, half each: 0.75 - 0.375 = 0.375 both.
  EXPECT_NEAR(run.charge[0], 0.375, 0.001);
  EXPECT_NEAR(run.charge[1], 0.375, 0.001);
}

}  // namespace
}  // namespace tillwrap::test
