// Loss-only runs cruise over quiet stretches; their losses and the ends of packs must be those of the full stepping.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "forecast/fixed_seed.hpp"
#include "forecast/random_day.hpp"

namespace tillwrap::test {
namespace {

const FixedSeed kSeed("seed=20261126 max_success=120");

RC_GTEST_PROP(Cruise, LossesAreThoseOfTheFullStepping, ()) {
  const Kit kit = random_kit();
  const forecast::Model model(kit.day);
  const double until_s = kit.day.off_s + 6.0 * kHour_s;
  const forecast::ChangePlan plan = forecast::plan_changes(model, until_s);
  const forecast::DayRun full = forecast::run_day(model, plan, {.search_until_s = until_s, .tolerance = 0.1});
  const forecast::DayRun quick = forecast::run_day(
      model, plan, {.search_until_s = until_s, .longest_step_s = 7200.0, .tolerance = 1.0, .loss_only = true});
  RC_LOG() << "full " << full.first_loss.device << " at " << full.first_loss.at_s << ", quick "
           << quick.first_loss.device << " at " << quick.first_loss.at_s << "\n";
  // A loss as the search ends may fall on either side of it.
  const double later_s = std::max(full.first_loss.at_s, quick.first_loss.at_s);
  const double sooner_s = std::min(full.first_loss.at_s, quick.first_loss.at_s);
  if (later_s == forecast::kNever && sooner_s > until_s - 1e-3 * (until_s - kit.day.periods.front().from_s)) return;
  RC_ASSERT(full.first_loss.device == quick.first_loss.device);
  if (full.first_loss.device >= 0) {
    const double lasts_s = full.first_loss.at_s - kit.day.periods.front().from_s;
    RC_ASSERT(std::fabs(full.first_loss.at_s - quick.first_loss.at_s) <= 1e-3 * lasts_s + 1.0);
    RC_ASSERT(full.first_loss.why.cause == quick.first_loss.why.cause);
  }
  RC_ASSERT(full.stints.size() == quick.stints.size());
  RC_ASSERT(quick.unsolved == 0);
}

// A pack charged beside a working cup, then put to work: how full it gets, and how long it serves after that.
RC_GTEST_PROP(Cruise, ChargeTakenIsThatOfTheFullStepping, ()) {
  Kit kit(12.0);
  kit.day.periods[0].air_k = between(278.0, 308.0);
  const int bus = kit.port("bus", 1);
  const int cup = kit.holder("cup", bus, kit.pack(catalogue_pack("smart-pack-14v4-98wh")));
  kit.device("load", bus, between(5.0, 10.0), 11.0, 12.0);
  kit.day.devices[0].restart_s = 5.0;
  const std::string kind = *rc::gen::elementOf(
      std::vector<std::string>{"smart-pack-14v4-98wh", "smart-pack-14v4-49wh", "nimh-12v", "lfp-12v8"});
  cell::PackParams params = catalogue_pack(kind);
  params.cell =
      cell::aged(params.cell, {.capacity_fraction = between(0.6, 1.0), .resistance_factor = between(1.0, 2.5)});
  const int charged = kit.pack(params, between(0.0, 0.9));
  day::Pack& pack = kit.day.packs[at(charged)];
  if (kind == "smart-pack-14v4-98wh" || kind == "smart-pack-14v4-49wh") pack.charge_v = 16.8;
  if (kind == "lfp-12v8") pack.charge_v = 14.4;
  const int charger = kit.supply("charger", -1, 0.0, 0.0);
  const int bay = kit.holder("bay", kit.port("bay"), charged);
  day::Holder& holder = kit.day.holders[at(bay)];
  holder.charger_supply = charger;
  holder.charge_a = between(0.2, 1.0) * params.parallel * params.cell.rated_ah;
  const double from_s = between(0.0, 2.0) * kHour_s;
  const double until_s = from_s + between(0.5, 4.0) * kHour_s;
  holder.slots[0].at_s = from_s;
  holder.slots[0].out_s = until_s;
  kit.day.holders[at(cup)].slots.push_back({.pack = charged, .at_s = until_s + 60.0});
  const forecast::Model model(kit.day);
  const double search_s = kit.day.off_s + 12.0 * kHour_s;
  const forecast::ChangePlan plan = forecast::plan_changes(model, search_s);
  // The charge it comes off with: as it stands a minute after.
  const forecast::DayRun full_then =
      forecast::run_day(model, plan, {.search_until_s = search_s, .tolerance = 0.1, .stop_s = until_s + 30.0});
  const forecast::DayRun quick_then = forecast::run_day(model, plan,
                                                        {.search_until_s = search_s,
                                                         .longest_step_s = 7200.0,
                                                         .tolerance = 1.0,
                                                         .loss_only = true,
                                                         .stop_s = until_s + 30.0});
  RC_LOG() << kind << ": full " << full_then.charge[at(charged)] << ", quick " << quick_then.charge[at(charged)]
           << "\n";
  RC_ASSERT(full_then.charge[at(charged)] > kit.day.packs[at(charged)].start_charge);
  RC_ASSERT(std::fabs(full_then.charge[at(charged)] - quick_then.charge[at(charged)]) < 2e-3);
}

// Two to three packs of one kind that carry a load together, each by its own way: contacts, a cable, a diode, a fuse.
RC_GTEST_PROP(Cruise, PacksThatCarryTogether, ()) {
  Kit kit(10.0);
  kit.day.periods[0].air_k = between(268.0, 308.0);
  const int joined = kit.port("joined", 1);
  const int bus = kit.port("bus", 1);
  kit.lead(joined, bus, between(0.0, 0.02));
  const std::string kind = *rc::gen::elementOf(
      std::vector<std::string>{"smart-pack-14v4-98wh", "smart-pack-14v4-49wh", "nimh-12v", "lfp-12v8"});
  const int packs = *rc::gen::inRange(2, 4);
  const bool diodes = !one_in(4);
  const bool in_the_lead = one_in(2);
  for (int k = 0; k < packs; ++k) {
    cell::PackParams params = catalogue_pack(kind);
    params.cell =
        cell::aged(params.cell, {.capacity_fraction = between(0.6, 1.0), .resistance_factor = between(1.0, 2.5)});
    params.idle_a = one_in(2) ? between(0.0, 0.005) : 0.0;
    // Straight in parallel they are put together at one charge, as anyone would.
    const int pack = kit.pack(params, diodes ? between(0.5, 1.0) : 0.95);
    const int cup = kit.port("cup " + std::to_string(k), 1);
    kit.holder("cup " + std::to_string(k), cup, pack, between(0.005, 0.05));
    const int way = kit.lead(cup, joined, between(0.0, 0.1), between(0.0, 0.05));
    day::Lead& lead = kit.day.leads[at(way)];
    if (one_in(3)) lead.fuse = day::Fuse{.law = catalogue_fuse("fuse-ul"), .rated_a = between(2.0, 10.0), .ohm = 0.01};
    if (!diodes) continue;
    day::Holder& holder = kit.day.holders.back();
    holder.one_way = !in_the_lead;
    lead.one_way = in_the_lead;
    (in_the_lead ? lead.drop_v : holder.drop_v) = between(0.0, 0.4);
  }
  for (int d = 0; d < 3; ++d) {
    const int inner = kit.port("device " + std::to_string(d), 1);
    const int wire = kit.lead(bus, inner, between(0.0, 0.2), between(0.0, 0.05));
    day::Mode mode{.name = "on"};
    mode.power_w = between(2.0, 9.0);
    kit.device_at("device " + std::to_string(d), inner, wire, mode, between(9.5, 10.5), 11.5);
  }
  if (one_in(2)) {
    const int period = kit.split(between(0.1, 0.8) * kit.day.off_s, "later");
    kit.day.periods[at(period)].mode[0] = 1;
  }
  const forecast::Model model(kit.day);
  const double until_s = kit.day.off_s + 300.0 * kHour_s;
  const forecast::ChangePlan plan = forecast::plan_changes(model, until_s);
  const forecast::DayRun full = forecast::run_day(model, plan, {.search_until_s = until_s, .tolerance = 0.1});
  const forecast::DayRun quick = forecast::run_day(
      model, plan, {.search_until_s = until_s, .longest_step_s = 7200.0, .tolerance = 1.0, .loss_only = true});
  RC_LOG() << kind << ": full " << full.first_loss.at_s << " in " << full.solves << " solutions, quick "
           << quick.first_loss.at_s << " in " << quick.solves << "\n";
  RC_ASSERT(full.first_loss.device >= 0);
  RC_ASSERT(full.first_loss.device >= 0);
  RC_ASSERT(full.first_loss.at_s > 600.0);
  RC_ASSERT(std::fabs(full.first_loss.at_s - quick.first_loss.at_s) <= 1e-3 * full.first_loss.at_s + 1.0);
  RC_ASSERT(full.first_loss.why.cause == quick.first_loss.why.cause);
  RC_ASSERT(2 * quick.steps < full.steps);  // they were not stepped in full
  for (std::size_t p = 0; p < full.charge.size(); ++p) RC_ASSERT(std::fabs(full.charge[p] - quick.charge[p]) < 5e-3);
}

}  // namespace
}  // namespace tillwrap::test
