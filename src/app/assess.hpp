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

// "Safe to" from the odds: one day in ten ends earlier; never later than the likely end.
void take_safe_from(const day::Scenario& day, const odds::OddsAnswer& odds, forecast::Forecast& forecast);

Assessment assess(DayFile& file, const forecast::ForecastOptions& options);

}  // namespace tillwrap::app
