// No heap allocation while a day is stepped: operator new of this program counts. A simulator and a result that have
// held the day once run it again, and again with other numbers, without asking for memory: stepping, switching, events
// and the result included.
#include <gtest/gtest.h>

#include <atomic>
#include <cstdlib>
#include <new>

#include "forecast/kit.hpp"

namespace {

std::atomic<long> asked{0};

void* counted(std::size_t bytes, const std::nothrow_t&) {
  asked.fetch_add(1, std::memory_order_relaxed);
  return std::malloc(bytes == 0 ? 1 : bytes);
}

void* counted(std::size_t bytes) {
  if (void* memory = counted(bytes, std::nothrow)) return memory;
  throw std::bad_alloc();
}

}  // namespace

void* operator new(std::size_t bytes) { return counted(bytes); }
void* operator new[](std::size_t bytes) { return counted(bytes); }
// What sorting in place asks for.
void* operator new(std::size_t bytes, const std::nothrow_t&) noexcept { return counted(bytes, std::nothrow); }
void* operator new[](std::size_t bytes, const std::nothrow_t&) noexcept { return counted(bytes, std::nothrow); }
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete[](void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t) noexcept { std::free(memory); }

namespace tillwrap::test {
namespace {

// Two cups in OR of which one is changed, a box with a regulator, fuses, a recorder with a tray of its own, modes that
// change, a bag that warms; it ends with every pack flat.
Kit busy_day() {
  Kit kit(10.0);
  kit.day.places.push_back(
      {.name = "bag", .kind = day::Place::Kind::bag, .heat_capacity_j_k = 4000.0, .cooling_w_k = 1.0});
  kit.day.periods[0].air_k = 271.15;
  const int bus = kit.port("bus", 1);
  const int cup = kit.holder("cup", bus, kit.pack(catalogue_pack("smart-pack-14v4-98wh")), 0.01);
  kit.day.holders[at(cup)].place = 1;
  kit.day.holders[at(cup)].slots.push_back(
      {.pack = kit.pack(catalogue_pack("smart-pack-14v4-98wh")), .at_s = 4.0 * kHour_s});
  const int tray_port = kit.port("tray", 1);
  kit.holder("tray", tray_port, kit.pack(catalogue_pack("aa-nimh-lsd-x8")), 0.06);
  const int inner = kit.port("recorder", 1);
  const int by_box = kit.lead(bus, inner, 0.08, 0.03);
  const int by_tray = kit.lead(tray_port, inner, 0.02);
  const int recorder = kit.device_at("recorder", inner, -1, {.name = "on", .power_w = 9.0}, 6.4, 7.2);
  kit.day.devices[at(recorder)].inputs = {
      {.lead = by_box, .least_v = 10.0, .return_v = 11.0, .cutoff_v = 10.0, .restart_v = 11.0},
      {.lead = by_tray, .least_v = 6.4, .return_v = 7.2, .cutoff_v = 6.4, .restart_v = 7.2}};
  const int regulated = kit.port("regulated", 1);
  kit.day.regulators.push_back({.name = "output",
                                .in_port = bus,
                                .out_port = regulated,
                                .place = 1,
                                .law = {.set_v = 12.0, .min_in_v = 9.0, .restart_in_v = 10.0}});
  kit.device("cue", regulated, 1.5, 6.0, 6.5, 0.2);
  for (int k = 0; k < 4; ++k) {
    const int device = kit.device("receiver " + std::to_string(k), bus, 2.0, 6.0, 6.5, 0.1);
    kit.day.devices[at(device)].restart_s = 15.0;
    kit.day.leads.back().fuse = day::Fuse{.law = catalogue_fuse("fuse-pptc"), .rated_a = 0.9, .ohm = 0.05};
  }
  for (int k = 1; k < 9; ++k) kit.mode_from(k * kHour_s, 2 + k % 3, k % 2);
  return kit;
}

struct Case {
  const char* name;
  bool loss_only;
  bool trace;
};

class Allocation : public testing::TestWithParam<Case> {};

TEST_P(Allocation, NoneOnceTheDayWasRun) {
  const Kit kit = busy_day();
  const forecast::Model model(kit.day);
  const double until_s = kit.day.off_s + 12.0 * kHour_s;
  const forecast::ChangePlan plan = forecast::plan_changes(model, until_s);
  forecast::Simulator simulator(model);
  forecast::DayRun result;
  const forecast::RunOptions options{
      .search_until_s = until_s, .trace = GetParam().trace, .tolerance = 1.0, .loss_only = GetParam().loss_only};
  simulator.run(plan, options, result);
  const forecast::Loss first = result.first_loss;
  ASSERT_GE(first.device, 0);
  ASSERT_GT(result.steps, 50);
  const long before = asked.load();
  simulator.run(plan, options, result);
  const long in_run = asked.load() - before;
  EXPECT_EQ(in_run, 0);
  EXPECT_EQ(result.first_loss.at_s, first.at_s);
  std::printf("[ allocated] %s: %ld in %ld steps and %ld solves\n", GetParam().name, in_run, result.steps,
              result.solves);
}

INSTANTIATE_TEST_SUITE_P(Runs, Allocation,
                         testing::Values(Case{"losses only", true, false}, Case{"with the account", false, false},
                                         Case{"with curves", false, true}),
                         [](const auto& info) {
                           return std::string(info.param.loss_only ? "Losses"
                                              : info.param.trace   ? "Curves"
                                                                   : "Account");
                         });

// The counter counts.
TEST(Allocation, ANewVectorIsSeen) {
  const long before = asked.load();
  std::vector<double> one(3);
  one.reserve(100);
  EXPECT_EQ(asked.load() - before, 2);
}

}  // namespace
}  // namespace tillwrap::test
