// Chargers to get, said and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "app/charger_need.hpp"

namespace tillwrap::app {

// "2 x two-bay charger for ... (4 bays, about 580 USD, 1.4 kg)", or what else is so; empty where nothing is to be said.
std::string charger_words(const ChargerNeed& need, const Wording& wording);
nlohmann::ordered_json charger_json(const ChargerNeed& need, const kit::Settings& settings);
// How the hours were taken, for a foot, where [rest] does not say.
std::string charger_hours_words();

}  // namespace tillwrap::app
