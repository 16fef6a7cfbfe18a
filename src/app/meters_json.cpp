#include "app/meters_report.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double wh(double joules) { return joules / 3600.0; }

const char* key(meters::Guide guide) {
  switch (guide) {
    case meters::Guide::volts:
      return "volts";
    case meters::Guide::clock_then_volts:
      return "clock_then_volts";
    case meters::Guide::clock:
      break;
  }
  return "clock";
}

const char* key(meters::Timing timing) {
  switch (timing) {
    case meters::Timing::early:
      return "early";
    case meters::Timing::late:
      return "late";
    case meters::Timing::fine:
      break;
  }
  return "fine";
}

const char* key(meters::Moment moment) {
  switch (moment) {
    case meters::Moment::period:
      return "period";
    case meters::Moment::before_change:
      return "before_change";
    case meters::Moment::after_change:
      return "after_change";
    case meters::Moment::before_off:
      return "before_off";
    case meters::Moment::hour:
      break;
  }
  return "hour";
}

Json band(const meters::Band& band) { return {{"expected", band.expected}, {"low", band.low}, {"high", band.high}}; }

Json worth(const meters::Worth& worth) { return {{"clock_s", worth.clock_s}, {"volts_s", worth.volts_s}}; }

template <typename T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json profile_json(const meters::ProfileVerdict& verdict) {
  return {{"id", verdict.profile.id},
          {"title", verdict.profile.title},
          {"full_v", verdict.profile.scale.full_v()},
          {"warn_v", verdict.profile.scale.warn_v},
          {"empty_v", verdict.profile.scale.empty_v()},
          {"reads", {{"full", verdict.full}, {"half", verdict.half}, {"near_end", verdict.near_end}}},
          {"error", verdict.error},
          {"warns_s", verdict.warns_s},
          {"empty_left_wh", wh(verdict.empty_left_j)},
          {"timing", key(verdict.timing)}};
}

}  // namespace

Json meters_object(const MetersReport& report) {
  const day::Scenario& day = report.file->scenario;
  const kit::Inventory& inventory = report.file->inventory;
  Json out;
  out["format"] = "tillwrap-meters-1";
  out["title"] = day.title;
  out["meters"] = Json::array();
  for (const meters::DeviceMeter& meter : report.answer->meters) {
    const meters::Feed& feed = meter.feed;
    const day::Device& device = day.devices[at(feed.device)];
    Json one;
    one["device"] = device.name;
    one["holder"] = day.holders[at(feed.holder)].name;
    one["beside"] = Json::array();
    for (const int h : feed.companions) one["beside"].push_back(day.holders[at(h)].name);
    one["pack_kind"] = inventory.packs[at(feed.pack)].kind->id;
    one["pack"] = day.packs[at(feed.pack)].params.label;
    one["packs"] = Json::array();
    for (const int pack : feed.packs) one["packs"].push_back(day.packs[at(pack)].params.label);
    one["period"] = day.periods[at(feed.period)].name;
    one["gives_wh"] = wh(feed.delivered_j);
    one["lasts_s"] = {
        {"expected", meter.discharge.curve.end_s()}, {"low", meter.low_end_s}, {"high", meter.high_end_s}};
    one["usable_wh"] = wh(meter.discharge.curve.usable_j);
    one["source_w"] = meter.discharge.source_w;
    one["ended"] = cause_key(meter.discharge.ended);
    one["wasted_wh"] = wh(meter.discharge.wasted_j);
    one["guide"] = key(meter.guidance.guide);
    one["flat"] = meter.flat;
    one["volts_below"] = meter.guidance.volts_below;
    one["worth_half"] = worth(meter.guidance.half);
    one["worth_warning"] = worth(meter.guidance.warning);
    one["own_list"] = meter.list_known;
    one["profile"] = meter.fits() ? Json(meter.profiles.front().profile.id) : Json(nullptr);
    const std::string why = profile_why(meter);
    one["why"] = why.empty() ? Json(nullptr) : Json(why);
    one["profiles"] = Json::array();
    for (const meters::ProfileVerdict& verdict : meter.profiles) one["profiles"].push_back(profile_json(verdict));
    one["set"] = meter.set.empty() ? Json(nullptr) : Json(meter.set);
    one["set_right"] = meter.set.empty() || !meter.fits() ? Json(nullptr) : Json(meter.set_index == 0);
    const meters::VoltsToSet& volts = meter.volts;
    one["volts"] = {{"warn_v", volts.warns ? Json(volts.warn_v) : Json(nullptr)},
                    {"warn_left", volts.warn_left},
                    {"warn_left_s", volts.warn_left_s},
                    {"change_v", volts.warns ? Json(volts.change_v) : Json(nullptr)},
                    {"cutoff_v", volts.cutoff_v},
                    {"own_cutoff_v", volts.own_cutoff_v},
                    {"guards", volts.guards},
                    {"trip_v", volts.trip_v > 0.0 ? Json(volts.trip_v) : Json(nullptr)}};
    out["meters"].push_back(std::move(one));
  }
  out["readings"] = Json::array();
  for (const meters::ReadingList& list : report.answer->readings) {
    if (list.device < 0) continue;
    Json rows = Json::array();
    for (const meters::Reading& row : list.rows) {
      rows.push_back({{"at_s", row.at_s},
                      {"at", clock_words(row.at_s)},
                      {"moment", key(row.moment)},
                      {"pack", day.packs[at(row.pack)].params.label},
                      {"volts_v", band(row.volts)},
                      {"gauge", row.gauge ? band(*row.gauge) : Json(nullptr)},
                      {"amps_a", band(row.amps)},
                      {"until_s", row.until_s},
                      {"early_v", or_null(row.early_v)},
                      {"early_gauge", or_null(row.early_gauge)}});
    }
    out["readings"].push_back({{"device", day.devices[at(list.device)].name},
                               {"holder", day.holders[at(list.holder)].name},
                               {"rows", std::move(rows)}});
  }
  return out;
}

std::string meters_json(const MetersReport& report) { return meters_object(report).dump(2) + "\n"; }

}  // namespace tillwrap::app
