// `tillwrap expendables`: fresh cells a day and a run of days, disposable against rechargeable.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "app/day_file.hpp"
#include "app/wording.hpp"
#include "expendables/expendables.hpp"
#include "sheet/sheet.hpp"

namespace tillwrap::app {

struct ExpendablesReport {
  const DayFile* file = nullptr;
  const catalogue::Catalogue* catalogue = nullptr;
  const expendables::Answer* answer = nullptr;
  int days = 1;
};

// What an option costs and throws away over the run. Disposable: every day's cells. Rechargeable: one stock of a day's
// cells (overrun included) bought once; its cells wear out by cycles. Chargers are not priced.
struct RunCost {
  Money money;
  double cells_thrown = 0.0;
  double mass_thrown_kg = 0.0;
  int cells_bought = 0;
};
RunCost run_cost(const ExpendablesReport& report, const expendables::Option& option);
// First day on which the stock of rechargeable cells has cost less than disposables; 0: never, or not comparable.
int pays_off_after_days(const ExpendablesReport& report, const expendables::Option& rechargeable,
                        const expendables::Option& disposable);

// What a holder's cells are for: the device they feed, or the holder where that is not one.
std::string fed_words(const ExpendablesReport& report, const expendables::Use& use);
// "nickel AA, low self-discharge" for "2 x nickel AA, low self-discharge"; the standard's name in brackets left out.
std::string cell_words(const catalogue::PackKind& kind);
// Fresh cells that go in at such a moment, of one holder or, below 0, of all.
int cells_at(const ExpendablesReport& report, int holder, expendables::Moment moment);

// For the power sheet: how many fresh cells go in when, what they cost, and rechargeable ones instead. Nothing where no
// cells are thrown away.
std::optional<sheet::Section> expendables_section(const ExpendablesReport& report);

std::string expendables_text(const ExpendablesReport& report);
std::string expendables_json(const ExpendablesReport& report);  // schema/expendables.schema.json
nlohmann::ordered_json expendables_object(const ExpendablesReport& report);

}  // namespace tillwrap::app
