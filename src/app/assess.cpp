#include "app/assess.hpp"

#include <algorithm>

namespace tillwrap::app {

namespace {

constexpr std::uint32_t kDays = 512;  // the tenth percentile is then good to about a twentieth of a standard deviation
constexpr double kMeasuredLoad = 0.03;

}  // namespace

odds::OddsOptions odds_options(const DayFile& file, std::uint32_t days, std::uint64_t seed) {
  odds::OddsOptions options{.days = days, .seed = seed, .spread = file.spread};
  if (!file.measured.empty() && !file.own_load_spread) options.spread.load = kMeasuredLoad;
  return options;
}

void take_odds(const day::Scenario& day, const odds::OddsAnswer& odds, forecast::Forecast& forecast) {
  forecast.safe_s = std::min(day.off_s + odds.p10_s, forecast.stated_s);
  forecast.likely_s = day.off_s + odds.p50_s;
}

Assessment assess(DayFile& file, const forecast::ForecastOptions& options) {
  Assessment answer;
  answer.measured = apply_measured(file);
  answer.forecast = forecast::forecast(file.scenario, options);
  answer.odds = odds::odds(file.scenario, odds_options(file, kDays, 1));
  take_odds(file.scenario, answer.odds, answer.forecast);
  return answer;
}

}  // namespace tillwrap::app
