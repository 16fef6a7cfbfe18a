// What the power sheet takes from the other answers: meters, readings, wiring, what helps.
#pragma once

#include <functional>
#include <optional>

#include "app/expendables_report.hpp"
#include "app/power_sheet.hpp"
#include "app/remedies.hpp"
#include "catalogue/catalogue.hpp"
#include "findings/findings.hpp"
#include "meters/meters.hpp"

namespace tillwrap::app {

struct SheetAnswers {
  const catalogue::Catalogue* catalogue = nullptr;
  meters::Answer meters;
  std::vector<findings::Finding> findings;
  std::vector<odds::ChangeOdds> changes;
  std::optional<RemedyAnswer> remedies;
  expendables::Answer expendables;
  int days = 1;  // like this one, over which expendables are counted
};

// What helps on the day when it slips: steps with nothing to buy, and what each gains.
struct Help {
  std::string words;
  double gained_s = 0.0;
};
std::vector<Help> helps(const RemedyAnswer& answer);

// `document` is what `file` was read from, with measured draws applied; without it no remedies are looked for.
SheetAnswers sheet_answers(const DayFile& file, const decode::Document* document, const catalogue::Catalogue& catalogue,
                           const odds::Each& each = odds::one_after_another);

ExpendablesReport expendables_of(const DayFile& file, const SheetAnswers& answers);

SheetParts sheet_parts(const ForecastReport& report, const SheetAnswers& answers);

}  // namespace tillwrap::app
