// One electrochemical cell: parameters, state, and the equations between them (derived in docs/model.md).
//
// Every chemistry shares one form; only parameters differ, and no chemistry borrows another's curve.
//   dz/dt   = -I/Q                                        charge fraction z
//   dx_n/dt = -x_n/tau_n + gain_n I/Q                     lag of the surface behind the mean, n = 0, 1
//   zs      = z - x_0 - x_1 - surface_gain td I/Q         what the terminals feel
//   V       = U(zs) - I R(z, T) - V1 - n (2RT/F) asinh(It / 2 i0(zs, T))
//   dIt/dt  = (I - It)/tau_t(T)                           the double layer charges first; It = I where tau_t is 0
//   dV1/dt  = (I R1 - V1)/tau_1
// Lithium: sphere diffusion in the charge domain, its series in two lags and a remainder. Nickel, alkaline,
// iron-disulfide, lead: the bound-charge well, which is the same equation with one mode: gain (1-c)/c, tau = 1/k'.
// Discharge current is positive. All values are SI: A, A s, ohm, V, K, s, J/K, W/K.
#pragma once

#include <array>
#include <string>

#include "quantity/curve.hpp"

namespace tillwrap::cell {

enum class Chemistry {
  nmc,
  nca,
  lco,
  lfp,
  nimh,
  nimh_lsd,
  alkaline,
  lithium_iron_disulfide,
  vrla_agm,
  vrla_gel,
};

// Rechargeable lithium cells: held at their end volts on charge, older by the hours they stand full.
constexpr bool is_lithium_ion(Chemistry chemistry) {
  return chemistry == Chemistry::nmc || chemistry == Chemistry::nca || chemistry == Chemistry::lco ||
         chemistry == Chemistry::lfp;
}

struct CellParams {
  std::string name;  // catalogue id of the parameter set
  Chemistry chemistry = Chemistry::nmc;
  double capacity_as = 0.0;             // Q, charge between z = 1 and z = 0 of the open-circuit curve
  Curve ocv;                            // U(z), V
  std::array<double, 2> lag_gain{};     // dimensionless
  std::array<double, 2> lag_rate{};     // lambda_n: tau_n = td / lag_rate
  double surface_gain = 0.0;            // quasi-steady remainder of the higher modes
  double diffusion_s = 0.0;             // td at 25 °C
  double diffusion_activation_k = 0.0;  // td(T) = diffusion_s exp(Ed (1/T - 1/298.15))
  double cold_tail = 0.0;               // k: charge out of reach at the empty end at 0 °C; grows below 25 °C with a
  double cold_tail_width = 0.0;         // w: how far up the charge scale that is felt
  double series_ohm = 0.0;              // Rm, metal: no temperature dependence
  double electrolyte_ohm = 0.0;         // Re at 25 °C
  double electrolyte_activation_k = 0.0;
  Curve diffusion_shape;    // multiplies td over charge z; empty means 1 everywhere
  Curve resistance_shape;   // multiplies Re over charge z; empty means 1 everywhere
  double exchange_a = 0.0;  // i00 at 25 °C, at half charge; 0 = no charge-transfer term
  double exchange_activation_k = 0.0;
  double exchange_alpha = 0.0;       // i0 ~ (4 zs (1-zs))^alpha, where there is no exchange_shape
  Curve exchange_shape;              // multiplies i00 over surface charge zs; positive everywhere, ends flat
  double exchange_electrodes = 1.0;  // n: electrodes in series with that exchange current
  double exchange_s = 0.0;  // tau_t at 25 °C; grows in the cold as i00 falls; 0 = charge transfer follows at once
  double rc_ohm = 0.0;      // R1 at 25 °C (temperature follows the electrolyte)
  double rc_s = 35.0;
  double heat_capacity_j_k = 0.0;
  double cooling_w_k = 0.0;        // to the surroundings, cell lying free
  double charge_efficiency = 1.0;  // coulombs stored per coulomb put in
  double self_discharge_per_month = 0.0;
  double cutoff_v = 0.0;  // usual end of discharge of one cell
  double rated_ah = 0.0;  // what the label says, under the rating test
};

// Capacity fraction scales Q; the factor scales electrolyte and charge-transfer resistance (docs/model.md, ageing).
struct Ageing {
  double capacity_fraction = 1.0;
  double resistance_factor = 1.0;
};
CellParams aged(const CellParams& fresh, const Ageing& age);

// The same kind of cell in another size: capacity, exchange current, heat capacity and cooling grow with the rated
// capacity, resistances fall with it.
CellParams scaled_to(const CellParams& params, double rated_ah);

// Prior for a pack whose resistance nobody measured: r = 1 + k (1 - c), k = 4.
double prior_resistance_factor(double capacity_fraction);

struct CellState {
  double charge = 1.0;          // z
  std::array<double, 2> lag{};  // x_n
  double rc_v = 0.0;            // V1
  double transfer_a = 0.0;      // It, used where exchange_s > 0
  // The current at the end of a step is found together with the wiring; until then It = transfer_a + this times it.
  double transfer_follows = 0.0;
  double temperature_k = 298.15;
  friend bool operator==(const CellState&, const CellState&) = default;
};

// The temperature-dependent coefficients, computed once and used for many evaluations at that temperature.
struct CellRates {
  double diffusion_s = 0.0;  // td(T), before the shape over charge
  std::array<double, 2> tau_s{};
  double cold_tail = 0.0;        // k(T)
  double electrolyte_ohm = 0.0;  // before the shape over charge
  double exchange_a = 0.0;       // before the charge dependence
  double exchange_s = 0.0;       // tau_t(T)
  double thermal_v = 0.0;        // n 2RT/F
  double rc_ohm = 0.0;
};
CellRates rates_at(const CellParams& params, double temperature_k);

// Those in the middle between two temperatures, as the geometric mean of theirs: every activated coefficient is an
// exponential of 1/T, so this is exact at the middle 1/T, off the middle T by (dT/T)^2/4 of 1/T.
CellRates between(const CellParams& params, const CellRates& a, const CellRates& b);

// Terminal volts of one cell at a current, its slope dV/dI (negative), and its parts. `lost_v` is built from the
// separate overpotentials, not from open_v - volts, so that the energy account is a real check.
struct CellPoint {
  double volts = 0.0;
  double slope_ohm = 0.0;
  double open_v = 0.0;  // U(z), rested
  double lost_v = 0.0;  // diffusion + ohmic + RC + charge transfer
};
CellPoint evaluate(const CellParams& params, const CellRates& rates, const CellState& state, double current_a);

// The same for a cell whose capacity is `capacity_fraction` of the parameter set's (the weakest cell of a pack): it has
// a charge of its own, and its lags are as much larger.
CellPoint evaluate_scaled(const CellParams& params, const CellRates& rates, const CellState& state, double charge,
                          double current_a, double capacity_fraction);

// State after `step_s` with the current going in a straight line from `start_a` to `end_a`; exact for the linear
// charge, lag and RC equations at the given rates (a diffusion_shape makes the lags second order, see lags_over).
// Temperature is left alone (see pack.hpp).
CellState advance(const CellParams& params, const CellRates& rates, const CellState& state, double step_s,
                  double start_a, double end_a);

// What a step of one length leaves of each lag, for advancing over it again with another end current. `flat` and `ramp`
// are (1 - decay)/y and (1 - flat)/y with y = step/tau.
struct Lag {
  double decay = 1.0;
  double flat = 1.0;
  double ramp = 0.5;
};
struct StepLags {
  std::array<Lag, 2> lag{};
  Lag rc{};
  Lag transfer{};
  double step_s = 0.0;
  // What the lags and the RC settle to at either end, over what the middle of the step would have them settle to.
  double start_share = 1.0, end_share = 1.0;
  double rc_start_share = 1.0, rc_end_share = 1.0;
};
// A diffusion_shape is taken in the middle of the step that this current makes, and what a lag settles to, which goes
// with it, in a straight line from one end to the other: a step longer than the lag ends where the lag does.
StepLags lags_over(const CellParams& params, const CellRates& rates, const CellState& state, double step_s,
                   double start_a, double end_a);
// The same over a step in which the temperature changes: `middle` as between() has it.
StepLags lags_over(const CellParams& params, const CellRates& start, const CellRates& middle, const CellRates& end,
                   const CellState& state, double step_s, double start_a, double end_a);
CellState advance(const CellParams& params, const CellRates& rates, const StepLags& lags, const CellState& state,
                  double start_a, double end_a);

// Makes the charge transfer at the end of the step part of the search for the end current: `state` was advanced to
// `end_a`, and evaluated with another current it is what an advance to that one would have given of it.
void let_transfer_follow(const StepLags& lags, CellState& state, double end_a);

// z at which the rested cell shows `open_v` volts.
double charge_at_rest(const CellParams& params, double open_v);

}  // namespace tillwrap::cell
