// How a charger fills a pack: one law a chemistry family, used by charger bays in the day and by the night's recharge.
//
//   constant volts  lithium: constant current I, then constant volts until the current has tapered to `end_a`.
//   by coulombs     nickel: constant current until `put_in` times the missing charge has gone in (0.1C fill, or a quick
//                   charge ended by its timer or by falling volts); the cell stores charge_efficiency of it, the rest
//                   is heat (oxygen recombines), and nothing is stored above charge 1.
//   three stages    lead: constant current, then `end_v` while the plates take at most accept_per_s (1 - z) Q
//                   (the charge limit of the kinetic battery model in simulation practice, 1 A per Ah missing, from
//                   memory), until `end_a`; then float volts.
// Charging current is negative. Nothing is put in outside the temperatures allowed: the pack waits to warm or to cool.
#pragma once

#include <limits>
#include <vector>

#include "cell/pack.hpp"

namespace tillwrap::cell {

enum class ChargeWay { constant_volts, by_coulombs, three_stages };

ChargeWay charge_way(Chemistry chemistry);
bool can_charge(Chemistry chemistry);  // alkaline and iron-disulfide cells: never

struct ChargeLaw {
  ChargeWay way = ChargeWay::constant_volts;
  double current_a = 0.0;  // most, whole pack
  double end_v = 0.0;      // whole pack; not used by coulombs
  double end_a = 0.0;      // constant volts end here
  double float_v = 0.0;    // third stage; 0 = none
  double put_in = 1.25;    // by coulombs: put in for each coulomb missing
  double taper_v = 0.0;    // constant volts: see taper_ohm
  double coldest_k = 273.15;
  double hottest_k = 318.15;
};

// What the charger offers at this moment. Not live: it gives nothing.
struct ChargeOffer {
  bool live = false;
  double volts = 0.0;    // at most
  double limit_a = 0.0;  // at most, positive
};
ChargeOffer charge_offer(const ChargeLaw& law, const PackParams& pack, double charge, bool full);

// Near full a lithium cell takes its last charge more slowly than it gives its first: a loss met on charging only,
//   R_t = n taper_v / (q (1.01 - z)),  n cells in series, q the pack's Ah.
// 0.010 V and 0.01 are fitted to one measured charge at 1C to 4.2 V (47 min of constant current, 84 % put in, 98 min to
// C/58; open data doi:10.17632/wykht8y7tg.1, CC-BY-4.0); the aged cell's 107 min is a check. Without it the taper lasts
// 21 min instead of 51. `taper_v` grows with age as the other resistances do.
inline constexpr double kTaper_v = 0.010;
double taper_ohm(const ChargeLaw& law, const PackParams& pack, double charge);

// Charge at which charging by coulombs that began at `from_charge` ends.
double coulombs_end(const ChargeLaw& law, const CellParams& cell, double from_charge);

// Float volts of a lead cell: 2.25 to 2.30 V at 25 °C (common practice).
inline constexpr double kFloatCell_v = 2.27;
inline constexpr double kLeadAccept_per_s = 1.0 / 3600.0;

// Pack current (negative) at which the pack takes what is offered.
double charge_current_a(const PackParams& pack, const CellRates& rates, const PackState& state,
                        const ChargeOffer& offer, double extra_ohm = 0.0);

struct ChargeMoment {
  double at_s = 0.0;  // after charging began
  double volts = 0.0;
  double current_a = 0.0;  // negative
  double charge = 0.0;
  double put_in_as = 0.0;  // so far
  double temperature_k = 0.0;
};

struct ChargeRun {
  bool full = false;
  double duration_s = 0.0;   // to full, or to the end of the time given
  double constant_s = 0.0;   // of which at the full current
  double constant_as = 0.0;  // coulombs put in during that
  double waited_s = 0.0;     // outside the temperatures allowed
  double put_in_as = 0.0;    // pack coulombs through its terminals
  double stored_as = 0.0;    // of which the cells keep
  double put_in_j = 0.0;     // at the terminals
  double stored_j = 0.0;     // open-circuit energy gained by the cells
  double heat_j = 0.0;       // put_in_j - stored_j, summed from its parts
  double warmest_k = 0.0;
  PackState end;
  std::vector<ChargeMoment> curve;  // one a `row_s`, and the last
};

struct ChargeWhile {
  double surround_k = 293.15;
  double longest_s = 3.0 * 86400.0;
  double row_s = 0.0;  // 0: no curve
  // By coulombs, where the filling goes on after a break: charge it began at, and what has gone in since.
  double begun_charge = -1.0;  // negative: it begins now
  double already_as = 0.0;
};

// From `start` until full or the time is over. With constant current throughout `law`.
ChargeRun charge(const PackParams& pack, const ChargeLaw& law, const PackState& start, const ChargeWhile& conditions);

// A pack with charge `charge` at rest, its weakest cell having given the same coulombs from full.
PackState rested_after_use(const PackParams& pack, double charge, double temperature_k);

// Seconds until a pack at `start_k` in surroundings at `surround_k` reaches `wanted_k`; infinity: never.
double seconds_to(const PackParams& pack, double start_k, double surround_k, double wanted_k);

}  // namespace tillwrap::cell
