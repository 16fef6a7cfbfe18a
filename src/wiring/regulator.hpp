// A voltage regulator between two parts of the wiring: a regulated box output, or the electronics of a power bank.
#pragma once

namespace tillwrap::wiring {

// P_in = idle_w + slope P_out + square_ohm (P_out / V_in)^2: standing draw, losses that grow with power, and I²R in
// switch and coil. Output stays at `set_v` while the input is between `min_in_v` and `max_in_v`.
struct RegulatorLaw {
  double set_v = 12.0;
  double out_ohm = 0.02;
  double limit_a = 3.0;  // output current where it folds back
  double idle_w = 0.1;
  double slope = 1.05;
  double square_ohm = 0.05;
  double min_in_v = 0.0;
  double restart_in_v = 0.0;  // comes back above this
  double max_in_v = 1e9;
};

struct ValueGradient {
  double value = 0.0;
  double gradient = 0.0;
};

// Input current at input volts `in_v` for output power `out_w`, and d(current)/d(in_v).
inline ValueGradient input_current_a(const RegulatorLaw& law, double out_w, double in_v) {
  const double steady_w = law.idle_w + law.slope * out_w;
  const double square = law.square_ohm * out_w * out_w;
  const double v2 = in_v * in_v;
  return {steady_w / in_v + square / (v2 * in_v), -steady_w / v2 - 3.0 * square / (v2 * v2)};
}

}  // namespace tillwrap::wiring
