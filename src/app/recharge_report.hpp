// What recharge says: text, JSON, a picture of the night, a calendar.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/recharge_day.hpp"
#include "drawing/picture.hpp"
#include "sheet/calendar.hpp"

namespace tillwrap::app {

std::string recharge_text(const RechargeAnswer& answer);
std::string recharge_json(const RechargeAnswer& answer);  // schema/recharge.schema.json
nlohmann::ordered_json recharge_object(const RechargeAnswer& answer);
// Hours to the right, a row a bay; each pack a bar that fills.
drawing::Picture recharge_picture(const RechargeAnswer& answer);
// Swaps with an alarm; getting up too. `first_date` is the day's.
sheet::Calendar recharge_calendar(const RechargeAnswer& answer, const std::string& first_date,
                                  const std::string& stamp_utc);

// Pieces the reports share.
std::string recharge_verdict(const RechargeAnswer& answer);
std::vector<std::string> recharge_reasons(const RechargeAnswer& answer);  // not ready and why, help, proof
// Stretches in which chargers with something in them have to be off, nobody being there.
struct RechargePause {
  double from_s = 0.0;
  double until_s = 0.0;
  std::vector<int> chargers{};
};
std::vector<RechargePause> recharge_pauses(const RechargeAnswer& answer);
std::string pause_words(const RechargeAnswer& answer, const RechargePause& pause);
std::vector<std::string> recharge_cautions(const RechargeAnswer& answer);
std::string stay_label(const RechargeAnswer& answer, const recharge::Stay& stay);  // "C1", "tray NiMH cells 1-4"
std::string bay_label(const RechargeAnswer& answer, const recharge::Stay& stay);   // "charger bay 1"

}  // namespace tillwrap::app
