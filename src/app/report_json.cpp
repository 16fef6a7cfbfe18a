#include "app/report_json.hpp"

namespace tillwrap::app {

Json money_json(const Money& money, const kit::Settings& settings) {
  const bool one_currency = settings.currency == "USD";
  if (money.has_guess && (!money.has_own || one_currency))
    return {{"amount", money.own + money.guess_usd}, {"currency", "USD"}, {"guess", true}, {"guess_usd", nullptr}};
  return {{"amount", money.own},
          {"currency", settings.currency},
          {"guess", false},
          {"guess_usd", money.has_guess ? Json(money.guess_usd) : Json(nullptr)}};
}

}  // namespace tillwrap::app
