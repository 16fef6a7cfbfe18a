#include "app/compare_report.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "app/charger_words.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;

// Wh limits of baggage (49 CFR 175.10; docs of `tillwrap travel` hold the dated rules).
std::string_view flight_key(const catalogue::PackKind& kind) {
  switch (kind.travel.kind) {
    case catalogue::TravelClass::Kind::lithium_ion:
      if (kind.rated_wh > 160.0) return "cargo_only";
      return kind.rated_wh > 100.0 ? "operator_approval" : "cabin";
    case catalogue::TravelClass::Kind::lead_non_spillable:
      return kind.rated_wh > 100.0 ? "cargo_only" : "two_spares";
    default:
      return "cabin";
  }
}

std::string flight_words(const catalogue::PackKind& kind) {
  const std::string_view key = flight_key(kind);
  std::string text = key == "cargo_only"          ? "no baggage, cargo only"
                     : key == "operator_approval" ? "flies with the operator's approval, two"
                     : key == "two_spares"        ? "flies, two spares at most"
                                                  : "flies in the cabin";
  if (kind.travel.may_be_power_bank) text += ", may count as a power bank";
  return text;
}

std::string first_sentence(const std::string& note) {
  const std::size_t end = note.find(". ");
  const std::string first = end == std::string::npos ? note : note.substr(0, end);
  return first.ends_with('.') ? first.substr(0, first.size() - 1) : first;
}

// What to mind about it.
std::string weak_point(const CompareRow& row) {
  const catalogue::PackKind& kind = *row.option.pack;
  if (kind.regulator) return "its volts tell nothing about what is left; go by the clock";
  if (!kind.note.empty()) return first_sentence(kind.note);
  if (row.disposable) return "used up: buy and throw away";
  return {};
}

std::string hours(double seconds) { return fmt::format("{:.1f} h", seconds / 3600.0); }

std::string block(const std::string& text) {
  const std::string lines = wrapped(text, kWidth - 4, "");
  std::string placed = "    ";
  for (const char c : lines) {
    placed += c;
    if (c == '\n') placed += "    ";
  }
  return placed + "\n";
}

std::string joined(const std::vector<std::string>& names) {
  std::string all;
  for (const std::string& name : names) all += (all.empty() ? "" : ", ") + name;
  return all;
}

}  // namespace

std::string compare_text(const DayFile& file, const CompareAnswer& answer, const CompareOptions& options) {
  const day::Scenario& day = file.scenario;
  const Wording wording(file.inventory.settings);
  std::string text = day.title.empty() ? std::string() : day.title + "\n";
  text +=
      wrapped(fmt::format("What \"{}\" feeds ({}), from {} to {}, fed otherwise. Packs new unless said, full, none "
                          "charged in the day.",
                          answer.holder, joined(answer.devices), wording.clock(day.call_s), wording.clock(day.off_s)),
              kWidth, "") +
      "\n\n";
  text += fmt::format("  {} {} {} {} {} {}\n", padded("", 22), padded("ONE PACK LASTS", 14), padded("CHANGES", 7),
                      padded("CARRY", 8), padded("WEIGHT", 7), "A DAY");
  bool guessed = false;
  bool unknown_cycles = false;
  bool hours_assumed = false;
  for (const CompareRow& row : answer.rows) {
    guessed = guessed || row.option.price.has_guess || price_of(row.option.gear).has_guess;
    const std::string name = (row.option.now ? "> " : "  ") + padded(row.option.name, 22);
    if (!row.failed.empty() || !row.serving.starts) {
      text += fmt::format("{} {}\n", name,
                          row.failed.empty() ? "what must run does not start on it" : "the forecast failed");
      if (!row.failed.empty()) text += block(row.failed);
      continue;
    }
    unknown_cycles = unknown_cycles || (!row.disposable && !row.cycles_known);
    const std::string lasts =
        row.serving.likely_is_least
            ? fmt::format("over {}", hours(row.serving.safe_s))
            : fmt::format("{} to {}", fmt::format("{:.1f}", row.serving.safe_s / 3600.0), hours(row.serving.likely_s));
    std::string carry = "none";
    if (row.need.possible) {
      carry = fmt::format("{}", row.need.packs);
      carry += row.need.packs_one_loss > 0 ? fmt::format(" ({})", row.need.packs_one_loss) : " (\u2212)";
    }
    text += row.need.possible ? fmt::format("{} {} {} {} {} {}\n", name, padded(lasts, 14),
                                            padded(fmt::format("{}", row.need.changes), 7), padded(carry, 8),
                                            padded(wording.weight(row.mass_kg), 7), wording.money(row.a_day))
                              : fmt::format("{} {} {} {}\n", name, padded(lasts, 14), padded("", 7), carry);
    std::string about = fmt::format("at {:.1f} W; {}", row.serving.mean_w, row.option.how);
    if (row.need.possible)
      about += fmt::format("; buy: {}{}", wording.money(row.buy),
                           row.disposable ? fmt::format(" for {} days", options.days) : "");
    if (row.need.possible && !row.option.gear.empty()) {
      std::vector<std::string> names;
      for (const Gear& thing : row.option.gear) names.push_back(thing.kind == "lead" ? "a lead" : thing.name);
      about += fmt::format(", with {} ({} of it)", joined(names), wording.money(price_of(row.option.gear)));
    }
    if (row.need.possible && row.chargers && row.chargers->kind != nullptr)
      about += fmt::format(", and {} of it for chargers", wording.money(row.chargers->money));
    about += row.option.locks ? "; locks" : "; does not lock";
    about += row.dark.empty() ? "; changed hot" : fmt::format("; a change darkens {}", joined(row.dark));
    about += "; " + flight_words(*row.option.pack);
    text += block(about);
    if (!row.need.possible) {
      text += block(fmt::format("{}: with {} packs safe to {}, likely {}",
                                row.option.count > 0 ? "does not make the day" : "no number of packs makes the day",
                                row.need.packs, wording.clock(day.off_s + row.need.safe_margin_s),
                                wording.clock(day.off_s + row.need.likely_margin_s)));
    }
    if (row.need.possible && row.chargers) {
      const std::string chargers = charger_words(*row.chargers, wording);
      if (!chargers.empty()) text += block("charging: " + chargers);
      hours_assumed = hours_assumed || (row.chargers->hours_assumed && !chargers.empty());
      guessed = guessed || row.chargers->money.has_guess;
    }
    const std::string weak = weak_point(row);
    if (!weak.empty()) text += block("mind: " + weak);
  }
  if (!answer.left_out.empty()) {
    text += fmt::format("\n{} kinds left out{}\n", answer.left_out.size(),
                        options.left_out_too ? ":" : "; --all says why.");
    if (options.left_out_too) {
      for (const LeftOut& one : answer.left_out)
        text += wrapped("  " + one.name + ": " + one.why, kWidth, "    ") + "\n";
    }
  }
  text += "\n" +
          wrapped(
              "Fewest changes first, then least money a day. ONE PACK LASTS: nine days in ten, every other day; alone "
              "on this day's load from call on. CARRY: "
              "so that nine days in ten reach off; in brackets so that any one may be dead (\u2212: no number tried). "
              "> is what the day has.",
              kWidth, "") +
          "\n";
  text += wrapped(fmt::format("A DAY over {} days: what is used up, or packs bought once and again when their cycles "
                              "are through (lithium-ion by depth, a secondary "
                              "source{}); with it the holders, boxes, leads and chargers that the day has not.",
                              options.days, unknown_cycles ? "; other cycle lives not known, bought once" : ""),
                  kWidth, "") +
          "\n";
  if (hours_assumed) text += wrapped(charger_hours_words(), kWidth, "") + "\n";
  if (guessed) text += wrapped(wording.guess_note("2026-11-25"), kWidth, "") + "\n";
  text +=
      wrapped("The operator's word on what may fly wins. Compare cut-offs and ranges with what is written on yours.",
              kWidth, "") +
      "\n";
  return text;
}

std::string compare_json(const DayFile& file, const CompareAnswer& answer, const CompareOptions& options) {
  Json out;
  out["format"] = "tillwrap-compare-1";
  out["title"] = file.scenario.title;
  out["holder"] = answer.holder;
  out["devices"] = answer.devices;
  out["days"] = options.days;
  out["drawn_days"] = options.drawn_days;
  out["seed"] = options.seed;
  out["options"] = Json::array();
  for (const CompareRow& row : answer.rows) {
    Json one;
    one["name"] = row.option.name;
    one["pack"] = row.option.pack->id;
    one["holder_kind"] = row.option.holder_kind->id;
    one["box"] = row.option.box == nullptr ? Json(nullptr) : Json(row.option.box->id);
    one["now"] = row.option.now;
    one["adapter"] = row.option.adapter;
    one["how"] = row.option.how;
    one["failed"] = row.failed.empty() ? Json(nullptr) : Json(row.failed);
    one["starts"] = row.serving.starts;
    one["lasts"] = {{"safe_s", row.serving.safe_s}, {"likely_s", row.serving.likely_s}, {"mean_w", row.serving.mean_w}};
    one["makes_the_day"] = row.need.possible;
    one["packs"] = row.need.packs;
    one["packs_one_loss"] = row.need.packs_one_loss > 0 ? Json(row.need.packs_one_loss) : Json(nullptr);
    one["changes"] = row.need.changes;
    one["margin_s"] = {{"safe", row.need.safe_margin_s}, {"likely", row.need.likely_margin_s}};
    one["mass_kg"] = row.mass_kg;
    one["price_each"] = money_json(row.option.price, file.inventory.settings);
    one["buy"] = money_json(row.buy, file.inventory.settings);
    one["a_day"] = money_json(row.a_day, file.inventory.settings);
    one["gear"] = Json::array();
    for (const Gear& thing : row.option.gear)
      one["gear"].push_back(
          {{"kind", thing.kind}, {"name", thing.name}, {"price", money_json(thing.money, file.inventory.settings)}});
    one["chargers"] = row.chargers ? charger_json(*row.chargers, file.inventory.settings) : Json(nullptr);
    one["disposable"] = row.disposable;
    one["cycles_known"] = row.cycles_known;
    one["locks"] = row.option.locks;
    one["dark_in_change"] = row.dark;
    one["flight"] = flight_key(*row.option.pack);
    one["power_bank"] = row.option.pack->travel.may_be_power_bank;
    const std::string weak = weak_point(row);
    one["mind"] = weak.empty() ? Json(nullptr) : Json(weak);
    out["options"].push_back(one);
  }
  out["left_out"] = Json::array();
  for (const LeftOut& one : answer.left_out) out["left_out"].push_back({{"name", one.name}, {"why", one.why}});
  return out.dump(2) + "\n";
}

}  // namespace tillwrap::app
