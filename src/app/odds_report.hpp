// `tillwrap odds` in words and as JSON.
#pragma once

#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "forecast/forecast.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

struct OddsReport {
  const DayFile* file = nullptr;
  const odds::OddsOptions* options = nullptr;
  const odds::OddsAnswer* odds = nullptr;
  const std::vector<odds::ChangeOdds>* changes = nullptr;
  const forecast::Forecast* forecast = nullptr;  // for one-loss
};

std::string odds_text(const OddsReport& report);
std::string odds_json(const OddsReport& report);  // schema/odds.schema.json

}  // namespace tillwrap::app
