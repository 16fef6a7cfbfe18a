#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/changes_json.hpp"
#include "app/track_day.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr double kDoubted = 0.5;
constexpr double kYes = 0.9;
constexpr double kSoon_s = 3600.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string value_words(const std::string& point, double value) {
  if (point == "gauge" || point == "meter" || point == "charge") return percent_words(value);
  return point == "amps" ? fmt::format("{:.2f} A", value) : fmt::format("{:.2f} V", value);
}

const std::string& name_of(const day::Scenario& day, track::Where where, int index) {
  switch (where) {
    case track::Where::gauge:
      return day.packs[at(index)].params.label;
    case track::Where::holder_a:
      return day.holders[at(index)].name;
    case track::Where::supply_a:
      return day.supplies[at(index)].name;
    case track::Where::device_v:
    case track::Where::device_a:
    case track::Where::device_meter:
      break;
  }
  return day.devices[at(index)].name;
}

std::string doubt_words(const TrackAnswer& answer, std::size_t r) {
  const track::Explained& explained = answer.answer.readings[r];
  const TrackedReading& read = answer.readings[r];
  if (explained.doubt <= kDoubted) return {};
  std::string out = fmt::format("{} of {} does not fit: {} was expected, {} to {}", value_words(read.point, read.value),
                                read.of, value_words(read.point, explained.expected),
                                value_words(read.point, explained.low), value_words(read.point, explained.high));
  if (explained.slipped != 0.0)
    return out + fmt::format(". {} would: a slipped point?", value_words(read.point, explained.slipped));
  if (explained.other >= 0) {
    const std::string& other = name_of(answer.scenario, read.where, explained.other);
    return out + fmt::format(". It would fit {}: the wrong one read?", other);
  }
  return out + ". Read it again; take it back if it was wrong";
}

std::string names_of(const day::Scenario& day, const std::vector<int>& devices) {
  std::string out;
  for (const int d : devices) out += (out.empty() ? "" : ", ") + day.devices[at(d)].name;
  return out;
}

std::string empty_words(const TrackAnswer& answer, const LeftEmpty& one, const Wording& wording) {
  const day::Scenario& day = answer.scenario;
  const std::string& holder = day.holders[at(one.holder)].name;
  std::string out = fmt::format("Nothing is in {} since {}, when {} came out", holder, wording.clock(one.since_s),
                                day.packs[at(one.pack)].params.label);
  if (one.next_pack >= 0)
    out += fmt::format("; {} goes in at {} as planned", day.packs[at(one.next_pack)].params.label,
                       wording.clock(one.next_s));
  out += ".";
  if (!one.dark.empty()) out += fmt::format(" Without power: {}.", names_of(day, one.dark));
  if (!one.running.empty()) out += fmt::format(" Running on: {}.", names_of(day, one.running));
  if (one.next_pack < 0) out += " If something is in it, note what went in.";
  return out;
}

// The sentence that asks for hands, with how long there is; empty when nothing presses.
std::string warning_words(const TrackAnswer& answer, const Wording& wording) {
  const track::Answer& a = answer.answer;
  for (const LeftEmpty& one : answer.emptied) {
    const bool stops = std::any_of(one.dark.begin(), one.dark.end(),
                                   [&](int d) { return answer.scenario.devices[at(d)].need != day::Need::optional; });
    if (stops)
      return fmt::format("Put something into {}: {} {} no power.", answer.scenario.holders[at(one.holder)].name,
                         names_of(answer.scenario, one.dark), one.dark.size() == 1 ? "has" : "have");
  }
  if (a.hands_safe_s - answer.at_s < kSoon_s && a.hands_safe_s < answer.scenario.off_s) {
    const double lead_s = a.hands_safe_s - answer.at_s;
    return lead_s <= 0.0 ? "Change now: it may go at any moment."
                         : fmt::format("A change is due within {}: by {} at the latest.", length_words(lead_s),
                                       wording.clock(a.hands_safe_s));
  }
  for (const odds::ChangeOdds& change : a.changes) {
    std::string warning =
        change_warning(answer.scenario, change, last_safe_s(answer.scenario, change, answer.at_s), wording);
    if (!warning.empty()) return warning;
  }
  if (a.probability < kYes)
    return fmt::format("As planned it may not reach off at {}: safe only to {}.", wording.clock(answer.scenario.off_s),
                       wording.clock(a.safe_s));
  return {};
}

// What goes first on one day in ten or more; empty when nothing does.
std::string first_to_go_words(const TrackAnswer& answer) {
  constexpr double kWorthSaying = 0.1;
  std::string list;
  for (const track::FirstToGo& one : answer.answer.first_to_go) {
    if (one.share < kWorthSaying) break;
    list += fmt::format("{}{} on {}", list.empty() ? "" : ", ", answer.scenario.devices[at(one.device)].name,
                        share_words(one.share));
  }
  return list.empty() ? list : fmt::format("First to go: {} of the days as they may turn out.", list);
}

std::string ahead_words(double ahead_s) {
  if (std::fabs(ahead_s) < 60.0) return "as planned";
  return fmt::format("{} {} plan", length_words(std::fabs(ahead_s)), ahead_s > 0.0 ? "ahead of" : "behind");
}

}  // namespace

std::string track_text(const TrackAnswer& answer) {
  const track::Answer& a = answer.answer;
  const Wording wording(answer.file->inventory.settings);
  std::string out = answer.scenario.title + "\n";
  const auto say = [&](const std::string& sentence) { out += wrapped(sentence, 80, "") + "\n"; };
  say(fmt::format("At {}: safe to {}, likely {}; off at {}, {}.", wording.clock(answer.at_s), wording.clock(a.safe_s),
                  wording.clock(a.likely_s), wording.clock(answer.scenario.off_s),
                  ahead_words(a.likely_s - a.plan_likely_s)));
  say(fmt::format("It reaches off with {}.", share_words(a.probability)));
  if (const std::string words = first_to_go_words(answer); !words.empty()) say(words);
  say(fmt::format("With no hands on it: safe to {}, likely {}.", wording.clock(a.hands_safe_s),
                  wording.clock(a.hands_likely_s)));
  say(fmt::format("Can it roll {}: {} ({}).", length_words(answer.words.roll_s),
                  a.roll_probability >= kYes ? "yes" : "no", share_words(a.roll_probability)));
  if (const std::string warning = warning_words(answer, wording); !warning.empty()) say(warning);
  if (answer.slid_s != 0.0)
    say(fmt::format("The day runs {} {}.", length_words(std::fabs(answer.slid_s)),
                    answer.slid_s > 0.0 ? "late" : "early"));
  for (const LeftEmpty& one : answer.emptied) say(empty_words(answer, one, wording));
  if (!a.changes.empty()) {
    out += "\nNEXT CHANGES\n";
    out += "by       likely   holder            out           in            waits\n";
    for (const odds::ChangeOdds& change : a.changes) {
      const day::Scenario& day = answer.scenario;
      const std::optional<double> last_s = last_safe_s(day, change, answer.at_s);
      out += fmt::format("{} {} {} {} {} {}\n", padded(last_s ? wording.clock(*last_s) : "no reach", 8),
                         padded(wording.clock(change.likely_s), 8), padded(day.holders[at(change.holder)].name, 17),
                         padded(day.packs[at(change.out_pack)].params.label, 13),
                         padded(day.packs[at(change.in_pack)].params.label, 13),
                         day.places[at(day.packs[at(change.in_pack)].spare_place)].name);
    }
  }
  if (!answer.readings.empty()) {
    out += "\nREADINGS\n";
    out += "at       what          of                read       expected\n";
    for (std::size_t r = 0; r < answer.readings.size(); ++r) {
      const TrackedReading& read = answer.readings[r];
      const track::Explained& explained = a.readings[r];
      out += fmt::format("{} {} {} {} {} to {}{}\n", padded(wording.clock(read.at_s), 8), padded(read.point, 13),
                         padded(read.of, 17), padded(value_words(read.point, read.value), 10),
                         value_words(read.point, explained.low), value_words(read.point, explained.high),
                         explained.doubt > kDoubted ? "  ?" : "");
    }
    for (std::size_t r = 0; r < answer.readings.size(); ++r) {
      if (const std::string doubt = doubt_words(answer, r); !doubt.empty())
        say("? " + doubt + (doubt.back() == '?' ? "" : "."));
    }
    out += "\nWHAT THEY TELL\n";
    for (const track::Unknown& unknown : a.unknowns) {
      if (unknown.left < 0.95)
        out += fmt::format("{} {} of the doubt left\n", padded(unknown.name, 17), percent_words(unknown.left));
    }
    if (!a.settled)
      say(fmt::format("Only {:.0f} points carry the answer (400 wanted): take the times with care.", a.effective));
  }
  if (!answer.notes.empty()) {
    out += "\nLOOK AT\n";
    for (const std::string& note : answer.notes) say(note);
  }
  out += "\nEstimates, not a safety clearance.\n";
  return out;
}

Json track_object(const TrackAnswer& answer) {
  const track::Answer& a = answer.answer;
  const Wording wording(answer.file->inventory.settings);
  Json out = {
      {"format", "tillwrap-track-1"},
      {"title", answer.scenario.title},
      {"at_s", answer.at_s},
      {"off_s", answer.scenario.off_s},
      {"probability", a.probability},
      {"safe_s", a.safe_s},
      {"likely_s", a.likely_s},
      {"plan_safe_s", a.plan_safe_s},
      {"plan_likely_s", a.plan_likely_s},
      {"ahead_s", a.likely_s - a.plan_likely_s},
      {"hands_safe_s", a.hands_safe_s},
      {"hands_likely_s", a.hands_likely_s},
      {"roll",
       {{"seconds", answer.words.roll_s}, {"yes", a.roll_probability >= kYes}, {"probability", a.roll_probability}}},
      {"late_s", answer.slid_s},
      {"warning", warning_words(answer, wording)},
      {"effective", a.effective},
      {"settled", a.settled}};
  out["first_to_go"] = Json::array();
  for (const track::FirstToGo& one : a.first_to_go)
    out["first_to_go"].push_back({{"device", answer.scenario.devices[at(one.device)].name}, {"share", one.share}});
  out["changes"] = Json::array();
  for (const odds::ChangeOdds& change : a.changes) {
    out["changes"].push_back(change_json(answer.scenario, change, answer.at_s));
  }
  out["empty"] = Json::array();
  for (const LeftEmpty& one : answer.emptied) {
    const day::Scenario& day = answer.scenario;
    Json dark = Json::array(), running = Json::array();
    for (const int d : one.dark) dark.push_back(day.devices[at(d)].name);
    for (const int d : one.running) running.push_back(day.devices[at(d)].name);
    out["empty"].push_back(
        {{"holder", day.holders[at(one.holder)].name},
         {"since_s", one.since_s},
         {"out", day.packs[at(one.pack)].params.label},
         {"next", one.next_pack < 0 ? Json(nullptr) : Json(day.packs[at(one.next_pack)].params.label)},
         {"next_s", one.next_pack < 0 ? Json(nullptr) : Json(one.next_s)},
         {"dark", dark},
         {"running", running},
         {"words", empty_words(answer, one, wording)}});
  }
  out["readings"] = Json::array();
  for (std::size_t r = 0; r < answer.readings.size(); ++r) {
    const TrackedReading& read = answer.readings[r];
    const track::Explained& explained = a.readings[r];
    const bool meant = explained.doubt > kDoubted && explained.slipped != 0.0;
    const bool other = explained.doubt > kDoubted && !meant && explained.other >= 0;
    out["readings"].push_back(
        {{"id", read.id},
         {"at_s", read.at_s},
         {"point", read.point},
         {"of", read.of},
         {"value", read.value},
         {"expected", explained.expected},
         {"low", explained.low},
         {"high", explained.high},
         {"doubt", explained.doubt},
         {"doubted", explained.doubt > kDoubted},
         {"slipped", meant ? Json(explained.slipped) : Json(nullptr)},
         {"fits", other ? Json(name_of(answer.scenario, read.where, explained.other)) : Json(nullptr)},
         {"reason", doubt_words(answer, r)}});
  }
  out["unknowns"] = Json::array();
  for (const track::Unknown& unknown : a.unknowns)
    out["unknowns"].push_back({{"name", unknown.name}, {"left", unknown.left}});
  out["notes"] = answer.notes;
  return out;
}

std::string track_json(const TrackAnswer& answer) { return track_object(answer).dump(2) + "\n"; }

}  // namespace tillwrap::app
