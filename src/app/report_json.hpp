// Pieces of JSON that several answers share.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "app/forecast_report.hpp"
#include "forecast/forecast.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

using Json = nlohmann::ordered_json;

// schema/forecast.schema.json. Of a run for the first loss alone (`loss_only`) changes, packs, charging and
// devices are empty and the account is null.
Json forecast_object(const ForecastReport& report, bool loss_only = false);
Json odds_summary(const odds::OddsAnswer& odds);
// "one_loss" of a forecast: holds, worst, sentence, cases.
Json one_loss_json(const day::Scenario& day, const forecast::OneLoss& one_loss, const std::string& sentence);

// amount, currency, guess (true: with the catalogue's), guess_usd: guesses besides, where the user's currency is
// another one, else null.
Json money_json(const Money& money, const kit::Settings& settings);

}  // namespace tillwrap::app
