#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/changes_json.hpp"
#include "app/forecast_report.hpp"
#include "app/words.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;
constexpr double kDay_s = 86400.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string paragraph(const std::string& text, std::string_view indent = "") {
  return wrapped(text, kWidth, indent) + "\n";
}

std::string heading(std::string_view text) { return fmt::format("\n{}\n", text); }

struct Line {
  double at_s;
  int order;
  std::string text;
};

}  // namespace

std::string loss_words(const ForecastReport& report, const Wording& words) {
  const day::Scenario& day = report.file->scenario;
  const forecast::Loss& loss = report.forecast->run.first_loss;
  if (loss.device < 0) return "";
  const day::Device& device = day.devices[at(loss.device)];
  std::string text =
      fmt::format("{} goes off at {}: {}.", device.name, words.clock(loss.at_s), cause_words(day, loss.why, words));
  if (loss.why.cause == forecast::Cause::low_volts && device.cutoff_v > 0.0) {
    text += fmt::format(" Its input is at its cut-off of {}.", volts_words(device.cutoff_v));
  }
  return text;
}

std::string verdict_words(const ForecastReport& report, const Wording& words) {
  const day::Scenario& day = report.file->scenario;
  const forecast::Forecast& f = *report.forecast;
  const std::string off = words.clock(day.off_s);
  const std::string safe = words.clock(std::max(f.safe_s, day.call_s));
  if (f.margin_is_least) {
    return fmt::format("It lasts: off at {}, and nothing fails in the {} after that.", off, length_words(f.margin_s));
  }
  if (report.odds == nullptr) {
    return fmt::format("{} to {} as stated; off at {}. {}", f.reaches_wrap ? "It lasts" : "It only lasts",
                       words.clock(f.stated_s), off, loss_words(report, words));
  }
  const std::string likely = words.clock(f.likely_s);
  if (!f.reaches_wrap) {
    return fmt::format("It does not last to {}. Safe to {}, likely {}; as stated {} too short. {}", off, safe, likely,
                       length_words(f.margin_s), loss_words(report, words));
  }
  if (f.likely_s < day.off_s) {
    return fmt::format("It lasts to {} as stated, but hardly. Safe to {}, likely {}; off at {}.",
                       words.clock(f.stated_s), safe, likely, off);
  }
  const double spare_s = f.likely_s - day.off_s;
  const std::string spare = spare_s >= 60.0 ? length_words(spare_s) + " to spare" : "nothing to spare";
  if (f.safe_s >= day.off_s) {
    return fmt::format("It lasts. Safe to {}, likely {}; off at {}, {}.", safe, likely, off, spare);
  }
  return fmt::format("It lasts, but not safely. Safe to {}, likely {}; off at {}, {}. One day in ten ends early.", safe,
                     likely, off, spare);
}

std::string odds_words(const odds::OddsAnswer& odds, const day::Scenario& day, const Wording& words) {
  std::string text = fmt::format("Of {} days as they may turn out, {} reach off at {}", odds.days,
                                 share_words(odds.probability), words.clock(day.off_s));
  if (day.overrun_s > 0.0 && odds.probability > 0.0) {
    text +=
        fmt::format("; {} last as late as it then gets, {} the whole {}", share_words(odds.probability_with_overrun),
                    share_words(odds.probability_with_whole_overrun), length_words(day.overrun_s));
  }
  text += ".";
  const odds::Driver* most = odds.drivers.empty() ? nullptr : &odds.drivers.front();
  if (most != nullptr && most->share >= 0.2) {
    text += fmt::format(" The {} is {} of the doubt{}.", most->name, share_words(most->share),
                        most->name == "load" ? ": measure the draw" : "");
  }
  return text;
}

std::string one_loss_words(const ForecastReport& report, const Wording& words) {
  const day::Scenario& day = report.file->scenario;
  const forecast::OneLoss& one = report.forecast->one_loss;
  if (one.cases.empty()) return "One pack dead: no pack is in use.";
  if (one.holds) return "One pack dead: whichever it is, you still wrap.";
  std::string list;
  std::size_t bad = 0;
  // A day that is short as it stands: only what makes it shorter is worth a word.
  const bool short_already = !report.forecast->reaches_wrap;
  for (const forecast::OneLossCase& c : one.cases) {
    if (c.survives || (short_already && c.margin_s > report.forecast->margin_s - 60.0)) continue;
    ++bad;
    if (bad > 3) continue;
    const std::string device = c.loss.device >= 0 ? day.devices[at(c.loss.device)].name : "the kit";
    list += fmt::format("{}{} ({} dark {})", list.empty() ? "" : ", ", day.packs[at(c.pack)].params.label, device,
                        words.clock(c.loss.at_s));
  }
  if (bad > 3) list += fmt::format(" and {} more", bad - 3);
  if (bad == 0) return "One pack dead: no shorter than the day already is.";
  return fmt::format("One pack dead: {} if it is {}.", short_already ? "shorter still" : "short", list);
}

namespace {

std::string event_words(const day::Scenario& day, const forecast::Event& e, const Wording& wording) {
  using forecast::EventKind;
  const auto device = [&] { return day.devices[at(e.index)].name; };
  const auto pack = [&] { return e.pack >= 0 ? day.packs[at(e.pack)].params.label : std::string(); };
  switch (e.kind) {
    case EventKind::change_in:
      return fmt::format("{} into {}", pack(), day.holders[at(e.index)].name);
    case EventKind::device_down:
      return fmt::format("{} off: {}", device(), cause_words(day, e.why, wording));
    case EventKind::pack_off:
      return cause_words(day, e.why, wording);
    case EventKind::fuse_open:
      return fmt::format("fuse of {} opens", day.leads[at(e.index)].name);
    case EventKind::protector_open:
      return fmt::format("resettable fuse of {} trips", day.leads[at(e.index)].name);
    case EventKind::cell_reversed:
      return fmt::format("a cell of {} is driven into reversal", pack());
    case EventKind::supply_gone:
      return fmt::format("{} goes", day.supplies[at(e.index)].name);
    case EventKind::supply_back:
      return fmt::format("{} is there", day.supplies[at(e.index)].name);
    case EventKind::over_volts:
      return fmt::format("{} gets {}, more than its {}", device(), volts_words(e.volts), volts_words(e.limit_v));
    case EventKind::pack_charging:
      return fmt::format("{} into {}", pack(), day.holders[at(e.index)].name);
    case EventKind::pack_full:
      return fmt::format("{} is full", pack());
    case EventKind::period:
    case EventKind::change_out:
    case EventKind::device_up:
    case EventKind::protector_closed:
    case EventKind::input_switched:
    case EventKind::regulator_down:
    case EventKind::regulator_up:
      break;
  }
  return "";
}

// "door A: A-1 out with 48 % left, A-2 in", or "C1 into cup" for an empty holder.
std::string change_words(const day::Scenario& day, const forecast::DayRun& run, const forecast::Event& e,
                         const Wording& wording) {
  const day::Holder& holder = day.holders[at(e.index)];
  for (const forecast::Change& change : run.changes) {
    if (change.holder != e.index || change.in_pack != e.pack || std::fabs(change.at_s + holder.gap_s - e.at_s) > 1.0)
      continue;
    for (const forecast::Stint& stint : run.stints) {
      if (stint.holder == change.holder && stint.pack == change.out_pack &&
          std::fabs(stint.out_s - change.at_s) < 1.0) {
        return fmt::format("{}: {} out with {} left, {} in", holder.name, day.packs[at(change.out_pack)].params.label,
                           percent_words(stint.end_charge), day.packs[at(e.pack)].params.label);
      }
    }
  }
  return event_words(day, e, wording);
}

// One line a moment: what happens together is said together.
std::string time_line(const ForecastReport& report, const Wording& wording) {
  using forecast::EventKind;
  const day::Scenario& day = report.file->scenario;
  const forecast::DayRun& run = report.forecast->run;
  std::vector<Line> lines;
  for (const day::Period& period : day.periods) {
    if (period.from_s >= day.off_s) continue;
    lines.push_back({period.from_s, 0,
                     fmt::format("{}  {} {}", wording.hands(period.from_s), padded(period.name, 28),
                                 right_padded_left(wording.temperature(period.air_k), 7))});
  }
  std::vector<std::pair<double, std::vector<std::string>>> moments;
  // Devices that go off together for one reason are named together.
  const auto names_off = [&](const forecast::Event& e) {
    std::string names;
    std::vector<int> named;
    for (const forecast::Event& other : run.events) {
      if (other.kind != EventKind::device_down || std::fabs(other.at_s - e.at_s) >= 1.0 ||
          cause_words(day, other.why, wording) != cause_words(day, e.why, wording))
        continue;
      if (std::find(named.begin(), named.end(), other.index) != named.end()) continue;
      named.push_back(other.index);
      names += (names.empty() ? "" : ", ") + day.devices[at(other.index)].name;
    }
    return fmt::format("{} off: {}", names, cause_words(day, e.why, wording));
  };
  for (const forecast::Event& e : run.events) {
    if (e.kind == EventKind::device_down && e.why.cause == forecast::Cause::change) continue;
    const std::string words = e.kind == EventKind::change_in     ? change_words(day, run, e, wording)
                              : e.kind == EventKind::device_down ? names_off(e)
                                                                 : event_words(day, e, wording);
    if (words.empty()) continue;
    auto moment =
        std::find_if(moments.begin(), moments.end(), [&](const auto& m) { return std::fabs(m.first - e.at_s) < 1.0; });
    if (moment == moments.end()) moment = moments.insert(moments.end(), {e.at_s, {}});
    if (std::find(moment->second.begin(), moment->second.end(), words) == moment->second.end())
      moment->second.push_back(words);
  }
  for (const auto& [at_s, said] : moments) {
    std::string all;
    for (const std::string& words : said) {
      // A pack's end is not told twice where a device names it as its reason.
      const bool told = std::any_of(said.begin(), said.end(),
                                    [&](const std::string& other) { return other.ends_with(": " + words); });
      if (!told) all += (all.empty() ? "" : "; ") + words;
    }
    lines.push_back({at_s, 1,
                     wrapped(fmt::format("  {}  {}", wording.hands(at_s), all), kWidth,
                             std::string(wording.hands_columns() + 4, ' '))});
  }
  lines.push_back({day.off_s, 2, fmt::format("{}  off", wording.hands(day.off_s))});
  const double first_s = day.periods.front().from_s;
  for (double midnight_s = (std::floor(first_s / kDay_s) + 1.0) * kDay_s; midnight_s < day.off_s;
       midnight_s += kDay_s) {
    lines.push_back({midnight_s, -1, wording.hands(midnight_s) + "  the next day"});
  }
  sort_stably(lines,
              [](const Line& a, const Line& b) { return a.at_s != b.at_s ? a.at_s < b.at_s : a.order < b.order; });
  std::string text;
  for (const Line& line : lines) text += line.text + "\n";
  return text;
}

// "23:10 01:40 +1": the day's number once, at the end.
std::string stretch_words(double from_s, double until_s, const Wording& wording) {
  return wording.hands(from_s) + " " + wording.clock(until_s);
}

std::string packs_table(const ForecastReport& report, const Wording& wording) {
  const day::Scenario& day = report.file->scenario;
  const std::size_t times = 2 * wording.hands_columns() + 4;
  const std::size_t place = (kWidth - 33 - times) / 2;  // label and holder share what is left
  std::string text = fmt::format("{} {} {} {} {} {}\n", padded("pack", place), padded("where", place + 1),
                                 padded("from to", times), padded("charge", 12), "   given", " coldest");
  for (const forecast::Stint& stint : report.forecast->run.stints) {
    if (stint.in_s >= day.off_s) continue;
    const bool bay = day.holders[at(stint.holder)].charger_supply >= 0;
    const double out_s = std::min(stint.out_s, day.off_s);
    text += fmt::format(
        "{} {} {} {} {} {}\n", padded(day.packs[at(stint.pack)].params.label, place),
        padded(day.holders[at(stint.holder)].name, place + 1), padded(stretch_words(stint.in_s, out_s, wording), times),
        padded(fmt::format("{} to {}",
                           percent_words(stint.start_charge).substr(0, percent_words(stint.start_charge).find(' ')),
                           percent_words(stint.end_charge)),
               12),
        right_padded_left(bay ? "charging" : wh_words(stint.delivered_j), 8),
        right_padded_left(wording.temperature(stint.lowest_k), 8));
  }
  return text;
}

std::string devices_table(const ForecastReport& report, const Wording& wording) {
  const day::Scenario& day = report.file->scenario;
  std::string text =
      fmt::format("{} {} {} {} {} {} {}\n", padded("device", 22), " lowest", padded(" at", wording.clock_columns() + 1),
                  " source", "  cable", "contacts", "    off");
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    const forecast::DeviceUse& use = report.forecast->run.devices[d];
    if (use.lowest_v == forecast::kNever) continue;
    text += fmt::format("{} {} {} {} {} {} {}\n", padded(day.devices[d].name, 22),
                        right_padded_left(volts_words(use.lowest_v), 7),
                        padded(" " + wording.clock(use.lowest_at_s), wording.clock_columns() + 1),
                        right_padded_left(volts_words(use.lowest_source_v), 7),
                        right_padded_left(fmt::format("{:.0f} mV", 1000.0 * use.cable_drop_v), 7),
                        right_padded_left(fmt::format("{:.0f} mV", 1000.0 * use.contact_drop_v), 8),
                        right_padded_left(use.off_s >= 1.0 ? length_words(use.off_s) : "-", 7));
  }
  return text;
}

}  // namespace

std::string forecast_text(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  const forecast::Forecast& f = *report.forecast;
  const Wording wording(report.file->inventory.settings);
  std::string text = day.title.empty() ? std::string() : day.title + "\n";
  text += paragraph(verdict_words(report, wording));
  text += paragraph(one_loss_words(report, wording));
  if (f.reaches_wrap && f.run.first_loss.device >= 0)
    text += paragraph("As stated, if it goes on: " + loss_words(report, wording));

  text += heading("THE DAY") + time_line(report, wording);
  if (f.run.first_loss.device >= 0 && f.run.first_loss.at_s > day.off_s) {
    for (const forecast::PlannedChange& change : f.plan) {
      if (change.at_s <= day.off_s || change.at_s > f.run.first_loss.at_s) continue;
      text += wrapped(fmt::format("  {}  {} into {}, if it goes on",
                                  right_padded_left(wording.clock(change.at_s), wording.hands_columns()),
                                  day.packs[at(change.pack)].params.label, day.holders[at(change.holder)].name),
                      kWidth, std::string(wording.hands_columns() + 4, ' ')) +
              "\n";
    }
  }
  if (report.changes != nullptr) {
    const std::vector<std::string> late = change_warnings(day, *report.changes, wording);
    if (!late.empty()) text += heading("CHANGE SOONER");
    for (const std::string& words : late) text += paragraph(words, "  ");
  }
  text += heading("PACKS") + packs_table(report, wording);
  text += heading("LOWEST VOLTS, AND WHERE THE DROP GOES") + devices_table(report, wording);

  const forecast::Account& a = f.run.account;
  text += heading("ENERGY");
  text += paragraph(fmt::format(
      "Drawn {}: devices {}, cables {}, contacts {}, converters {}, lost in cells {}. Terms close to {:.0e}.",
      wh_words(a.drawn_j), wh_words(a.devices_j), wh_words(a.cables_j), wh_words(a.contacts_j),
      wh_words(a.converters_j), wh_words(a.cells_j), std::max(a.imbalance(), 1e-15)));
  if (report.odds != nullptr) text += heading("HOW SURE") + paragraph(odds_words(*report.odds, day, wording));
  if (report.measured != nullptr && !report.measured->empty()) {
    text += heading("MEASURED DRAW");
    for (const MeasuredOutcome& m : *report.measured) {
      text += paragraph(
          fmt::format("At {}: measured {:.1f} W, sum of parts {:.1f} W; everything behind it is taken {:.2f} times.",
                      m.draw->at, m.measured_w, m.predicted_w, m.factor));
    }
  }
  if (!report.file->warnings.empty()) {
    text += heading("LOOK AT");
    for (const Warning& warning : report.file->warnings)
      text += paragraph(fmt::format("line {}: {}", warning.place.line, warning.text), "  ");
  }
  text += heading("CAUTIONS");
  text += paragraph(
      "Estimates, not a safety clearance. Lithium packs can burn: never open, short, crush or mix them; observe "
      "polarity. "
      "Do not charge below " +
      wording.temperature(273.15) +
      " or unattended. Mains, generator and vehicle power belong to licensed people and local codes.");
  return text;
}

}  // namespace tillwrap::app
