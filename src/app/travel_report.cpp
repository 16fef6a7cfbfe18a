#include "app/travel_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "app/dates.hpp"
#include "app/words.hpp"
#include "catalogue/reading.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {

namespace {

using catalogue::TravelRule;
using travel::Answer;
using travel::Instead;
using travel::Item;

constexpr std::size_t kWidth = 80;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string plural(int n, const std::string& one, const std::string& many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

std::string paragraph(const std::string& text, std::string_view indent = "") {
  return wrapped(text, kWidth, indent) + "\n";
}

std::string wh(double watt_hours) { return decode::number_words(std::round(10.0 * watt_hours) / 10.0) + " Wh"; }

std::string labels_of(const TravelReport& report, const std::vector<int>& packs) {
  std::string all;
  for (const int pack : packs) all += (all.empty() ? "" : ", ") + report.file->scenario.packs[at(pack)].params.label;
  return all;
}

std::string goes_words(TravelRule::Goes goes) {
  switch (goes) {
    case TravelRule::Goes::cabin:
      return "cabin only";
    case TravelRule::Goes::cabin_or_hold:
      return "cabin or hold";
    case TravelRule::Goes::cargo:
      return "not in baggage: cargo only";
  }
  return "";
}

// "98 Wh", "0.98 g lithium each".
std::string size_words(const Item& item) {
  if (item.lithium_g > 0.0) return fmt::format("{} g lithium each", decode::number_words(item.lithium_g));
  return item.pieces > 1 ? wh(item.rated_wh / item.pieces) + " each" : wh(item.rated_wh);
}

// Batteries counted one by one: "26 lithium iron-disulfide AA (FR6)" for 13 sets of two.
std::string counted(const catalogue::PackKind& kind, int packs) {
  const std::string set = fmt::format("{} x ", kind.travel.pieces);
  const std::string& title = kind.title;
  return title.starts_with(set) ? fmt::format("{} {}", packs * kind.travel.pieces, title.substr(set.size()))
                                : fmt::format("{} x {}", packs, title);
}

std::string verdict(const TravelReport& report) {
  const Answer& a = *report.answer;
  std::vector<int> grounded;
  for (const Item& item : a.items) {
    if (!item.in_baggage()) grounded.insert(grounded.end(), item.packs.begin(), item.packs.end());
  }
  const std::string who = plural(a.travellers, "traveller", "travellers");
  std::string text;
  if (!grounded.empty()) {
    text = fmt::format("Not all of it may fly on {}: {} may not go in baggage.", a.date, labels_of(report, grounded));
    text += a.strict.fits ? fmt::format(" The rest fits {}.", who) : "";
  } else if (a.all_fly) {
    text = fmt::format("It may fly on {} with {}{}.", a.date, who,
                       a.approvals.empty() ? "" : ", once the operator approves what is listed");
  }
  if (!a.strict.fits) {
    text += fmt::format("{}Too much for {} on {}: {} needed{}.", text.empty() ? "" : " ", who, a.date,
                        plural(a.strict.people_needed, "traveller is", "travellers are"),
                        a.narrow.fits ? ", by a strict reading; a narrow one lets it pass" : "");
  }
  return text;
}

// What one person takes, items in order, each once.
std::string share_words(const TravelReport& report, const std::vector<travel::Part>& parts,
                        std::vector<int>& used_of_item) {
  std::map<int, int> pieces;
  for (const travel::Part& part : parts) pieces[part.item] += part.pieces;
  std::string text;
  for (const auto& [index, count] : pieces) {
    const Item& item = report.answer->items[at(index)];
    std::string what;
    int left = count;
    int& used = used_of_item[at(index)];
    while (left > 0) {
      const int pack = item.packs[at(used / item.pieces)];
      const int n = std::min(left, item.pieces - used % item.pieces);
      const std::string& label = report.file->scenario.packs[at(pack)].params.label;
      what += (what.empty() ? "" : ", ") + label;
      if (n < item.pieces) what += fmt::format(" ({} of {})", n, item.pieces);
      used += n;
      left -= n;
    }
    text += (text.empty() ? "" : "; ") + what;
  }
  return text.empty() ? "nothing" : text;
}

std::string count_table(const Answer& a) {
  std::string text;
  for (std::size_t k = 0; k < a.strict.tallies.size(); ++k) {
    const travel::Tally& strict = a.strict.tallies[k];
    const int narrow = a.narrow.tallies[k].count;
    if (strict.count == 0) continue;
    const std::string count =
        narrow == strict.count ? std::to_string(narrow) : fmt::format("{} or {}", narrow, strict.count);
    text += fmt::format("  {} {} of {}\n", padded(strict.limit->title, 48), right_padded_left(count, 9),
                        strict.limit->most_a_person * a.travellers);
  }
  return text.empty() ? "  nothing that has a limit\n" : text;
}

}  // namespace

std::string approval_sentence(const TravelReport& report, int index) {
  const Item& item = report.answer->items[at(index)];
  const int count = static_cast<int>(item.packs.size());
  return fmt::format(
      "On {} we would like to carry {} lithium-ion {} of {} ({:.1f} V, {} Ah) {}; please confirm that you approve.",
      report.answer->date, count, count == 1 ? "battery" : "batteries", wh(item.rated_wh), item.kind->nominal_v,
      decode::number_words(std::round(100.0 * item.rated_wh / item.kind->nominal_v) / 100.0),
      item.in_device ? "inside equipment"
                     : "as spares in the cabin, at most two a passenger, each with its terminals protected");
}

std::string alternative_sentence(const TravelReport& report, const travel::Alternative& alternative) {
  const std::string of =
      alternative.item >= 0 ? labels_of(report, report.answer->items[at(alternative.item)].packs) : std::string();
  const std::string kind = alternative.kind != nullptr ? counted(*alternative.kind, alternative.count) : std::string();
  switch (alternative.what) {
    case Instead::smaller_pack:
      return fmt::format(
          "Instead of {}: {} fit the same holder, hold as much together and need no approval; they "
          "count toward the spares.",
          of, kind);
    case Instead::plain_pack:
      return fmt::format("Instead of {}: {} have no output of their own and are plain spares.", of, kind);
    case Instead::dry_cells:
      return fmt::format("Instead of {}: {}, which no limit of number holds for; check first that they last.", of,
                         kind);
    case Instead::more_travellers:
      return fmt::format("Share it among {} travellers.", alternative.count);
    case Instead::by_ground:
      return "Send it ahead by ground, with a carrier that takes lithium batteries.";
    case Instead::rent_there:
      return "Rent or buy it where you go.";
  }
  return "";
}

Answer travel_answer(const DayFile& file, const catalogue::Catalogue& catalogue, const std::string& date,
                     int travellers) {
  if (!is_iso_date(date))
    throw decode::InputError("command line", {1, 1}, "--on: \"" + date.substr(0, 40) + "\" is no date",
                             "write it as 2026-11-25");
  const day::Scenario& day = file.scenario;
  if (day.packs.empty())
    throw decode::InputError(file.source, {1, 1}, "the day has no [[pack]]", "there is nothing to ask about");
  for (std::size_t p = 0; p < day.packs.size(); ++p) {
    if (file.inventory.packs[p].travels != kit::Travels::in_device) continue;
    bool found = false;
    for (const day::Holder& holder : day.holders) {
      if (holder.charger_supply >= 0) continue;
      for (const day::Slot& slot : holder.slots) {
        found = found || slot.pack == static_cast<int>(p);
        const bool other =
            slot.pack != static_cast<int>(p) && file.inventory.packs[at(slot.pack)].travels == kit::Travels::in_device;
        const bool here = std::any_of(holder.slots.begin(), holder.slots.end(),
                                      [&](const day::Slot& s) { return s.pack == static_cast<int>(p); });
        if (other && here)
          throw decode::InputError(file.source, file.inventory.packs[p].place,
                                   "\"" + day.packs[p].params.label + "\" and \"" +
                                       day.packs[at(slot.pack)].params.label + "\" cannot both travel in \"" +
                                       holder.name + "\"",
                                   "let one of them travel as a spare");
      }
    }
    if (!found)
      throw decode::InputError(file.source, file.inventory.packs[p].place,
                               "\"" + day.packs[p].params.label + "\" travels in a device but sits in no holder",
                               "list it under a holder's packs, or let it travel as a spare");
  }
  Answer answer = travel::answer(day, file.inventory, catalogue, {.date = date, .travellers = travellers});
  if (!answer.dated) {
    const std::string last = answer.last_day;
    throw decode::InputError(
        "command line", {1, 1},
        "no rules for " + date + ": those known here hold from " + answer.first_day + " to " + last,
        date > last ? "new editions of the ICAO and IATA rules apply from 2027-01-01: ask the operator"
                    : "give --on a date in that range");
  }
  return answer;
}

std::string travel_text(const TravelReport& report) {
  const Answer& a = *report.answer;
  std::string text = report.file->scenario.title.empty() ? std::string() : report.file->scenario.title + "\n";
  text += paragraph(verdict(report));
  text += "\nWHAT GOES WHERE\n";
  for (const Item& item : a.items) {
    text += paragraph(fmt::format("  {}, {}, {}: {}{}", counted(*item.kind, static_cast<int>(item.packs.size())),
                                  size_words(item), item.in_device ? "in device" : "spare", goes_words(item.goes()),
                                  item.approval ? ", with the operator's approval" : ""),
                      "    ");
    text += paragraph(fmt::format("    {}", labels_of(report, item.packs)), "    ");
    text += paragraph(fmt::format("    {}", item.rule->protect), "    ");
    if (item.bank != nullptr)
      text +=
          paragraph(item.bank_unclear ? "    may be taken for a power bank: counted both ways; " + item.bank->protect
                                      : "    a power bank: " + item.bank->protect,
                    "    ");
  }
  if (!a.stays.empty()) text += paragraph("  stays: " + labels_of(report, a.stays), "    ");

  text += fmt::format("\nCOUNTED FOR {}\n",
                      a.travellers == 1 ? "ONE TRAVELLER" : fmt::format("{} TRAVELLERS", a.travellers));
  text += count_table(a);
  if (a.readings_differ)
    text += paragraph(
        fmt::format("  Where the rule is unclear both readings are counted; the strict one decides. Travellers "
                    "needed: {} by the narrow reading, {} by the strict one.",
                    a.narrow.people_needed, a.strict.people_needed),
        "  ");
  if (a.strict.shares.size() > 1) {
    text += "\nWHO TAKES WHAT\n";
    std::vector<int> used(a.items.size(), 0);
    for (std::size_t person = 0; person < a.strict.shares.size(); ++person)
      text +=
          paragraph(fmt::format("  {}: {}", person + 1, share_words(report, a.strict.shares[person], used)), "     ");
  }
  if (!a.approvals.empty()) {
    text += "\nTO ASK THE OPERATOR\n";
    for (const int item : a.approvals) text += paragraph("  \"" + approval_sentence(report, item) + "\"", "  ");
  }
  if (!a.alternatives.empty()) {
    text += "\nWHAT ELSE\n";
    for (const travel::Alternative& alternative : a.alternatives)
      text += paragraph("  " + alternative_sentence(report, alternative), "    ");
  }
  text += "\nRULES (" + a.date + ")\n";
  for (const TravelRule* rule : a.rules)
    text += paragraph(fmt::format("  {} [{}, to {}; {}]", rule->text, rule->id, rule->valid_until,
                                  catalogue::mark_word(rule->provenance.mark)),
                      "    ");
  std::string checked;  // the rule looked at longest ago
  for (const TravelRule* rule : a.rules) {
    if (checked.empty() || rule->provenance.checked < checked) checked = rule->provenance.checked;
  }
  text +=
      "\n" + paragraph("Rules last checked " + checked + "; for a flight after " + a.last_day +
                       " ask the operator. "
                       "Each rule with its source: tillwrap catalogue travel-rules. Not legal advice; the operator's "
                       "word wins.");
  return text;
}

}  // namespace tillwrap::app
