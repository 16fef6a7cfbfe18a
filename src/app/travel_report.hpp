// `tillwrap travel`: may this kit fly, in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "app/day_file.hpp"
#include "travel/travel.hpp"

namespace tillwrap::app {

// Throws decode::InputError: a date that is none or that no rule covers, packs that cannot be in a device together, a
// kit without packs.
travel::Answer travel_answer(const DayFile& file, const catalogue::Catalogue& catalogue, const std::string& date,
                             int travellers);

struct TravelReport {
  const DayFile* file = nullptr;
  const travel::Answer* answer = nullptr;
};

std::string travel_text(const TravelReport& report);
std::string travel_json(const TravelReport& report);  // schema/travel.schema.json
nlohmann::ordered_json travel_object(const TravelReport& report);

// The sentence to send the operator about one item.
std::string approval_sentence(const TravelReport& report, int item);
// One alternative in a sentence.
std::string alternative_sentence(const TravelReport& report, const travel::Alternative& alternative);

}  // namespace tillwrap::app
