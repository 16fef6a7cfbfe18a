// The days that speed is measured on.
#pragma once

#include <string>

#include "app/day_file.hpp"
#include "day/scenario.hpp"
#include "odds/odds.hpp"

namespace tillwrap::bench {

// A day file of this project, by its path from the top; measured draws applied.
app::DayFile day_file(const std::string& name);

struct BenchDay {
  day::Scenario scenario;
  odds::Spread spread;
};

// bench/bench-day.toml: twelve hours, ten devices (and the box's own draw), six packs, twelve changes of mode, two hot
// changes, packs and bag warming themselves.
BenchDay bench_day();

// The same day with more devices: those on the box are copied in turn, each with a lead of its own, until there are
// `devices` of them. Copies share the draw of what they are copies of, so that the packs see the same day.
day::Scenario with_devices(const day::Scenario& day, std::size_t devices);

}  // namespace tillwrap::bench
