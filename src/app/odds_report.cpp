#include "app/odds_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/changes_json.hpp"
#include "app/forecast_report.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;
constexpr double kWorthSaying_s = 300.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

ForecastReport forecast_report(const OddsReport& report) { return {.file = report.file, .forecast = report.forecast}; }

}  // namespace

std::string odds_text(const OddsReport& report) {
  const day::Scenario& day = report.file->scenario;
  const odds::OddsAnswer& odds = *report.odds;
  const odds::Spread& spread = report.options->spread;
  const Wording wording(report.file->inventory.settings);
  std::string text = day.title.empty() ? std::string() : day.title + "\n";
  text += wrapped(fmt::format("Safe to {}, likely {}; off at {}.", wording.clock(day.off_s + odds.p10_s),
                              wording.clock(day.off_s + odds.p50_s), wording.clock(day.off_s)),
                  kWidth, "") +
          "\n";
  const forecast::Forecast& as_stated = *report.forecast;
  if (!as_stated.margin_is_least && std::fabs(as_stated.stated_s - day.off_s - odds.p50_s) > kWorthSaying_s)
    text += wrapped(fmt::format("With everything exactly as stated it lasts to {}, as the forecast says.",
                                wording.clock(as_stated.stated_s)),
                    kWidth, "") +
            "\n";
  text += wrapped(odds_words(odds, day, wording), kWidth, "") + "\n";
  text += wrapped(one_loss_words(forecast_report(report), wording), kWidth, "") + "\n";
  text += "\nWHERE THE DOUBT COMES FROM\n";
  const auto spread_words = [&](const std::string& name) -> std::string {
    if (name == "load") return fmt::format("\u00b1 {:.3g} %", 100.0 * spread.load);
    if (name == "capacity") return fmt::format("\u00b1 {:.3g} %", 100.0 * spread.capacity);
    if (name == "resistance") return fmt::format("\u00b1 {:.3g} %", 100.0 * spread.resistance);
    if (name == "start charge") return fmt::format("some {:.3g} % short", 100.0 * spread.start_charge);
    if (name == "air temperature") return "\u00b1 " + wording.temperature_difference(spread.air_k);
    return fmt::format("\u00b1 {:.3g} % of its loss", 100.0 * spread.bag);
  };
  double named = 0.0;
  for (const odds::Driver& driver : odds.drivers) {
    named += driver.share;
    text += fmt::format("  {} {} {}\n", padded(driver.name, 18), padded(spread_words(driver.name), 18),
                        right_padded_left(share_words(driver.share), 7));
  }
  text +=
      fmt::format("  {} {}\n", padded("single devices, single packs, mix", 37),
                  right_padded_left(share_words(odds.p90_s > odds.p10_s ? std::clamp(1.0 - named, 0.0, 1.0) : 0.0), 7));
  if (report.changes != nullptr && !report.changes->empty()) {
    text += "\nCHANGES\n";
    text += fmt::format("  {} {} {} {} {}\n", padded("planned", wording.clock_columns()), padded("holder", 20),
                        padded("out", 18), padded("safe to", wording.clock_columns() + 1), "likely");
    for (const odds::ChangeOdds& change : *report.changes) {
      text += fmt::format(
          "  {} {} {} {} {}\n", padded(wording.clock(change.planned_s), wording.clock_columns()),
          padded(day.holders[at(change.holder)].name, 20), padded(day.packs[at(change.out_pack)].params.label, 18),
          padded(wording.clock(change.safe_s), wording.clock_columns() + 1), wording.clock(change.likely_s));
    }
    for (const std::string& words : change_warnings(day, *report.changes, wording))
      text += "  " + wrapped(words, kWidth - 2, "  ") + "\n";
  }
  text += "\n" +
          wrapped(fmt::format("{} days, seed {}. Nine days in ten last to \"safe to\", every other to \"likely\".",
                              odds.days, odds.seed),
                  kWidth, "") +
          "\n";
  return text;
}

std::string odds_json(const OddsReport& report) {
  const day::Scenario& day = report.file->scenario;
  const odds::Spread& spread = report.options->spread;
  Json out;
  out["format"] = "tillwrap-odds-1";
  out["title"] = day.title;
  const Json summary = odds_summary(*report.odds);
  for (const auto& [key, value] : summary.items()) out[key] = value;
  out["off_s"] = day.off_s;
  out["overrun_s"] = day.overrun_s;
  out["safe_to_s"] = day.off_s + report.odds->p10_s;
  out["likely_s"] = day.off_s + report.odds->p50_s;
  out["one_loss"] = one_loss_json(day, report.forecast->one_loss, one_loss_words(forecast_report(report)));
  out["changes"] = Json::array();
  if (report.changes != nullptr) {
    for (const odds::ChangeOdds& change : *report.changes) {
      out["changes"].push_back({{"holder", day.holders[at(change.holder)].name},
                                {"out", day.packs[at(change.out_pack)].params.label},
                                {"in", day.packs[at(change.in_pack)].params.label},
                                {"at_s", change.planned_s},
                                {"safe_to_s", change.safe_s},
                                {"likely_s", change.likely_s}});
    }
  }
  out["spread"] = {{"load", spread.load},
                   {"load_each", spread.load_each},
                   {"capacity", spread.capacity},
                   {"capacity_each", spread.capacity_each},
                   {"resistance", spread.resistance},
                   {"start_charge", spread.start_charge},
                   {"air_k", spread.air_k},
                   {"bag", spread.bag},
                   {"overrun", spread.overrun}};
  return out.dump(2) + "\n";
}

}  // namespace tillwrap::app
