// Each rule's finding in plain words.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/findings_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using findings::Finding;
using findings::Item;
using findings::Rule;

std::string amps(double a) {
  if (a < 0.0995) return fmt::format("{:.0f} mA", 1000.0 * a);
  return a < 9.995 ? fmt::format("{:.2f} A", a) : fmt::format("{:.1f} A", a);
}
std::string rating(double a) { return fmt::format("{:g} A", a); }
std::string volts(double v) { return std::fabs(v) < 0.9995 ? fmt::format("{:.0f} mV", 1000.0 * v) : volts_words(v); }
std::string ohms(double r) {
  return r < 0.9995 ? fmt::format("{:.0f} m\u03a9", 1000.0 * r) : fmt::format("{:.2f} \u03a9", r);
}
std::string share(double x) {
  return x < 0.0995 ? fmt::format("{:.1f} %", 100.0 * x) : fmt::format("{:.0f} %", 100.0 * x);
}
std::string per_mille(double s) {
  return s < 0.0995 ? fmt::format("{:.2g} ms", 1000.0 * s) : fmt::format("{:.2g} s", s);
}
std::string how_long(double s) { return s < 1.0 ? per_mille(s) : length_words(s); }

std::string joined(const std::vector<std::string>& names, std::size_t most = 99) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i == most) return text + fmt::format(" and {} more", names.size() - most);
    if (i > 0) text += i + 1 == names.size() ? " and " : ", ";
    text += names[i];
  }
  return text;
}

std::string mark_words(catalogue::Mark mark) {
  switch (mark) {
    case catalogue::Mark::measured:
      return "measured";
    case catalogue::Mark::standard:
      return "standard";
    case catalogue::Mark::derived:
      return "derived";
    case catalogue::Mark::secondary:
      return "secondary source";
    case catalogue::Mark::memory:
      return "from memory";
    case catalogue::Mark::practice:
      return "common practice";
  }
  return "";
}

// "smart-pack-14v4-98wh: limits usual for the class (from memory)".
std::string entry_words(const Item& item) {
  if (item.entry == nullptr) return "";
  const catalogue::Provenance* from = &item.entry->provenance;
  for (const auto& [key, own] : item.entry->own_provenance) {
    if (key == item.entry_key) from = &own;
  }
  return fmt::format("{}: {} ({})", item.entry->id, from->source, mark_words(from->mark));
}

// Sources of all items, each once.
std::string entries(const Finding& finding) {
  std::string text;
  std::vector<std::string> told;
  for (const Item& item : finding.items) {
    const std::string words = entry_words(item);
    if (words.empty() || std::find(told.begin(), told.end(), words) != told.end()) continue;
    told.push_back(words);
    text += (text.empty() ? "" : "; ") + words;
  }
  return text;
}

std::string with_entries(const Finding& finding, const std::string& rule) {
  const std::string more = entries(finding);
  return more.empty() ? rule : rule.empty() ? more : rule + "; " + more;
}

std::string drop_line(const Item& i, const Wording& w) {
  std::string text =
      fmt::format("{}: {} lost ({} of {}) at {}, {} arrive: wires {}, contacts {}, fuses {}.", i.what,
                  volts(i["drop_v"]), share(i["share"]), volts_words(i["nominal_v"]), w.clock(i["at_s"]),
                  volts_words(i["device_v"]), volts(i["cable_v"]), volts(i["contact_v"]), volts(i["fuse_v"]));
  if (i.has("length_m") && i["cable_ohm"] > 0.0) {
    text += fmt::format(
        " By hand, {}: {} \u00d7 (2 \u00d7 {:g} m / (58 \u00d7 {:.3g} mm\u00b2) = {} at 20 \u00b0C, contacts {}).",
        i.other, amps(i["lead_a"]), i["length_m"], i["area_mm2"], ohms(i["cable_ohm"]), ohms(i["contact_ohm"]));
  } else {
    text += fmt::format(" Most of it in {}.", i.other);
  }
  return text;
}

std::string limit_line(const Item& i, const Wording& w) {
  const std::string what = i.other == "plug"     ? "its " + joined(i.names) + " is for"
                           : i.other == "wire"   ? "its wire is for"
                           : i.other == "holder" ? "the holder is for"
                           : i.other == "pack"   ? joined(i.names) + " cuts off above"
                           : i.other == "bank"   ? joined(i.names) + " gives at most"
                                                 : "it gives at most";  // a regulated output
  return fmt::format("{}: {} at {}; {} {} ({}).", i.what, amps(i["amps_a"]), w.clock(i["at_s"]), what,
                     amps(i["limit_a"]), share(i["ratio"]));
}

std::string fuse_line(const Item& i, const Wording& w) {
  std::string text =
      fmt::format("{}: {} for an hour and longer through {}, {} of its rating; {} allows {}.", i.what,
                  amps(i["amps_a"]), rating(i["rated_a"]), share(i["share"]), i.other, percent_words(i["allowed"]));
  if (i.has("opened_at_s")) {
    text += " It opens at " + w.clock(i["opened_at_s"]) + ".";
  } else if (i.has("opens_s")) {
    text += fmt::format(" Its peak of {} opens it within {}.", amps(i["peak_a"]), length_words(i["opens_s"]));
  }
  if (i.has("next_a")) {
    text += fmt::format(" Next size that may: {}", rating(i["next_a"]));
    text += i.has("ampacity_a") && i["next_a"] > i["ampacity_a"]
                ? fmt::format(", with thicker wire (now {}).", amps(i["ampacity_a"]))
                : ".";
  }
  return text;
}

std::string item_line(Rule rule, const Item& i, const Wording& w) {
  switch (rule) {
    case Rule::collapse:
      if (!i.has("ratio"))
        return fmt::format("{}: the line cannot give its power from {}.", i.what, w.clock(i["down_at_s"]));
      return fmt::format(
                 "{} on {}: {} of {} arrive at {} ({}, {} left): {} of the most this line can give. A load {} larger "
                 "collapses it.",
                 i.what, i.other, volts_words(i["device_v"]), volts_words(i["open_v"]), w.clock(i["at_s"]),
                 w.temperature(i["temperature_k"]), percent_words(i["charge"]), percent_words(i["ratio"]),
                 percent_words(1.0 / i["ratio"] - 1.0)) +
             (i.has("down_at_s") ? " It goes down at " + w.clock(i["down_at_s"]) + "." : "");
    case Rule::drop:
      return drop_line(i, w);
    case Rule::overload:
    case Rule::near_limit:
      return limit_line(i, w);
    case Rule::fuse_load:
      return fuse_line(i, w);
    case Rule::pptc_warm:
      return fmt::format("{}: {} at {}, where at {} the {} part is sure to hold only {} ({}).{}", i.what,
                         amps(i["amps_a"]), w.clock(i["at_s"]), w.temperature(i["temperature_k"]), rating(i["rated_a"]),
                         amps(i["hold_a"]), share(i["ratio"]),
                         i.has("opened_at_s") ? " It trips at " + w.clock(i["opened_at_s"]) + "." : "");
    case Rule::fuse_wire:
      return fmt::format("{}: {} fuse on a wire that carries {} ({:.3g} mm\u00b2).", i.what, rating(i["rated_a"]),
                         amps(i["ampacity_a"]), i["area_mm2"]);
    case Rule::fuse_slow:
      return fmt::format("{}: {} {} opens for sure only at {} ({:g} times); the wire carries {}.", i.what,
                         rating(i["rated_a"]), i.other, amps(i["opens_a"]),
                         std::round(100.0 * i["opens_ratio"]) / 100.0, amps(i["ampacity_a"]));
    case Rule::fuse_missing:
      if (i.has("main"))
        return fmt::format("{}: the box has no main fuse; {} can push {}{} into a fault.", i.what,
                           i["protected"] > 0.0 ? "a pack with its own protection" : "the pack", amps(i["short_a"]),
                           i["protected"] > 0.0 ? "" : " and more");
      return fmt::format("{}: nothing between {} and this wire; up to {} into a short{}.", i.what, i.other,
                         amps(i["short_a"]),
                         i.has("ampacity_a") ? fmt::format(", the wire carries {}", amps(i["ampacity_a"])) : "");
    case Rule::inrush: {
      std::string text = fmt::format(
          "{}: {:.0f} \u00b5F ({}) charge to {} through {}: {:.2g} A\u00b2s, {} at first; {} {} is sure to stand "
          "{:.2g} "
          "A\u00b2s.",
          i.what, 1e6 * i["farad"], joined(i.names, 3), volts_words(i["volts_v"]), ohms(i["ohm"]), i["a2s"],
          amps(i["peak_a"]), rating(i["rated_a"]), i.other, i["stands_a2s"]);
      if (i.has("protection_s"))
        text += fmt::format(" Over the pack's limit for {}, it cuts off after {}.", how_long(i["above_s"]),
                            how_long(i["protection_s"]));
      return text;
    }
    case Rule::reversible:
      return fmt::format("{}: {}, {}.", i.what, i.other, joined(i.names));
    case Rule::centre_negative:
      return fmt::format("{}: centre negative{}.", i.what,
                         i.names.empty() ? std::string(", against the usual way")
                                         : "; " + joined(i.names, 2) + " has the same plug, centre positive");
    case Rule::check_polarity:
      return fmt::format("{}: {}.", i.what, joined(i.names));
    case Rule::loose_plug:
      return fmt::format("{}: {} in the socket for a {} at {}: about {} instead of {}, {} lost at {}.", i.what,
                         i.names.front(), i.names.back(), i.other, ohms(i["contact_ohm"]), ohms(i["new_ohm"]),
                         volts(i["drop_v"]), amps(i["amps_a"]));
    case Rule::not_locking:
      return fmt::format("{}: {}; nothing else feeds {}.", i.what, joined(i.names),
                         i["dark"] > 1.5 ? fmt::format("{:.0f} devices behind it", i["dark"]) : i.other);
    case Rule::worn_contacts:
      return fmt::format("{}: {} against {} new, {} more lost at {}.", i.what, ohms(i["worn_ohm"]), ohms(i["new_ohm"]),
                         volts(i["extra_v"]), amps(i["amps_a"]));
    case Rule::shield_return:
      return fmt::format(
          "{}: return {}, shield about {}: {} of {}, {}, flows in the shield ({} along it); all of it if the return "
          "breaks.",
          i.what, ohms(i["return_ohm"]), ohms(i["shield_ohm"]), percent_words(i["share"]), amps(i["amps_a"]),
          amps(i["shield_a"]), volts(i["shield_v"]));
    case Rule::splitter:
      return fmt::format("{} feeds {}: {} together{}.", i.what, joined(i.names), amps(i["amps_a"]),
                         i.has("limit_a") ? fmt::format(", the socket is for {}", rating(i["limit_a"])) : "");
    case Rule::over_volts:
      return fmt::format("{} takes {}; {} fresh off the charger gives {}{}.", i.what, volts_words(i["most_v"]), i.other,
                         volts_words(i["full_v"]),
                         i.has("last_at_s") ? fmt::format(" (up to {} here, the last time at {})",
                                                          volts_words(i["highest_v"]), w.clock(i["last_at_s"]))
                                            : "");
    case Rule::phantom_limit:
      return fmt::format("{}: the microphones ask for {}, it gives {} to all inputs together.", i.what,
                         amps(i["amps_a"]), amps(i["limit_a"]));
    case Rule::stored_drain:
      return fmt::format("{}{} draws {:.2g} W{}: {} left in is empty after {}.", i.what,
                         i["switched"] > 0.0 ? ", switched off," : ", which has no switch,", i["load_w"],
                         i.names.empty() ? "" : " for " + joined(i.names, 3), i.other,
                         i["hours_h"] < 48.0 ? fmt::format("{:.0f} hours", i["hours_h"])
                                             : fmt::format("{:.0f} days", i["hours_h"] / 24.0));
    case Rule::back_feed:
      return fmt::format(
          "{} and {} at once, nothing one-way between them{}.", i.what, i.other,
          i.has("back_a") ? fmt::format(": {} into the pack at {}", amps(i["back_a"]), w.clock(i["at_s"])) : "");
    case Rule::unequal_packs:
      return fmt::format("{} carries alone from {} to {} ({} against {}); {} waits.", i.what, w.clock(i["from_s"]),
                         w.clock(i["until_s"]), volts_words(i["carrying_v"]), volts_words(i["resting_v"]), i.other);
    case Rule::pd_outage:
      return fmt::format("{} on {}: dark for {}, its input carries {}; then {} to start again.", i.other, i.what,
                         how_long(i["dark_s"]), how_long(i["held_s"]), length_words(i["restart_s"]));
    case Rule::vehicle:
      return fmt::format(
          "{}: live for {}, dead for {} of the day; feeds {}{}{}.", i.what, length_words(i["live_s"]),
          length_words(i["dark_s"]), i.names.empty() ? "nothing" : joined(i.names, 3),
          i["amps_a"] > 0.05 ? fmt::format(", {} of about {}", amps(i["amps_a"]), rating(i["limit_a"])) : "",
          i["only"] > 0.0 ? ", which has no pack of its own" : "");
    case Rule::bank_sleep:
      return fmt::format("{} ({}) goes off after {} below {}{}{}.", i.other, i.what, length_words(i["after_s"]),
                         amps(i["limit_a"]), i.has("least_a") ? "; here it falls to " + amps(i["least_a"]) : "",
                         i.has("slept_at_s")
                             ? fmt::format(": asleep at {}, {} dark", w.clock(i["slept_at_s"]), joined(i.names, 3))
                             : "");
    case Rule::mixed_cells:
      return fmt::format("{} in {}: its weakest of {:.0f} cells holds {} of the others'{}.", i.what, i.other,
                         i["cells"], percent_words(i["weak"]),
                         i.has("reversed_at_s")
                             ? fmt::format("; the others drive it below zero volts at {}", w.clock(i["reversed_at_s"]))
                             : "");
    case Rule::cold_alkaline:
      return fmt::format("{} in {}: down to {}, gives {:.1f} of {:.1f} Wh and comes out with {} left.", i.what, i.other,
                         w.temperature(i["temperature_k"]), i["given_wh"], i["rated_wh"],
                         percent_words(i["end_charge"]));
    case Rule::knocked_switch:
      return fmt::format("{}: its master switch takes {} dark{}.", i.what, joined(i.names, 4),
                         i.other.empty() ? "" : "; " + i.other + " has another feed");
    case Rule::single_point:
      if (i["ends"] <= 0.0)
        return fmt::format("{} ({}) may fail: {} {} {}.", i.what, i.other, joined(i.names, 3),
                           i.names.size() == 1 ? "runs on" : "run on",
                           i.has("same_loss_at_s") ? "as long as with it, to " + w.clock(i["same_loss_at_s"])
                                                   : std::string("to the end"));
      return fmt::format("{} ({}): {}{}.", i.what, i.other, joined(i.names, 3),
                         i.has("loss_at_s") ? " dark at " + w.clock(i["loss_at_s"]) : " dark");
  }
  return "";
}

struct RuleWords {
  const char* title;
  const char* advice;
  const char* source;
};

RuleWords rule_words(Rule rule) {
  switch (rule) {
    case Rule::collapse:
      return {"Close to collapse",
              "Warm the pack, put in a fresher or larger one, shorten the lead or lower the load: past this point more "
              "power means fewer volts and the device drops out at once.",
              "a line gives at most V\u00b2/4R to a constant-power load (derived); flagged from half of it"};
    case Rule::drop:
      return {"Volts lost on the way",
              "Shorter or thicker wire, a locking or cleaner plug, one plug less. The device stops when its own volts, "
              "not the pack's, reach its cut-off.",
              "2 to 3 % of nominal is worth a warning (common practice); 3 % critical, 10 % other (marine practice, "
              "secondary source)"};
    case Rule::overload:
      return {"More current than it is made for",
              "Spread the load, use the larger plug, wire or output, or a second feed.",
              "ampacity of short leads, 10 A/mm\u00b2 to 0.5 mm\u00b2 (common practice)"};
    case Rule::near_limit:
      return {"Close to a limit", "No room for one more device here.", "within a tenth of the limit"};
    case Rule::fuse_load:
      return {
          "Fuse too small for hours of this load",
          "Fit the next size of the same kind if the wire behind it carries that, or move a device to another output.",
          ""};
    case Rule::pptc_warm:
      return {
          "Resettable fuse short of room in the warmth",
          "Move load to another output, or let air into the bag. Tripped, it stays off until its load is unplugged.",
          "hold current falls with heat: 40 °C 0.83, 60 °C 0.65 of the 23 °C value (from memory)"};
    case Rule::fuse_wire:
      return {"Fuse above what its wire carries", "Smaller fuse or thicker wire: the fuse is there to save the wire.",
              "at most the wire's ampacity (common practice)"};
    case Rule::fuse_slow:
      return {"Fuse that lets a thin wire get hot", "Thicker wire, or a smaller fuse where the load allows.",
              "surely open below 1.45 times the wire's ampacity: IEC 60364-4-43, 433.1 (from memory)"};
    case Rule::fuse_missing:
      return {
          "No fuse at the battery end",
          "Put a fuse no larger than the wire's ampacity within a hand's width of the pack.",
          "one main fuse at the battery end and one an output (common practice); short-circuit amps from the pack's "
          "protection or its volts over its resistance (derived)"};
    case Rule::inrush:
      return {"Charging capacitors may open it",
              "Switch devices on one after another, or fit a slow fuse of the same size.",
              "I\u00b2t = C V\u00b2/2R (derived) against the least the standard lets the fuse stand"};
    case Rule::reversible:
      return {"Plug that can go in the wrong way round",
              "Mark one side of plug and socket, or change to a keyed plug; measure before the first use.", ""};
    case Rule::centre_negative:
      return {"Centre-negative lead",
              "Mark it in red at both ends and keep it with its device: swapped, it feeds backwards.", ""};
    case Rule::check_polarity:
      return {
          "Made-up leads: measure them once",
          "Barrels are only usually centre positive; put a meter on each lead before it meets a device.",
          "barrels usually centre positive (secondary source); 4-pin plugs pin 1 negative, pin 4 positive (equipment "
          "manuals, secondary source)"};
    case Rule::loose_plug:
      return {"Plug that only seems to fit",
              "Use the plug of the socket's size: this one touches now and then and drops out when the bag moves.", ""};
    case Rule::not_locking:
      return {"Plugs that do not lock, with nothing else to carry the device",
              "Tie the lead down so that a tug does not reach the plug, or change to a locking one.",
              "barrels, taps and USB plugs hold by friction (secondary source); pulled-out barrels are a known failure "
              "(common practice)"};
    case Rule::worn_contacts:
      return {"Worn contacts", "Clean or replace them.", ""};
    case Rule::shield_return:
      return {
          "Supply current in an audio shield",
          "Shorten and thicken the supply lead, feed both from one point, or isolate the supply; leave the shield on. "
          "Hum and clicks follow the load.",
          "shields of 30 m\u03a9/m (from memory); R return / (R return + R shield) (derived)"};
    case Rule::splitter:
      return {"Two leads from one socket", "The fuse and the socket see both: use another output if there is one.", ""};
    case Rule::over_volts:
      return {"A full pack gives more volts than it takes",
              "Feed it from a regulated output, or from a pack of fewer cells.", ""};
    case Rule::phantom_limit:
      return {"More phantom current than the supply gives",
              "Take one microphone off, or give it its own supply: the 48 V sags for all of them.", ""};
    case Rule::stored_drain:
      return {"Empties a pack that is left in", "Take the packs out at wrap.", ""};
    case Rule::back_feed:
      return {
          "Two sources push into each other",
          "Join them through diodes, or take one out first: a pack charged this way has no limit and no one watching.",
          "never connect packs in parallel without one-way elements (common practice)"};
    case Rule::unequal_packs:
      return {"Joined packs drain in turn, not together",
              "The higher volts win. Count on one of them at a time; equal age and charge share better.",
              "higher volts win (common practice)"};
    case Rule::pd_outage:
      return {"All ports dark when one changes",
              "Plug or unplug nothing on this bank during a take, or put a pack with plain volts beside it.",
              "hold-up C (V1\u00b2 \u2212 V2\u00b2)/2P (derived)"};
    case Rule::vehicle:
      return {"Socket that dies with the ignition",
              "Count on it only while the engine runs, and ask the driver. Vehicle power belongs to whoever looks "
              "after the "
              "vehicle.",
              ""};
    case Rule::bank_sleep:
      return {"Bank that switches itself off", "Hang something on it that draws more, or use a plain pack.", ""};
    case Rule::mixed_cells:
      return {"Old and new cells in one holder",
              "Keep sets together: bought, charged and used as one. A cell driven below zero leaks.", ""};
    case Rule::cold_alkaline:
      return {"Alkaline cells in the cold", "Iron-disulfide lithium or nickel cells, kept warm until they go in.",
              "inner resistance of an LR6 climbs to 0.9 \u03a9 at \u221240 °C (secondary source)"};
    case Rule::knocked_switch:
      return {"One switch can take it all down", "Tape or guard it; look at it after every move.",
              "knocked switches are a known failure (common practice)"};
    case Rule::single_point:
      return {"One of these fails and the day stops", "Carry a tested spare of each cable named here.",
              "each was taken out of the day in turn (computed)"};
  }
  return {"", "", ""};
}

}  // namespace

FindingWords finding_words(const findings::Finding& finding, const Wording& wording) {
  const RuleWords rule = rule_words(finding.rule);
  FindingWords words{.title = rule.title, .where = {}, .advice = rule.advice, .source = {}};
  // Behaviour of a class has one source; a limit of one entry is that entry's.
  const bool of_entry =
      finding.rule != Rule::check_polarity && finding.rule != Rule::not_locking && finding.rule != Rule::knocked_switch;
  words.source = of_entry ? with_entries(finding, rule.source) : rule.source;
  for (const Item& item : finding.items) words.where.push_back(item_line(finding.rule, item, wording));
  return words;
}

std::string severity_words(findings::Severity severity) {
  switch (severity) {
    case findings::Severity::stops:
      return "stops the day";
    case findings::Severity::harms:
      return "can hurt gear or people";
    case findings::Severity::costs:
      return "costs takes, time or charge";
    case findings::Severity::note:
      return "worth knowing";
  }
  return "";
}

}  // namespace tillwrap::app
