// What a pack's capacity and resistance are by the few readings of one turn in use: amps of its holder, charge told
// (charged, gauge, taken out), volts at what it feeds.
//
// Charge drawn between two moments: Q = (t2 - t1) I, I the mean of the amps by straight lines between readings. A load
// that comes and goes is only sampled: with the readings' spread s over their mean (taken for kLoadScatter as if
// kLoadReadings had shown it, and from then on by what they show) Q is off by s/sqrt(n), n readings being evenly spread
// (else by the times each stands for), and by the instrument. Of two within minutes that differ the lower was
// taken with something switched off for it: it holds for a minute and is not of the mean.
//
// Without volts: capacity = Q / (z1 - z2). With volts the cell equations are put through the amps, and capacity,
// resistance, start charge, the mean load, the lead's resistance, the air and the model's own volts are found together
// by least squares, each with what is believed of it before (factor.hpp).
#pragma once

#include <optional>
#include <vector>

#include "cell/pack.hpp"
#include "fit/factor.hpp"

namespace tillwrap::fit {

struct FieldTurn {
  struct Read {
    double at_s = 0.0;
    double value = 0.0;
  };
  struct Told {
    double at_s = 0.0;
    double charge = 0.0;
    double sd = 0.06;
  };
  double until_s = 0.0;     // the turn begins at 0
  std::vector<Read> amps;   // of the pack, in order, at least one
  std::vector<Told> told;   // in order
  std::vector<Read> volts;  // at the input it feeds, in order
};

struct FieldFound {
  double drawn_ah = 0.0;     // from the first charge told to the last; of the whole turn where fewer than two are
  double drawn_share = 0.0;  // one standard deviation over it
  double depth = 0.0;        // difference of those charges; 0: fewer than two
  std::optional<Factor> by_charge;  // by these two alone; nothing: not above 0
  std::optional<Factor> capacity;   // by all of it; nothing: they say nothing of it
  std::optional<Times> resistance;
  std::optional<bool> volts_fit;  // false: the volts are another source's; nothing: none were weighed
};

// Volts that miss what is expected of them by more than this, or that ask for an unknown so many standard deviations
// off what was believed, are of another source, or come through a converter.
inline constexpr double kMostMisfit = 2.5;
inline constexpr double kMostStrain = 3.0;

// `as_new` is the pack's kind; its label's Ah are those of its cells.
FieldFound field_turn(const cell::PackParams& as_new, const FieldTurn& turn);

}  // namespace tillwrap::fit
