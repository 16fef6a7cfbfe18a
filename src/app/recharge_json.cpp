#include <algorithm>

#include "app/recharge_report.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"
#include "drawing/picture.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

Json or_null(double value) { return value < recharge::kNoLimit ? Json(value) : Json(nullptr); }

const char* why_key(recharge::Why why) {
  switch (why) {
    case recharge::Why::ready:
      return "ready";
    case recharge::Why::time:
      return "time";
    case recharge::Why::no_charger:
      return "no_charger";
    case recharge::Why::too_cold:
      return "too_cold";
    case recharge::Why::too_hot:
      return "too_hot";
    case recharge::Why::not_chargeable:
      return "not_chargeable";
  }
  return "";
}

const char* help_key(recharge::Help::Kind kind) {
  switch (kind) {
    case recharge::Help::Kind::bay:
      return "bay";
    case recharge::Help::Kind::charger:
      return "charger";
    case recharge::Help::Kind::earlier:
      return "earlier";
    case recharge::Help::Kind::later:
      return "later";
    case recharge::Help::Kind::get_up:
      return "get_up";
    case recharge::Help::Kind::asleep:
      return "asleep";
    case recharge::Help::Kind::warmth:
      return "warmth";
    case recharge::Help::Kind::watts:
      return "watts";
  }
  return "";
}

Json cost_json(const recharge::Cost& cost) {
  return {{"not_ready", cost[recharge::not_ready]},
          {"short_needed_wh", 0.1 * static_cast<double>(cost[recharge::short_needed])},
          {"get_ups", cost[recharge::get_ups]},
          {"short_others_wh", 0.1 * static_cast<double>(cost[recharge::short_others])},
          {"asleep_minutes", static_cast<double>(cost[recharge::asleep_s]) / 60.0},
          {"put_ins", cost[recharge::put_ins]},
          {"full_minutes", cost[recharge::full_minutes]}};
}

Json spans_json(const std::vector<day::Span>& spans) {
  Json out = Json::array();
  for (const day::Span& span : spans) out.push_back({{"from_s", span.from_s}, {"until_s", span.until_s}});
  return out;
}

}  // namespace

Json recharge_object(const RechargeAnswer& answer) {
  const recharge::Night& night = answer.night;
  const recharge::Answer& found = answer.answer;
  Json out = {{"format", "tillwrap-recharge-1"},
              {"title", answer.file.scenario.title},
              {"from_s", night.from_s},
              {"from", clock_words(night.from_s)},
              {"until_s", night.until_s},
              {"until", clock_words(night.until_s)},
              {"verdict", recharge_verdict(answer)},
              {"needed", found.needed},
              {"needed_ready", found.needed_ready},
              {"proven_best", found.plan.complete},
              {"cost", cost_json(found.plan.cost)},
              {"bound", cost_json(found.plan.bound)},
              {"get_up_s", found.plan.get_up_s},
              {"there", spans_json(night.there)},
              {"asleep", spans_json(night.asleep)}};
  out["packs"] = Json::array();
  for (std::size_t b = 0; b < night.batteries.size(); ++b) {
    const recharge::Outcome& outcome = found.outcomes[b];
    out["packs"].push_back(
        {{"label", answer.file.scenario.packs[at(answer.pack_of[b])].params.label},
         {"needed", night.batteries[b].rank >= 0},
         {"left", night.batteries[b].charge},
         {"wanted", night.batteries[b].wanted},
         {"charge", outcome.charge},
         {"ready", outcome.ready},
         {"ready_at_s", or_null(outcome.ready ? std::max(outcome.ready_s, night.from_s) : recharge::kNoLimit)},
         {"why", why_key(outcome.why)},
         {"alone_s", or_null(outcome.alone_s)},
         {"warm_at_s", outcome.warm_s > night.from_s ? Json(outcome.warm_s) : Json(nullptr)}});
  }
  out["stays"] = Json::array();
  for (const recharge::Stay& stay : found.stays) {
    Json rows = Json::array();
    for (const recharge::Row& row : stay.rows) rows.push_back({row.at_s, row.charge});
    out["stays"].push_back({{"label", stay_label(answer, stay)},
                            {"pack", answer.file.scenario.packs[at(answer.pack_of[at(stay.battery)])].params.label},
                            {"cells", stay.cells},
                            {"charger", night.chargers[at(stay.charger)].name},
                            {"bay", stay.first_bay + 1},
                            {"bays", stay.bays},
                            {"in_s", stay.in_s},
                            {"out_s", stay.out_s},
                            {"full_s", or_null(stay.full_s)},
                            {"start_charge", stay.start_charge},
                            {"end_charge", stay.end_charge},
                            {"warming_s", stay.warming_s},
                            {"put_in_ah", stay.put_in_as / 3600.0},
                            {"stored_ah", stay.stored_as / 3600.0},
                            {"put_in_wh", stay.put_in_j / 3600.0},
                            {"stored_wh", stay.stored_j / 3600.0},
                            {"taken_wh", stay.taken_j / 3600.0},
                            {"curve", rows}});
  }
  out["chargers"] = Json::array();
  for (const recharge::Charger& charger : night.chargers) {
    out["chargers"].push_back({{"name", charger.name},
                               {"bays", charger.bays},
                               {"air_c", charger.surround_k - 273.15},
                               {"live", spans_json(charger.live)}});
  }
  out["help"] = Json::array();
  for (const recharge::Help& help : answer.help) {
    out["help"].push_back({{"kind", help_key(help.kind)},
                           {"charger", help.charger < 0 ? Json(nullptr) : Json(night.chargers[at(help.charger)].name)},
                           {"count", help.count},
                           {"seconds", help.seconds},
                           {"ready", help.ready},
                           {"all", help.all}});
  }
  out["fresh"] = answer.fresh;
  out["again_reaches"] = answer.again_reaches ? Json(*answer.again_reaches) : Json(nullptr);
  out["again_margin_s"] = answer.again_reaches ? Json(answer.again_margin_s) : Json(nullptr);
  out["reasons"] = recharge_reasons(answer);
  out["cautions"] = recharge_cautions(answer);
  return out;
}

std::string recharge_json(const RechargeAnswer& answer) { return recharge_object(answer).dump(2) + "\n"; }

}  // namespace tillwrap::app
