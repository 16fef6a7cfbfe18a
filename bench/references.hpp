// The same day by other solvers: what it comes to, how long they take, the loosest setting that is still right.
#pragma once

#include <string>

#include "forecast/forecast.hpp"

namespace tillwrap::bench {

inline constexpr double kRight = 1e-3;  // of the time from call to the first loss

struct Reference {
  bool available = false;
  std::string setting;  // the loosest that reaches 0.1 %
  double lost_s = 0.0;  // first must-run loss by that setting
  double apart = 0.0;   // from the tight answer, of the duration
  double seconds_a_day = 0.0;
  long steps = 0;
};

// First must-run loss by CVODE at rtol 1e-10, atol 1e-12.
double tight_loss_s(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double until_s);

// Tolerances from 1e-2 down; of those that reach 0.1 % the quickest.
Reference by_cvode(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double until_s,
                   double tight_s);

// The whole day as one circuit, stopped where the last pack in the cup falls to its protection's volts; ngspice's own
// figure of its analysis time, without reading the deck. Of many settings that reach 0.1 % the quickest.
Reference by_spice(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double tight_s);

}  // namespace tillwrap::bench
