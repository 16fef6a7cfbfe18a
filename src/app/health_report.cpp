// What `tillwrap health` prints.
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "app/health_log.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kWidth = 80;
constexpr std::size_t kTurnsShown = 5;  // in the text; JSON has all

std::string short_name(const std::string& path) { return path.substr(path.find_last_of('/') + 1); }

std::string by_words(const HealthAnswer& log) {
  if (log.by == HealthAnswer::By::gauge_alone) return "the pack's own registers, without a log";
  if (log.by == HealthAnswer::By::field_day)
    return fmt::format("amps and what was shown: {:.1f} Ah drawn, {:.0f} % of the charge", log.drawn_ah,
                       100.0 * log.covers);
  return fmt::format(
      "{}: {:.3g} Ah drawn, {} of what it holds; {:.0f} mV a cell off the model",
      log.by == HealthAnswer::By::run_down ? "a steady discharge run down" : "a day or part of a discharge",
      log.drawn_ah, percent_words(std::min(1.0, log.covers)), 1e3 * log.rms_v);
}

std::string_view by_key(HealthAnswer::By by) {
  switch (by) {
    case HealthAnswer::By::run_down:
      return "run_down";
    case HealthAnswer::By::part:
      return "part";
    case HealthAnswer::By::field_day:
      return "field_day";
    case HealthAnswer::By::gauge_alone:
      break;
  }
  return "gauge_alone";
}

std::string as_well_words(const HealthAnswer& log) {
  std::string text = "Its volts do not tell which cells are in it:";
  for (const OtherCells& other : log.as_well)
    text += fmt::format(" as {} ({:.0f} mV a cell off) it would hold {} ({:.0f}\u2013{:.0f}), resistance {:.2f} times;",
                        other.cell, 1e3 * other.rms_v, percent_words(other.capacity.middle), 100.0 * other.capacity.low,
                        100.0 * other.capacity.high, other.resistance.middle);
  text.back() = '.';
  return text + " The advice goes by the least kind. A slower log, or one of it new (--params), would tell.";
}

std::string gauge_words(const GaugeCheck& gauge, const HealthAnswer& log) {
  std::string text = "Its gauge";
  if (gauge.claims)
    text += fmt::format(" believes in {:.3g} Ah ({} of the design's){}", *gauge.registers.full_ah,
                        percent_words(*gauge.claims),
                        gauge.registers.cycles ? fmt::format(" after {:.0f} cycles", *gauge.registers.cycles) : "");
  if (gauge.counted_ah)
    text += fmt::format("{} counted {:.3g} Ah where {:.3g} Ah flowed", gauge.claims ? " and" : "", *gauge.counted_ah,
                        *gauge.flowed_ah);
  if (!gauge.claims && !gauge.counted_ah) return "Its gauge told neither capacity nor charge.";
  text += ".";
  if (gauge.wrong_capacity)
    text += fmt::format(
        " It disagrees with coulombs and volts, which say {}: do not trust its percentage; a full "
        "discharge and charge may teach it.",
        percent_words(log.capacity.middle));
  if (gauge.wrong_count) text += " Its count is off: do not trust its percentage.";
  if (!gauge.wrong_capacity && !gauge.wrong_count && log.by != HealthAnswer::By::gauge_alone)
    text += " It agrees with coulombs and volts.";
  return text;
}

std::string retire_words(const HealthReport& report) {
  const health::Crossing& at = report.history.retire;
  const auto month = [&](const std::optional<double>& years, const char* none) {
    return years ? (*years > 0.0 ? month_text(report.now_us, *years) : std::string("now")) : std::string(none);
  };
  return fmt::format("Under 80 %: {} ({} to {}).", month(at.middle, "not within 20 years"), month(at.low, "far off"),
                     month(at.high, "open end"));
}

Json number_json(double value) { return std::round(1e5 * value) / 1e5; }

Json band_json(const health::Band& band) {
  return {{"low", number_json(band.low)}, {"middle", number_json(band.middle)}, {"high", number_json(band.high)}};
}

Json maybe_json(const std::optional<double>& value) { return value ? number_json(*value) : Json(nullptr); }

Json turn_json(const TurnAnswer& turn) {
  const auto moment = [](const std::optional<std::int64_t>& us) {
    return us ? Json(journal::moment_text({*us, 0})) : Json(nullptr);
  };
  const auto band = [](const std::optional<health::Band>& one) { return one ? band_json(*one) : Json(nullptr); };
  return {{"holder", turn.holder},
          {"in", moment(turn.in_us)},
          {"out", moment(turn.out_us)},
          {"amps", turn.amps},
          {"volts", turn.volts},
          {"drawn_ah", maybe_json(turn.drawn_ah)},
          {"from", maybe_json(turn.from)},
          {"to", maybe_json(turn.to)},
          {"capacity", band(turn.capacity)},
          {"resistance", band(turn.resistance)},
          {"cannot_tell", turn.cannot}};
}

Json day_json(const HealthReport& report, const std::optional<double>& years) {
  if (!years) return nullptr;
  const auto us = report.now_us + static_cast<std::int64_t>(*years * kYear_us);
  return journal::moment_text({us, 0}).substr(0, 10);
}

}  // namespace

namespace {

std::string advice_without_cells(const HealthReport& report) {
  if (report.log != nullptr && !report.log->plausible)
    return "Look for a mix-up first: this log does not look like that pack, so nothing is told of its health.";
  if (report.pack != nullptr)
    return advice(*report.pack, report.unkind ? *report.unkind : report.history, report.twin, report.now_us);
  // A log alone: as of a pack of unknown age, tested once.
  const HealthAnswer& log = *report.log;
  const health::Band capacity = least_capacity(log);
  if (capacity.high < health::kRetireBelow)
    return fmt::format("Retire it: it holds {} of its capacity, and 80 % is the usual limit.",
                       percent_words(capacity.middle));
  if (!log.capacity_told) return "Log more of its charge: this one says nothing of its capacity.";
  if (capacity.middle < health::kRetireBelow) return "Probably under 80 %: test it again, and retire it if that is so.";
  if (log.gauge && (log.gauge->wrong_capacity || log.gauge->wrong_count))
    return "Good to use by volts and coulombs, not by its gauge.";
  if (capacity.high - capacity.low > 0.2) return "Test it again: the doubt is wide.";
  if (const health::Band resistance = most_resistance(log); log.resistance_told && resistance.low > 2.0)
    return fmt::format("Keep it for warm and light work: its resistance is {:.1f} times a new one's.",
                       resistance.middle);
  return "Good to use.";
}

}  // namespace

std::string health_advice(const HealthReport& report) {
  std::string text = advice_without_cells(report);
  const HealthAnswer* log = report.log;
  if (log == nullptr || !log->plausible || !log->cells || !log->cells->weak) return text;
  return text + fmt::format(" Cell {} is weak and is emptied deepest each time: no long, cold or heavy work.",
                            log->cells->numbers[log->cells->found.weakest]);
}

bool to_retire(const HealthReport& report) {
  if (report.pack != nullptr)
    return (report.unkind ? *report.unkind : report.history).capacity.high < health::kRetireBelow;
  return least_capacity(*report.log).high < health::kRetireBelow;
}

std::string health_text(const HealthReport& report) {
  std::string text;
  const auto say = [&](const std::string& words, const char* indent = "  ") {
    text += wrapped(words, kWidth, indent) + "\n";
  };
  const HealthAnswer* log = report.log;
  std::string title =
      report.pack != nullptr
          ? report.pack->label + " (" + (report.pack->kind.empty() ? "kind never told" : report.pack->kind) + ")"
          : log->of;
  say("health of " + title + (log != nullptr ? ", by " + short_name(log->log) : ""));
  say(health_advice(report));
  text += "\n";
  if (log != nullptr) {
    if (!log->plausible) {
      say("This log does not look like " + log->of + ": " + log->why_not + ".");
    } else {
      say(fmt::format("Capacity {} of a new one's ({:.0f}\u2013{:.0f}), resistance {:.2f} times ({:.2f}\u2013{:.2f}).",
                      percent_words(log->capacity.middle), 100.0 * log->capacity.low, 100.0 * log->capacity.high,
                      log->resistance.middle, log->resistance.low, log->resistance.high));
      say("By " + by_words(*log) + ".");
      if (!log->as_well.empty()) say(as_well_words(*log));
    }
    if (log->gauge && log->plausible) say(gauge_words(*log->gauge, *log));
    if (log->cells && log->plausible) say(cell_words(*log->cells));
    const bool by_volts = log->by == HealthAnswer::By::run_down || log->by == HealthAnswer::By::part;
    if (!log->cells && log->plausible && by_volts && log->series > 1)
      say("Volts of the whole pack alone: one weak cell cannot be told from cells that all hold less. Log each cell's "
          "volts (cell1_v, cell2_v ...) to know.");
  }
  if (report.day != nullptr) {
    for (const std::string& words : day_words(*report.day, report.pack->label)) say(words, "    ");
    text += "\n";
  }
  if (report.pack != nullptr && (log == nullptr || log->plausible)) {
    const PackHistory& h = report.history;
    say(fmt::format("Over the years: {} now ({:.0f}\u2013{:.0f}), {:+.1f} % a year, by {} {} and {} field {}. {}",
                    percent_words(h.capacity.middle), 100.0 * h.capacity.low, 100.0 * h.capacity.high,
                    100.0 * h.trend.rate, h.tests, h.tests == 1 ? "test" : "tests", h.field_days,
                    h.field_days == 1 ? "day" : "days", retire_words(report)));
    if (!h.age_known) say("Its age was never told: the line through its tests has little to hold on to.");
    if (!h.turns.empty()) {
      const std::size_t shown = std::min(kTurnsShown, h.turns.size());
      text += "\n";
      say(shown == h.turns.size()
              ? "In use, by the journal's readings:"
              : fmt::format("In use, by the journal's readings (the latest {} of {} times):", shown, h.turns.size()));
      for (std::size_t k = h.turns.size() - shown; k < h.turns.size(); ++k) say("  " + turn_words(h.turns[k]), "    ");
    }
    const bool to_add = log != nullptr || (report.day != nullptr && day_as_test(*report.day, report.pack->label));
    if (to_add)
      say(report.journal_id.empty() ? "Not in the journal: --add puts it there."
          : report.day != nullptr   ? "Added to the journal, with the other packs of that day."
                                    : "Added to the journal.");
  }
  if (log != nullptr && !log->notes.empty()) text += "\n";
  if (log != nullptr) {
    for (const std::string& note : log->notes) say("  " + note, "    ");
  }
  text += "\n";
  say("Bands hold nine times in ten. Estimates, not a safety clearance: retire swollen, hot or dented packs whatever "
      "they "
      "hold.");
  return text;
}

Json health_object(const HealthReport& report) {
  Json out;
  out["format"] = "tillwrap-health-1";
  out["pack"] = report.pack != nullptr ? Json(report.pack->label) : Json(nullptr);
  out["advice"] = health_advice(report);
  out["log"] = nullptr;
  if (const HealthAnswer* log = report.log) {
    Json l;
    l["name"] = log->log;
    l["of"] = log->of;
    l["plausible"] = log->plausible;
    l["why_not"] = log->plausible ? Json(nullptr) : Json(log->why_not);
    l["looks_like"] = log->looks_like.empty() ? Json(nullptr) : Json(log->looks_like);
    l["as_well"] = Json::array();
    for (const OtherCells& other : log->as_well)
      l["as_well"].push_back({{"cell", other.cell},
                              {"rms_v", number_json(other.rms_v)},
                              {"capacity", band_json(other.capacity)},
                              {"resistance", band_json(other.resistance)}});
    l["by"] = by_key(log->by);
    l["covers"] = number_json(log->covers);
    l["drawn_ah"] = number_json(log->drawn_ah);
    l["rms_v"] = number_json(log->rms_v);
    l["capacity"] = band_json(log->capacity);
    l["capacity_told"] = log->capacity_told;
    l["resistance"] = band_json(log->resistance);
    l["resistance_told"] = log->resistance_told;
    l["gauge"] = nullptr;
    if (log->gauge) {
      const GaugeCheck& g = *log->gauge;
      l["gauge"] = {{"full_ah", maybe_json(g.registers.full_ah)}, {"design_ah", maybe_json(g.registers.design_ah)},
                    {"cycles", maybe_json(g.registers.cycles)},   {"claims", maybe_json(g.claims)},
                    {"counted_ah", maybe_json(g.counted_ah)},     {"flowed_ah", maybe_json(g.flowed_ah)},
                    {"wrong_capacity", g.wrong_capacity},         {"wrong_count", g.wrong_count}};
    }
    l["cells"] = log->cells ? cells_json(*log->cells) : Json(nullptr);
    l["notes"] = log->notes;
    out["log"] = l;
  }
  out["day"] = report.day != nullptr ? day_json(*report.day) : Json(nullptr);
  out["trend"] = nullptr;
  if (report.pack != nullptr && (report.log == nullptr || report.log->plausible)) {
    const PackHistory& h = report.history;
    out["trend"] = {{"capacity", band_json(h.capacity)},
                    {"resistance", band_json(h.resistance)},
                    {"rate_per_year", number_json(h.trend.rate)},
                    {"tests", h.tests},
                    {"field_days", h.field_days},
                    {"retire",
                     {{"low", day_json(report, h.retire.low)},
                      {"middle", day_json(report, h.retire.middle)},
                      {"high", day_json(report, h.retire.high)}}},
                    {"weaker_than", report.twin ? Json(report.twin->stronger) : Json(nullptr)},
                    {"in_use", Json::array()}};
    for (const TurnAnswer& turn : h.turns) out["trend"]["in_use"].push_back(turn_json(turn));
  }
  return out;
}

std::string health_json(const HealthReport& report) { return health_object(report).dump(2) + "\n"; }

}  // namespace tillwrap::app
