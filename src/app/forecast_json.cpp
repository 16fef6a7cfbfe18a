#include <cmath>

#include "app/forecast_report.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double wh(double joules) { return joules / 3600.0; }

Json loss_json(const day::Scenario& day, const forecast::Loss& loss, const std::string& reason) {
  if (loss.device < 0) return nullptr;
  return {{"device", day.devices[at(loss.device)].name},
          {"at_s", loss.at_s},
          {"at", clock_words(loss.at_s)},
          {"cause", cause_key(loss.why.cause)},
          {"reason", reason}};
}

// What was changed, what each pack and each device did.
void put_lists(const day::Scenario& day, const forecast::DayRun& run, Json& out) {
  for (const forecast::Change& change : run.changes) {
    if (change.at_s >= day.off_s) continue;
    out["changes"].push_back({{"holder", day.holders[at(change.holder)].name},
                              {"out", day.packs[at(change.out_pack)].params.label},
                              {"in", day.packs[at(change.in_pack)].params.label},
                              {"at_s", change.at_s},
                              {"at", clock_words(change.at_s)}});
  }
  for (const forecast::Stint& stint : run.stints) {
    if (stint.in_s >= day.off_s) continue;
    const day::Holder& holder = day.holders[at(stint.holder)];
    Json item = {{"label", day.packs[at(stint.pack)].params.label},
                 {"holder", holder.name},
                 {"in_s", stint.in_s},
                 {"out_s", std::min(stint.out_s, day.off_s)},
                 {"start_charge", stint.start_charge},
                 {"end_charge", stint.end_charge}};
    if (holder.charger_supply >= 0) {
      item["charged_wh"] = wh(stint.charged_j);
      out["charging"].push_back(item);
      continue;
    }
    item["delivered_wh"] = wh(stint.delivered_j);
    item["coldest_c"] = stint.lowest_k - 273.15;
    item["lowest_v"] = stint.lowest_v < forecast::kNever ? Json(stint.lowest_v) : Json(nullptr);
    out["packs"].push_back(item);
  }
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    const forecast::DeviceUse& use = run.devices[d];
    const bool ran = use.lowest_v < forecast::kNever;
    out["devices"].push_back({{"name", day.devices[d].name},
                              {"energy_wh", wh(use.energy_j)},
                              {"lowest_v", ran ? Json(use.lowest_v) : Json(nullptr)},
                              {"lowest_at_s", ran ? Json(use.lowest_at_s) : Json(nullptr)},
                              {"off_s", use.off_s},
                              {"cable_drop_v", ran ? Json(use.cable_drop_v) : Json(nullptr)},
                              {"contact_drop_v", ran ? Json(use.contact_drop_v) : Json(nullptr)}});
  }
}

}  // namespace

Json one_loss_json(const day::Scenario& day, const forecast::OneLoss& one_loss, const std::string& sentence) {
  Json one;
  one["holds"] = one_loss.holds;
  one["worst"] = nullptr;
  one["sentence"] = sentence;
  one["cases"] = Json::array();
  for (const forecast::OneLossCase& c : one_loss.cases) {
    Json item = {{"pack", day.packs[at(c.pack)].params.label}, {"survives", c.survives}, {"margin_s", c.margin_s}};
    item["loss"] = loss_json(day, c.loss, cause_words(day, c.loss.why));
    if (one["worst"].is_null()) one["worst"] = item;
    one["cases"].push_back(item);
  }
  return one;
}

Json odds_summary(const odds::OddsAnswer& odds) {
  Json out = {{"days", odds.days},
              {"seed", odds.seed},
              {"probability", odds.probability},
              {"probability_with_overrun", odds.probability_with_overrun},
              {"probability_with_whole_overrun", odds.probability_with_whole_overrun},
              {"margin_s", {{"p10", odds.p10_s}, {"p50", odds.p50_s}, {"p90", odds.p90_s}}}};
  out["drivers"] = Json::array();
  for (const odds::Driver& driver : odds.drivers) {
    out["drivers"].push_back({{"name", driver.name}, {"share", driver.share}});
  }
  return out;
}

namespace {

Json account_json(const forecast::Account& a) {
  return {{"drawn_wh", wh(a.drawn_j)},       {"devices_wh", wh(a.devices_j)},       {"cables_wh", wh(a.cables_j)},
          {"contacts_wh", wh(a.contacts_j)}, {"converters_wh", wh(a.converters_j)}, {"cells_wh", wh(a.cells_j)},
          {"imbalance", a.imbalance()}};
}

}  // namespace

Json forecast_object(const ForecastReport& report, bool loss_only) {
  const day::Scenario& day = report.file->scenario;
  const forecast::Forecast& f = *report.forecast;
  Json out;
  out["format"] = "tillwrap-forecast-1";
  out["title"] = day.title;
  out["verdict"] = verdict_words(report);
  out["reaches_wrap"] = f.reaches_wrap;
  out["margin_s"] = f.margin_s;
  out["margin_is_least"] = f.margin_is_least;
  out["call_s"] = day.call_s;
  out["wrap_s"] = day.wrap_s;
  out["off_s"] = day.off_s;
  out["safe_to_s"] = f.safe_s;
  out["likely_s"] = f.likely_s;
  out["stated_s"] = f.stated_s;

  out["one_loss"] = one_loss_json(day, f.one_loss, one_loss_words(report));
  out["first_loss"] = loss_json(day, f.run.first_loss, loss_words(report));

  for (const char* list : {"changes", "packs", "charging", "devices"}) out[list] = Json::array();
  if (!loss_only) put_lists(day, f.run, out);
  out["account"] = loss_only ? Json(nullptr) : account_json(f.run.account);
  out["odds"] = report.odds != nullptr ? odds_summary(*report.odds) : Json(nullptr);
  out["warnings"] = Json::array();
  for (const Warning& warning : report.file->warnings) {
    out["warnings"].push_back({{"line", warning.place.line}, {"column", warning.place.column}, {"text", warning.text}});
  }
  return out;
}

std::string forecast_json(const ForecastReport& report) { return forecast_object(report).dump(2) + "\n"; }

}  // namespace tillwrap::app
