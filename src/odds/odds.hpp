// The spread over many days: the same plan under loads, capacities, temperatures as they may turn out.
//
// Each day is a point of a scrambled quasi-random sequence, so day k of a seed is the same whoever computes it: callers
// may share the days out over threads in any ranges and get the same bytes.
#pragma once

#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "forecast/forecast.hpp"

namespace tillwrap::odds {

// One standard deviation of each unknown. Defaults from memory; a day file may give its own ([spread]).
struct Spread {
  double load = 0.08;            // of every draw together; 0.03 is usual once it was measured
  double load_each = 0.05;       // of each device on its own
  double capacity = 0.03;        // of packs of one kind and health together
  double capacity_each = 0.025;  // of each pack on its own
  double resistance = 0.20;
  double start_charge = 0.02;  // how far short of the stated charge, all together
  double air_k = 3.0;
  double bag = 0.40;      // of the bag's loss of heat
  double overrun = 0.50;  // of the overrun the day states: how much of it is taken (overrun.hpp)
};

struct OddsOptions {
  std::uint32_t days = 10000;
  std::uint64_t seed = 1;
  Spread spread;
  double search_beyond_s = 24.0 * 3600.0;
  double tolerance = 8.0;  // of the stepping, see RunOptions
};

// What one day came to.
struct DayOutcome {
  double margin_s = 0.0;  // first must-run loss after off; at most search_beyond_s
  friend bool operator==(const DayOutcome&, const DayOutcome&) = default;
};

// Names of the unknowns drivers are reported for, in order of their dimension.
const std::vector<std::string>& driver_names();

// A planned change: how long the pack coming out would have served.
struct ChangeOdds {
  int holder = 0;
  int out_pack = 0;
  int in_pack = 0;
  double in_s = 0.0;  // the pack coming out went in
  double planned_s = 0.0;
  double safe_s = 0.0;    // nine days in ten it serves to here
  double likely_s = 0.0;  // every other day
};

// Computes ranges of days. Holds its own copies of the scenario, so one worker may run beside another.
class Worker {
 public:
  Worker(const day::Scenario& scenario, const OddsOptions& options);
  ~Worker();
  Worker(Worker&&) noexcept;

  // Days first..first+out.size()-1 into `out`.
  void run(std::uint32_t first, std::vector<DayOutcome>& out);
  // Every change planned later than `from_s`, up to the end of the overrun, over all days of the options.
  std::vector<ChangeOdds> changes(double from_s);

 private:
  struct Own;
  std::unique_ptr<Own> own_;
};

struct Driver {
  std::string name;
  double share = 0.0;  // of the margin's variance that goes with it alone
};

struct OddsAnswer {
  std::uint32_t days = 0;
  std::uint64_t seed = 0;
  double probability = 0.0;                      // every must-run device reaches off
  double probability_with_overrun = 0.0;         // ... and as much longer as that day is late
  double probability_with_whole_overrun = 0.0;   // ... and all of the overrun the day states
  double p10_s = 0.0, p50_s = 0.0, p90_s = 0.0;  // margin
  std::vector<Driver> drivers;                   // largest first
};

// Statistics over the days in their order.
OddsAnswer summary(const day::Scenario& scenario, const OddsOptions& options, const std::vector<DayOutcome>& days);

std::vector<ChangeOdds> change_odds(const day::Scenario& scenario, const OddsOptions& options,
                                    double from_s = -forecast::kNever);

// All days on one thread.
OddsAnswer odds(const day::Scenario& scenario, const OddsOptions& options);

}  // namespace tillwrap::odds
