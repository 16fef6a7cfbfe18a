// The whole use case behind `tillwrap forecast`: measured draws, the forecast, and odds enough for "safe to".
#pragma once

#include <cstdint>
#include <vector>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "forecast/forecast.hpp"
#include "odds/odds.hpp"

namespace tillwrap::app {

struct Assessment {
  std::vector<MeasuredOutcome> measured;
  forecast::Forecast forecast;
  odds::OddsAnswer odds;
};

// Odds options of a day file: its spread; a measured draw narrows the load's to 3 % unless the file says otherwise.
odds::OddsOptions odds_options(const DayFile& file, std::uint32_t days, std::uint64_t seed);

// "Safe to" and "likely" from the odds: one day in ten, every other day ends earlier. "Safe to" is never later than the
// day as stated lasts.
void take_odds(const day::Scenario& day, const odds::OddsAnswer& odds, forecast::Forecast& forecast);

Assessment assess(DayFile& file, const forecast::ForecastOptions& options);

}  // namespace tillwrap::app
