// What `tillwrap kit` prints.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "app/kit_now.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kWidth = 80;
constexpr int kCoursePoints = 24;
constexpr double kCourseAhead_years = 2.0;

std::string local_text(std::int64_t us, const Zone& zone) {
  std::string text = journal::moment_text({us, zone.offset_at(us)});
  text[10] = ' ';
  return text.substr(0, 16);
}

// "64 % (60 to 67)"
std::string band_words(const health::Band& band) {
  return fmt::format("{} ({:.0f}\u2013{:.0f})", percent_words(band.middle), 100.0 * band.low, 100.0 * band.high);
}

std::string where_words(const journal::PackState& pack) {
  if (pack.retired) return "retired";
  if (pack.stays.empty()) return "?";
  const journal::Stay& now = pack.stays.back();
  if (!now.holder.empty()) return "in " + now.holder;
  return now.place.empty() ? "out of its holder" : now.place;
}

std::string retire_words(const PackHistory& h, std::int64_t now_us) {
  const auto at = [&](double years) { return month_text(now_us, years); };
  if (h.capacity.high < health::kRetireBelow) return "under 80 % already";
  const std::string from = h.retire.low ? (*h.retire.low > 0.0 ? at(*h.retire.low) : std::string("now")) : "far off";
  const std::string to = h.retire.high ? at(*h.retire.high) : "open end";
  if (!h.retire.middle)
    return "beyond " + std::to_string(static_cast<int>(kHorizon_years)) + " years; " + from + " at the earliest";
  return (*h.retire.middle > 0.0 ? at(*h.retire.middle) : std::string("now")) + " (" + from + " to " + to + ")";
}

Json rounded(double value) { return std::round(1e4 * value) / 1e4; }

Json band_json(const health::Band& band) {
  return {{"low", rounded(band.low)}, {"middle", rounded(band.middle)}, {"high", rounded(band.high)}};
}

Json date_json(std::int64_t now_us, const std::optional<double>& years) {
  if (!years) return nullptr;
  const auto us = now_us + static_cast<std::int64_t>(*years * kYear_us);
  return journal::moment_text({us, 0}).substr(0, 10);
}

// A line and its band over the years, from when the pack was new to some way ahead, for whoever draws it.
Json course_json(const health::Trend& trend, const std::vector<health::Result>& results, double from_years,
                 double until_years, std::int64_t now_us) {
  Json out = {{"results", Json::array()}, {"trend", Json::array()}};
  for (const health::Result& result : results)
    out["results"].push_back({{"at", date_json(now_us, result.at_years)},
                              {"low", rounded(result.value - health::kBand * result.sd)},
                              {"middle", rounded(result.value)},
                              {"high", rounded(result.value + health::kBand * result.sd)}});
  for (int k = 0; k <= kCoursePoints; ++k) {
    const double at_years = from_years + (until_years - from_years) * k / kCoursePoints;
    Json point = {{"at", date_json(now_us, at_years)}};
    point.update(band_json(health::value_at(trend, at_years)));
    out["trend"].push_back(point);
  }
  return out;
}

Json moment_json(const std::optional<journal::Moment>& at) {
  if (!at) return nullptr;
  return journal::moment_text(*at);
}

Json text_or_null(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

}  // namespace

std::string kit_text(const KitAnswer& answer, const Zone& zone) {
  std::string text = "the kit on " + local_text(answer.now_us, zone) + "\n";
  if (answer.packs.empty()) return text + "no packs in this journal; begin with: tillwrap journal add acquired ...\n";
  text += "\n  pack          charge now       holds            where             last used\n";
  for (const KitPack& one : answer.packs) {
    const journal::PackState& pack = *one.facts;
    const std::string used = pack.last_used ? journal::moment_text(*pack.last_used).substr(0, 10) : "never told";
    text += "  " + padded(pack.label, 13) + " " + padded(one.charge ? band_words(*one.charge) : "?", 16) + " " +
            padded(band_words(one.history.capacity), 16) + " " + padded(where_words(pack), 17) + " " + used + "\n";
  }
  text += "\n";
  for (const KitPack& one : answer.packs) {
    const journal::PackState& pack = *one.facts;
    if (pack.retired) {
      text += wrapped(pack.label + ": retired " + journal::moment_text(*pack.retired).substr(0, 10) +
                          (pack.retired_reason.empty() ? "" : ", " + pack.retired_reason) + ".",
                      kWidth, "  ") +
              "\n";
      continue;
    }
    text += wrapped(fmt::format("{}: {} Resistance {:.2f} ({:.2f}\u2013{:.2f}) times as new; under 80 %: {}.",
                                pack.label, one.advice, one.history.resistance.middle, one.history.resistance.low,
                                one.history.resistance.high, retire_words(one.history, answer.now_us)),
                    kWidth, "  ") +
            "\n";
    for (const std::string& note : one.notes) text += wrapped("  " + note, kWidth, "  ") + "\n";
  }
  const std::size_t odd = answer.state.remarks.size() + answer.state.more_remarks;
  if (odd > 0)
    text += fmt::format("\n{} {} in the journal: tillwrap journal verify\n", odd, odd == 1 ? "oddity" : "oddities");
  return text + "\n" +
         wrapped("Bands hold nine times in ten. Estimates: never charge a swollen pack, below 0 °C, or unattended.",
                 kWidth, "") +
         "\n";
}

Json kit_object(const KitAnswer& answer, const Zone& zone) {
  Json out;
  out["format"] = "tillwrap-kit-1";
  out["at"] = journal::moment_text({answer.now_us, zone.offset_at(answer.now_us)});
  out["packs"] = Json::array();
  for (const KitPack& one : answer.packs) {
    const journal::PackState& pack = *one.facts;
    const PackHistory& h = one.history;
    Json p;
    p["pack"] = pack.label;
    p["kind"] = text_or_null(pack.kind);
    p["bought"] = text_or_null(pack.bought);
    p["charge"] = one.charge ? band_json(*one.charge) : Json(nullptr);
    p["told"] = nullptr;
    if (pack.charge) {
      p["told"] = {{"charge", rounded(pack.charge->fraction)},
                   {"at", journal::moment_text({pack.charge->at_us, zone.offset_at(pack.charge->at_us)})},
                   {"by", journal::form_of(pack.charge->by).name}};
    }
    p["capacity"] = band_json(h.capacity);
    p["resistance"] = band_json(h.resistance);
    p["rate_per_year"] = rounded(h.trend.rate);
    p["tests"] = h.tests;
    p["field_days"] = h.field_days;
    p["retire"] = {{"low", date_json(answer.now_us, h.retire.low)},
                   {"middle", date_json(answer.now_us, h.retire.middle)},
                   {"high", date_json(answer.now_us, h.retire.high)}};
    const double until_years = std::clamp(h.retire.middle.value_or(0.0), kCourseAhead_years, 4.0 * kCourseAhead_years);
    p["course"] = {
        {"capacity", course_json(h.trend, h.capacity_results, h.new_years, until_years, answer.now_us)},
        {"resistance", course_json(h.resistance_trend, h.resistance_results, h.new_years, until_years, answer.now_us)}};
    p["weaker_than"] = one.twin ? Json(one.twin->stronger) : Json(nullptr);
    p["place"] = pack.stays.empty() ? Json(nullptr) : text_or_null(pack.stays.back().place);
    p["holder"] = pack.stays.empty() ? Json(nullptr) : text_or_null(pack.stays.back().holder);
    p["last_used"] = moment_json(pack.last_used);
    p["last_charged"] = moment_json(pack.last_charged);
    p["charges"] = pack.charges;
    p["used_ah"] = rounded(pack.used_ah);
    p["retired"] = moment_json(pack.retired);
    p["advice"] = one.advice;
    p["notes"] = one.notes;
    out["packs"].push_back(p);
  }
  out["remarks"] = Json::array();
  for (const journal::Remark& remark : answer.state.remarks)
    out["remarks"].push_back({{"id", remark.id}, {"text", remark.text}});
  return out;
}

std::string kit_json(const KitAnswer& answer, const Zone& zone) { return kit_object(answer, zone).dump(2) + "\n"; }

}  // namespace tillwrap::app
