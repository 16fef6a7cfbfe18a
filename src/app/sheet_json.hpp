// The power sheet as data: its sections as printed, and the answers they are taken from as their own commands give
// them.
#pragma once

#include "app/power_sheet.hpp"
#include "app/report_json.hpp"
#include "app/sheet_answers.hpp"

namespace tillwrap::app {

// schema/sheet.schema.json. `sheet` is power_sheet(parts), `parts` are of `answers`.
Json sheet_object(const SheetParts& parts, const SheetAnswers& answers, const sheet::Sheet& sheet);

}  // namespace tillwrap::app
