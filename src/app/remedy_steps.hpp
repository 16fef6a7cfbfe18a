// Everything that could be done about a day: each step as a change to the day file, with what it asks for.
#pragma once

#include <string>
#include <vector>

#include "app/day_edit.hpp"
#include "app/wording.hpp"
#include "remedies/remedies.hpp"

namespace tillwrap::app {

struct RemedyStep {
  std::string kind;   // key of JSON: "switch_off", "reduce", "phantom", "cable", ...
  std::string words;  // "switch monitor off"
  std::string note;   // what is taken for granted; may be empty
  DayChange change;
  remedies::Cost cost;  // without money
  Money money;  // of packs and parts; gear and chargers are counted where steps come together (remedy_taken.hpp)
  const catalogue::PackKind* fills = nullptr;  // packs it adds, which have to be full again by the next call
};

// The day as it is, computed.
struct RemedyBase {
  const decode::Document* document = nullptr;
  const DayFile* file = nullptr;                 // measured draws applied
  const forecast::Forecast* forecast = nullptr;  // one-loss not needed
  const catalogue::Catalogue* catalogue = nullptr;
  // What shares wires, packs or warmth with something that must run; the rest cannot change the answer.
  std::vector<char> holder_matters;
  std::vector<char> device_matters;
};

RemedyBase remedy_base(const decode::Document& document, const DayFile& file, const forecast::Forecast& forecast,
                       const catalogue::Catalogue& catalogue);

std::vector<RemedyStep> remedy_steps(const RemedyBase& base);

// The parts of it, one file each; they append.
void load_steps(const RemedyBase& base, std::vector<RemedyStep>& steps);    // less load, less loss on the way
void pack_steps(const RemedyBase& base, std::vector<RemedyStep>& steps);    // more, newer, warmer packs
void time_steps(const RemedyBase& base, std::vector<RemedyStep>& steps);    // changes, windows, charging, mains
void wiring_steps(const RemedyBase& base, std::vector<RemedyStep>& steps);  // other feeds

}  // namespace tillwrap::app
