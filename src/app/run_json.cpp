#include "app/forecast_report.hpp"
#include "app/recharge_report.hpp"
#include "app/report_json.hpp"
#include "app/run_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {
std::size_t at(int i) { return static_cast<std::size_t>(i); }
}  // namespace

Json run_object(const RunAnswer& answer) {
  Json out = {{"format", "tillwrap-run-1"},
              {"title", answer.run.title},
              {"first_failure", answer.first_failure < 0 ? Json(nullptr) : Json(answer.first_failure + 1)},
              {"reasons", run_reasons(answer)}};
  out["days"] = Json::array();
  for (std::size_t i = 0; i < answer.days.size(); ++i) {
    const DayOfRun& day = answer.days[i];
    const forecast::Forecast& f = day.forecast;
    const RunDay& said = answer.run.days[i];
    Json one = {{"file", said.file},
                {"date", said.date       ? Json(*said.date)
                         : day.file.date ? Json(*day.file.date)
                                         : Json(nullptr)},
                {"place", said.where},
                {"reaches_wrap", f.reaches_wrap},
                {"margin_s", f.margin_s},
                {"margin_is_least", f.margin_is_least},
                {"failure", f.reaches_wrap ? Json(nullptr) : Json(loss_words({.file = &day.file, .forecast = &f}))},
                {"chosen", day.chosen.empty() ? Json(nullptr) : Json(day.chosen)},
                {"fresh_cells", day.fresh_cells}};
    one["packs"] = Json::array();
    for (const PackDay& pack : day.packs) {
      one["packs"].push_back({{"label", pack.label},
                              {"rechargeable", day::rechargeable(day.file.scenario.packs[at(pack.pack)])},
                              {"used", pack.used},
                              {"at_call", pack.at_call},
                              {"at_off", pack.at_off},
                              {"after_rest", pack.after_rest},
                              {"lost_lying", pack.lost_lying},
                              {"drawn_ah", pack.drawn_ah},
                              {"put_in_ah", pack.put_in_ah},
                              {"stored_ah", pack.stored_ah}});
    }
    one["rest"] = nullptr;
    if (day.rest) {
      const recharge::Answer& rest = day.rest->answer;
      one["rest"] = {{"from_s", day.rest->night.from_s},
                     {"until_s", day.rest->night.until_s},
                     {"needed", rest.needed},
                     {"needed_ready", rest.needed_ready},
                     {"proven_best", rest.plan.complete},
                     {"get_up_s", rest.plan.get_up_s},
                     {"verdict", recharge_verdict(*day.rest)}};
    }
    out["days"].push_back(std::move(one));
  }
  out["packs"] = Json::array();
  for (const PackOfRun& pack : answer.packs) {
    out["packs"].push_back({{"label", pack.label},
                            {"kind", pack.kind},
                            {"capacity_ah", pack.capacity_ah},
                            {"drawn_ah", pack.drawn_ah},
                            {"cycles", pack.cycles},
                            {"days_used", pack.days_used},
                            {"health_before", pack.health_before},
                            {"health", pack.health}});
  }
  out["journal"] = nullptr;
  if (answer.journal) {
    out["journal"] = Json::array();
    const auto or_null = [](const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); };
    for (const JournalPack& pack : answer.journal->packs)
      out["journal"].push_back({{"label", pack.label},
                                {"charge", or_null(pack.charge)},
                                {"capacity", or_null(pack.capacity)},
                                {"resistance", or_null(pack.resistance)}});
  }
  out["additions"] = Json::array();
  for (const Addition& one : answer.additions) {
    out["additions"].push_back({{"pack_kind", one.packs > 0 ? Json(one.pack_kind) : Json(nullptr)},
                                {"packs", one.packs},
                                {"charger", one.bays > 0 ? Json(one.charger) : Json(nullptr)},
                                {"bays", one.bays}});
  }
  out["uneven_cycles"] = answer.evenness;
  out["cautions"] = run_cautions(answer);
  return out;
}

std::string run_json(const RunAnswer& answer) { return run_object(answer).dump(2) + "\n"; }

}  // namespace tillwrap::app
