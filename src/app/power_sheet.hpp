// What the power sheet says, from computed answers.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/forecast_report.hpp"
#include "drawing/picture.hpp"
#include "sheet/calendar.hpp"
#include "sheet/sheet.hpp"

namespace tillwrap::app {

struct SheetParts {
  ForecastReport forecast;  // with a trace and odds
  const std::vector<odds::ChangeOdds>* changes = nullptr;
  std::optional<sheet::Table> meters;  // what to set
  std::vector<std::string> meter_lines;
  std::optional<sheet::Table> readings;    // expected, with blanks
  std::vector<std::string> slip_lines;     // what helps when it will not last
  std::vector<std::string> finding_lines;  // wiring: what stops the day or hurts
  std::optional<sheet::Section> fresh_cells;
  std::optional<drawing::Picture> wiring;
  std::vector<std::string> flight_lines;
};

sheet::Sheet power_sheet(const SheetParts& parts);

// What is printed leans on the plan so far: the end of the overrun, or the end of the day as stated where that is
// later.
double planned_to_s(const ForecastReport& report);

// Packs the plan uses until then, in the order of first use, and those it does not.
struct BringList {
  std::vector<int> used, home;
  std::vector<double> first_s;  // of each used
  double mass_kg = 0.0;         // of those used
};
BringList packs_to_bring(const ForecastReport& report);
bool built_in(const day::Scenario& day, int pack);
// What goes in after off until then.
std::vector<forecast::PlannedChange> changes_past_off(const ForecastReport& report);
std::string caution_words(const Wording& wording);
// What was computed, and from what.
std::string computed_from(const ForecastReport& report);

// Charging, with an alarm at each moment hands can reach the charger; changes, without alarms, when asked for.
// `stamp_utc` as in sheet::Calendar. Needs the day's date.
sheet::Calendar day_calendar(const SheetParts& parts, const std::string& date, const std::string& stamp_utc,
                             bool with_changes);

}  // namespace tillwrap::app
