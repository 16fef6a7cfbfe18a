// The use case behind `tillwrap compare`: ways of feeding what one holder feeds, on the same day, side by side.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/charger_need.hpp"
#include "app/day_feed.hpp"
#include "app/gear.hpp"
#include "app/remedies.hpp"
#include "app/wording.hpp"
#include "compare/compare.hpp"

namespace tillwrap::app {

// One way, ready to be built with any number of packs.
struct CompareOption {
  std::string name;
  std::string how;  // how it gets into the bag
  const catalogue::PackKind* pack = nullptr;
  const catalogue::HolderKind* holder_kind = nullptr;
  const catalogue::BoxKind* box = nullptr;  // null: the box stays
  double health = 1.0;
  Money price;             // of one pack
  std::vector<Gear> gear;  // it takes besides and the day has not
  int count = 0;           // packs carried; 0: as many as the day needs
  bool now = false;        // what the day has
  bool locks = false;
  bool adapter = false;
  std::vector<std::string> holders;  // it sits in
  // The day with so many packs; throws NotPossible, decode::InputError.
  std::function<DayFile(int packs)> day;
  day::Scenario build(int packs) const { return day(packs).scenario; }
};

struct LeftOut {
  std::string name;
  std::string why;
};

struct CompareRow {
  CompareOption option;
  compare::Serving serving;
  compare::Need need;
  std::vector<std::string> dark;        // while a pack is changed
  double mass_kg = 0.0;                 // packs carried
  std::optional<ChargerNeed> chargers;  // so that they are full again by the next call; nothing: they are not charged
  Money buy;
  Money a_day;
  bool disposable = false;
  bool cycles_known = false;
  std::string failed;  // what kept the forecast from being computed
};

struct CompareOptions {
  std::string holder;                              // empty: the one that gives most energy
  const decode::Document* options_file = nullptr;  // named options instead of the catalogue's packs
  int days = 100;                                  // over which money is counted
  std::uint32_t drawn_days = 128;
  std::uint64_t seed = 1;
  bool left_out_too = false;
};

struct CompareAnswer {
  std::string holder;
  std::vector<std::string> devices;  // that must run and are fed by it
  std::vector<CompareRow> rows;      // best first
  std::vector<LeftOut> left_out;
};

// Options that make the day come first, with fewest changes, then least money a day; then those that do not, longest
// first. Throws decode::InputError.
CompareAnswer compare_options(const decode::Document& document, const DayFile& file,
                              const catalogue::Catalogue& catalogue, const CompareOptions& options,
                              const odds::Each& each);

// compare_read.cpp: the options of a file, each mated with the holder or refused with its place.
std::vector<CompareOption> read_options(const decode::Document& options, const decode::Document& document,
                                        const DayFile& file, const catalogue::Catalogue& catalogue, int holder);
// compare_read.cpp: every pack kind of the catalogue that fits, directly or through a lead.
std::vector<CompareOption> catalogue_options(const decode::Document& document, const DayFile& file,
                                             const catalogue::Catalogue& catalogue, int holder,
                                             std::vector<LeftOut>& left_out);

}  // namespace tillwrap::app
