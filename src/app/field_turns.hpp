// What the journal's readings of a pack in use tell of its health: one answer a turn in a holder.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "catalogue/kinds.hpp"
#include "health/trend.hpp"
#include "journal/fold.hpp"

namespace tillwrap::app {

struct TurnAnswer {
  std::string holder;
  std::int64_t in_us = 0;
  std::optional<std::int64_t> out_us;  // nothing: still in
  std::size_t amps = 0, volts = 0;     // readings weighed
  std::optional<double> drawn_ah;      // between the first charge told and the last; of the turn where fewer are
  std::optional<double> from, to;      // those charges
  std::optional<health::Band> capacity, resistance;  // over new; nothing: they cannot tell
  std::vector<std::string> cannot;                   // why not, and what was left aside
  bool by_used = false;                              // a `used` or a `tested` line counts instead
};

// One standard deviation of a told charge: a charger's "full", what was read off a gauge or from volts.
double told_charge_sd(journal::Event by);

// Of the turns in which anything was read, in order. Volts are weighed in the latest twelve.
std::vector<TurnAnswer> turn_answers(const journal::PackState& pack, const catalogue::PackKind& kind,
                                     const catalogue::CellKind& cell);

// "2026-11-25 in \"cup\": 5.2 Ah by 6 readings of amps, 100 to 22 %: holds 96 % of a new one (84–109)."
std::string turn_words(const TurnAnswer& turn);

}  // namespace tillwrap::app
