// A forecast in words (80 columns), as JSON and as CSV. Pure: returns text.
#pragma once

#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "app/wording.hpp"
#include "forecast/forecast.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

struct ForecastReport {
  const DayFile* file = nullptr;
  const forecast::Forecast* forecast = nullptr;
  const std::vector<MeasuredOutcome>* measured = nullptr;
  const odds::OddsAnswer* odds = nullptr;
  const std::vector<odds::ChangeOdds>* changes = nullptr;  // for the text: those that may come too late
};

// For people give Wording(file.inventory.settings); JSON keeps the default.
std::string verdict_words(const ForecastReport& report, const Wording& words = {});  // one or two sentences
std::string odds_words(const odds::OddsAnswer& odds, const day::Scenario& day, const Wording& words = {});
std::string one_loss_words(const ForecastReport& report, const Wording& words = {});  // one sentence
// The first thing to fail, and why; empty when nothing does.
std::string loss_words(const ForecastReport& report, const Wording& words = {});

std::string forecast_text(const ForecastReport& report);
std::string forecast_json(const ForecastReport& report);  // schema/forecast.schema.json
std::string forecast_csv(const ForecastReport& report);   // RFC 4180; needs a trace

}  // namespace tillwrap::app
