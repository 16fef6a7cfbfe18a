// One day by SUNDIALS CVODE: the equations of docs/model.md and docs/model-day.md written down a second time,
// integrated with variable-order BDF, the wiring solved by DenseWiring wherever the integrator asks. Events are roots
// located by the integrator itself; the state is restarted after each. Shares with the engine: the scenario, the cell's
// terminal volts and coefficients at a temperature (both held against closed forms and ngspice elsewhere), fuse laws
// and who feeds whom.
#pragma once

#include <string>
#include <vector>

#include "forecast/simulator.hpp"
#include "reference/dense_wiring.hpp"

namespace tillwrap::reference {

// Thrown when a day switches more often than that (devices that start and fall over without end), or when the
// integrator cannot hold its tolerance at the edge of collapse.
struct GaveUp {};
inline constexpr long kMostSegments = 600;
inline constexpr std::size_t kMostEvents = 5000;

struct CvodeOptions {
  double relative = 1e-10;
  double absolute = 1e-12;
  double search_until_s = 0.0;
  std::vector<double> sample_s;  // ascending; where volts are wanted
};

struct CvodeSample {
  double at_s = 0.0;
  std::vector<double> device_v;
  std::vector<double> holder_v;  // pack terminals, 0 where empty or cut off
  std::vector<double> charge;    // of the pack in the holder, 0 where empty
  std::vector<double> pack_k;
};

struct CvodeEvent {
  double at_s = 0.0;
  std::string what;
};

struct CvodeRun {
  int lost_device = -1;
  double lost_s = forecast::kNever;
  std::vector<CvodeSample> samples;
  std::vector<CvodeEvent> events;
  std::vector<double> down_s;  // every device_down in order, up to off
  std::vector<int> down_device;
  long steps = 0, evaluations = 0, solves = 0, newton = 0, unsettled = 0;
};

CvodeRun cvode_day(const forecast::Model& model, const forecast::ChangePlan& plan, const CvodeOptions& options);

}  // namespace tillwrap::reference
