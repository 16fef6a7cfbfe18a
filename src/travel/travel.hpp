// May this kit fly: each battery against dated rules, counted a person, shared out, with what to ask for and what to
// take instead. An aid for asking the operator, whose word wins.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "catalogue/catalogue.hpp"
#include "day/scenario.hpp"
#include "kit/inventory.hpp"
#include "travel/share.hpp"

namespace tillwrap::travel {

// Packs alike in every respect that a rule asks about.
struct Item {
  const catalogue::PackKind* kind = nullptr;
  double rated_wh = 0.0;  // of one battery, label; of a whole set where the cells are loose
  bool in_device = false;
  std::vector<int> packs;                       // of the scenario
  std::vector<std::string> in;                  // device of each pack, when in one
  int pieces = 1;                               // batteries counted one by one in each pack
  double lithium_g = 0.0;                       // of one battery
  const catalogue::TravelRule* rule = nullptr;  // what decides
  const catalogue::TravelRule* bank = nullptr;  // when it is a power bank, or may be one
  bool bank_unclear = false;                    // may be one
  bool approval = false;
  [[nodiscard]] catalogue::TravelRule::Goes goes() const {
    return bank != nullptr && rule->goes == catalogue::TravelRule::Goes::cabin_or_hold ? bank->goes : rule->goes;
  }
  [[nodiscard]] bool in_baggage() const { return goes() != catalogue::TravelRule::Goes::cargo; }
};

// Pieces toward one limit.
struct Tally {
  const catalogue::TravelRule* limit = nullptr;
  int count = 0;
};

// What one person takes of an item.
struct Part {
  int item = 0;
  int pieces = 0;
};

// The rules read strictly (all that may count does) or narrowly (only what must).
struct Reading {
  bool strict = true;
  std::vector<Tally> tallies;
  int people_needed = 0;
  bool fits = false;                      // among the travellers given
  std::vector<std::vector<Part>> shares;  // [person], for as many as needed or given, whichever is more
};

enum class Instead {
  smaller_pack,  // `kind`, `count` of them, carry the same Wh
  plain_pack,    // the same without an output of its own
  dry_cells,     // cells no limit counts
  more_travellers,
  by_ground,
  rent_there,
};

struct Alternative {
  Instead what = Instead::by_ground;
  int item = -1;
  const catalogue::PackKind* kind = nullptr;
  int count = 0;
};

struct Answer {
  std::string date;
  int travellers = 1;
  bool dated = true;  // false: no rules for that day; first and last day they cover
  std::string first_day, last_day;
  std::vector<Item> items;
  std::vector<int> stays;  // packs that do not travel
  Reading strict, narrow;
  bool readings_differ = false;
  bool all_fly = false;        // everything in baggage, within the limits by the strict reading, by these travellers
  std::vector<int> approvals;  // items to ask the operator about
  std::vector<Alternative> alternatives;
  std::vector<const catalogue::TravelRule*> rules;  // used, and the notices of that day
};

struct Question {
  std::string date;  // ISO 8601
  int travellers = 1;
};

Answer answer(const day::Scenario& day, const kit::Inventory& inventory, const catalogue::Catalogue& catalogue,
              const Question& question);

// The rule that decides for one battery on a day; null when none covers it. `volts` nominal.
struct Battery {
  catalogue::TravelClass::Kind kind = catalogue::TravelClass::Kind::lithium_ion;
  bool in_device = false;
  double rated_wh = 0.0;
  double lithium_g = 0.0;
  double volts = 0.0;
};
const catalogue::TravelRule* rule_for(const std::vector<catalogue::TravelRule>& rules, const std::string& date,
                                      const Battery& battery);

}  // namespace tillwrap::travel
