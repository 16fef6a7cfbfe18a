// What it takes to have the packs of a day full again by the next call: how many chargers more than those at hand.
#pragma once

#include <optional>
#include <vector>

#include "app/day_file.hpp"
#include "app/wording.hpp"
#include "catalogue/catalogue.hpp"

namespace tillwrap::app {

struct ChargerNeed {
  const catalogue::ChargerKind* kind = nullptr;  // to get; null: none
  int add = 0;                                   // of that kind
  int bays = 0;                                  // theirs
  int own_bays = 0;                              // at hand that take this kind of pack
  int packs = 0;                                 // of that kind, to be filled
  bool enough = false;                           // all are full by then
  bool overnight = false;                        // only where it also charges while nobody is awake there
  bool hours_assumed = false;                    // the day has no [rest] `there`
  double from_s = 0.0, until_s = 0.0;
  Money money;
  double mass_kg = 0.0;
};

// Packs of `kind` in a day with its holders as planned, each as the day leaves it, and what shares chargers with them;
// the plan is the night's own (recharge). Of the chargers of the catalogue that take the kind, those that cost least.
// Hands are there as [rest] says, else for four hours after off and the last before call; only where that is not enough
// is it tried with charging while they sleep. Nothing: the kind is not charged.
std::optional<ChargerNeed> chargers_needed(const DayFile& day, const catalogue::Catalogue& catalogue,
                                           const catalogue::PackKind& kind);

// The same of a changed day beyond what `as_is` takes: packs that could share a charger of the catalogue with `kind`
// count in both, so that chargers the owner has and did not list are not bought again.
std::optional<ChargerNeed> chargers_needed_beyond(const DayFile& as_is, const DayFile& changed,
                                                  const catalogue::Catalogue& catalogue,
                                                  const catalogue::PackKind& kind);

// The same for packs of several kinds: one entry each kind of charger to get, or that there is none to get. Chargers
// that serve two of them are there once.
std::vector<ChargerNeed> chargers_needed_together(const DayFile& as_is, const DayFile& changed,
                                                  const catalogue::Catalogue& catalogue,
                                                  const std::vector<const catalogue::PackKind*>& kinds);

}  // namespace tillwrap::app
