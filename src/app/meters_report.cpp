#include "app/meters_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "app/assess.hpp"
#include "app/wording.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;
constexpr double kWorthSaying = 0.05;  // of the usable energy left behind

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string typed(double volts) { return fmt::format("{:.1f} V", volts); }

std::string whole_percent(double fraction) { return fmt::format("{:.0f} %", 100.0 * fraction); }

std::string wh_whole(double joules) { return fmt::format("{:.0f} Wh", joules / 3600.0); }

// To the minute under two hours, to five minutes above.
std::string about(double seconds) {
  const double step_s = seconds < 7200.0 ? 60.0 : 300.0;
  return length_words(std::round(seconds / step_s) * step_s);
}

bool main_device(const MetersReport& report, const meters::DeviceMeter& meter) {
  if (report.one_device) return true;
  const std::string& family = report.file->inventory.devices[at(meter.feed.device)].kind->family;
  return family == "recorder" || family == "mixer";
}

struct Text {
  const MetersReport& report;
  const day::Scenario& day = report.file->scenario;
  const kit::Inventory& inventory = report.file->inventory;
  Wording wording{report.file->inventory.settings};
  std::string out{};

  void line(std::string_view words, std::string_view indent = "  ") {
    const std::string first = std::string(indent) + std::string(words);
    out += wrapped(first, kWidth, std::string(indent)) + "\n";
  }

  [[nodiscard]] const std::string& device_name(const meters::DeviceMeter& meter) const {
    return day.devices[at(meter.feed.device)].name;
  }
  [[nodiscard]] const std::string& pack_title(const meters::DeviceMeter& meter) const {
    return inventory.packs[at(meter.feed.pack)].kind->title;
  }
  [[nodiscard]] std::string profile_words(const meters::DeviceMeter& meter) const {
    return meter.fits() ? meter.profiles.front().profile.title : "none fits";
  }
  [[nodiscard]] static const char* guide_words(const meters::DeviceMeter& meter) {
    switch (meter.guidance.guide) {
      case meters::Guide::volts:
        return "volts";
      case meters::Guide::clock_then_volts:
        return "both";
      case meters::Guide::clock:
        break;
    }
    return "clock";
  }

  [[nodiscard]] std::string labels(const meters::DeviceMeter& meter) const {
    std::string words;
    for (const int pack : meter.feed.packs) words += (words.empty() ? "" : ", ") + day.packs[at(pack)].params.label;
    return words;
  }

  [[nodiscard]] std::string set_cells(const meters::DeviceMeter& meter) const {
    const bool warns = meter.volts.warns;
    return fmt::format("{} {} {} {} {}", padded(profile_words(meter), 31),
                       right_padded_left(warns ? typed(meter.volts.warn_v) : "-", 6),
                       right_padded_left(warns ? typed(meter.volts.change_v) : "-", 6),
                       right_padded_left(typed(meter.volts.cutoff_v), 7), guide_words(meter));
  }

  // A name too long for its column has a line of its own.
  void set_row(const std::string& name, const std::string& indent, const std::string& cells) {
    const std::size_t width = 18 - indent.size();
    if (columns(name) > width) line(name, indent);
    out += fmt::format("{}{} {}\n", indent, padded(columns(name) > width ? "" : name, width), cells);
  }

  void settings() {
    out += fmt::format("{} {} {} {} {} {}\n", padded("SET", 18), padded("profile", 31), right_padded_left("warn", 6),
                       right_padded_left("change", 6), right_padded_left("cut-off", 7), "go by");
    // Devices with one kind of pack and the same answer stand in one row.
    struct Row {
      std::string names, cells;
    };
    std::vector<Row> rows;
    const auto& all = report.answer->meters;
    for (std::size_t k = 0; k < all.size(); ++k) {
      const bool first = k == 0 || all[k - 1].feed.device != all[k].feed.device;
      const bool several = !first || (k + 1 < all.size() && all[k + 1].feed.device == all[k].feed.device);
      if (!several) {
        const std::string cells = set_cells(all[k]);
        const auto same = std::find_if(rows.begin(), rows.end(), [&](const Row& row) { return row.cells == cells; });
        if (same != rows.end()) {
          same->names += ", " + device_name(all[k]);
        } else {
          rows.push_back({device_name(all[k]), cells});
        }
        continue;
      }
      if (first) line(device_name(all[k]));
      set_row("on " + labels(all[k]), "    ", set_cells(all[k]));
    }
    for (const Row& row : rows) set_row(row.names, "  ", row.cells);
  }

  // Below the cells' usual end of discharge there is nothing to regret.
  [[nodiscard]] bool above_usual_end(const meters::DeviceMeter& meter) const {
    const cell::PackParams& pack = day.packs[at(meter.feed.pack)].params;
    return meter.volts.own_cutoff_v > pack.series * pack.cell.cutoff_v;
  }

  void by_clock() {
    struct Line {
      std::string names, words;
    };
    std::vector<Line> lines;
    for (const meters::DeviceMeter& meter : report.answer->meters) {
      if (meter.profiles.empty() || meter.guidance.guide == meters::Guide::volts) continue;
      std::string words = fmt::format("{} from full", about(meter.discharge.curve.end_s()));
      if (!meter.feed.companions.empty())
        words += fmt::format(", {} of them side by side", 1 + meter.feed.companions.size());
      if (meter.guidance.guide == meters::Guide::clock_then_volts) {
        words += fmt::format("; volts tell more for about the last {:.0f} %",
                             10.0 * std::round(10.0 * meter.guidance.volts_below));
      } else if (meter.flat) {
        words += "; the volts do not move";
      }
      const auto same = std::find_if(lines.begin(), lines.end(), [&](const Line& one) { return one.words == words; });
      const std::string name = fmt::format("{} on {}", device_name(meter), labels(meter));
      if (same != lines.end()) {
        same->names += ", " + name;
      } else {
        lines.push_back({name, words});
      }
    }
    if (lines.empty()) return;
    out += "\nBY THE CLOCK: volts there tell less than the hours since the pack went in\n";
    for (const Line& one : lines) line(one.names + ": " + one.words + ".");
  }

  void notes() {
    std::vector<std::string> lines;
    int before = -1;
    for (const meters::DeviceMeter& meter : report.answer->meters) {
      const bool main_pack = meter.feed.device != before;  // what gives it most
      before = meter.feed.device;
      const std::string name = device_name(meter);
      const meters::Discharge& run = meter.discharge;
      if (meter.profiles.empty()) {
        const bool asleep = run.ended == forecast::Cause::pack_asleep;
        lines.push_back(fmt::format("{} on {}: {}, so there is nothing to read.", name, pack_title(meter),
                                    asleep ? "the pack takes so small a load for none and switches itself off"
                                           : "it does not run from this pack alone"));
        continue;
      }
      if (const std::string why = profile_why(meter); main_pack && !why.empty())
        lines.push_back(fmt::format("{} on {}: {}.", name, pack_title(meter), why));
      if (main_pack && !meter.set.empty() && !meter.fits()) {
        lines.push_back(fmt::format(
            "{} is set to {}, but no profile reads {}{}.", name, meter.set, pack_title(meter),
            meter.guidance.guide == meters::Guide::clock ? ": go by the clock" : " truly: go by its volts"));
      }
      if (!meter.set.empty() && meter.fits()) {
        const bool only_stands_by = meter.feed.delivered_j < 3600.0 && meter.set_index != 0;
        if (meter.set_index == 0) {
          lines.push_back(fmt::format("{} is set to {}: right for {}.", name, meter.set, pack_title(meter)));
        } else if (meter.set_index > 0 && !only_stands_by) {
          const meters::ProfileVerdict& set = meter.profiles[at(meter.set_index)];
          const bool passes = set.timing == meters::Timing::fine && set.error <= meter.profiles.front().error;
          lines.push_back(
              fmt::format("{} is set to {}: {} for {}. It reads {} when full, {} at half, {} with 10 % left. {} {}.",
                          name, meter.set, passes ? "passable, not made" : "wrong", pack_title(meter),
                          whole_percent(set.full), whole_percent(set.half), whole_percent(set.near_end),
                          passes ? "Its own is" : "Set", meter.profiles.front().profile.id));
        }
      }
      if (main_pack && main_device(report, meter) && meter.volts.guards) {
        lines.push_back(fmt::format(
            "{} on {}: the pack cuts itself off when {} sees {:.1f} V, before its own {:.1f} V. Set its cut-off to {}, "
            "or it goes dark unwarned.",
            name, pack_title(meter), name, meter.volts.trip_v, meter.volts.own_cutoff_v, typed(meter.volts.cutoff_v)));
      }
      if (main_device(report, meter) && run.wasted_j > kWorthSaying * run.curve.usable_j && above_usual_end(meter) &&
          run.ended == forecast::Cause::low_volts) {
        lines.push_back(
            fmt::format("{} on {}: it stops at {:.1f} V with {} still in the pack; {:.2f} V are lost on the way.", name,
                        pack_title(meter), meter.volts.own_cutoff_v, wh_whole(run.wasted_j), run.drop_v));
      }
    }
    if (lines.empty()) return;
    out += "\n";
    for (const std::string& words : lines) line(words, "");
  }

  [[nodiscard]] static std::string timing_words(const meters::ProfileVerdict& verdict) {
    switch (verdict.timing) {
      case meters::Timing::early:
        return fmt::format("empty with {} left", wh_whole(verdict.empty_left_j));
      case meters::Timing::late:
        return verdict.warns_s < 30.0 ? std::string("never: goes dark") : about(verdict.warns_s) + ": too late";
      case meters::Timing::fine:
        break;
    }
    return about(verdict.warns_s) + " before";
  }

  // Holders whose packs carry together.
  [[nodiscard]] std::string beside(const meters::DeviceMeter& meter) const {
    std::string names = day.holders[at(meter.feed.holder)].name;
    for (const int h : meter.feed.companions) names += ", " + day.holders[at(h)].name;
    return names;
  }

  void profiles(const meters::DeviceMeter& meter) {
    if (meter.profiles.empty()) return;
    const meters::Discharge& run = meter.discharge;
    out += "\n";
    line(fmt::format("{} ON {}", device_name(meter), pack_title(meter)), "");
    const std::size_t packs = 1 + meter.feed.companions.size();
    line(fmt::format("{} from full ({} to {}) {}at {:.1f} W out of {}, as in \"{}\"; {} usable{}.",
                     about(run.curve.end_s()), about(meter.low_end_s), about(meter.high_end_s),
                     packs > 1 ? fmt::format("with {} of them side by side ({}), ", packs, beside(meter)) : "",
                     run.source_w, packs > 1 ? "them together" : "the pack", day.periods[at(meter.feed.period)].name,
                     wh_whole(run.curve.usable_j), packs > 1 ? " in all" : ""));
    line(fmt::format("Near half, volts tell the time left to ± {}, the clock to ± {}.",
                     about(meter.guidance.half.volts_s), about(meter.guidance.half.clock_s)));
    out +=
        fmt::format("  {} {} {} {}  {}\n", padded(meter.list_known ? "profile reads at" : "profile (generic)", 33),
                    right_padded_left("full", 5), right_padded_left("half", 5), right_padded_left("10 %", 5), "warns");
    for (std::size_t k = 0; k < meter.profiles.size(); ++k) {
      const meters::ProfileVerdict& verdict = meter.profiles[k];
      const bool best = k == 0 && meter.fits();
      const bool set = static_cast<int>(k) == meter.set_index;
      const std::string mark = best ? "> " : "  ";
      out += fmt::format("  {} {} {} {}  {}\n", padded(mark + verdict.profile.title + (set ? " (set)" : ""), 33),
                         right_padded_left(whole_percent(verdict.full), 5),
                         right_padded_left(whole_percent(verdict.half), 5),
                         right_padded_left(whole_percent(verdict.near_end), 5), timing_words(verdict));
    }
  }

  [[nodiscard]] static std::string volts_band(const meters::Band& band, int digits) {
    return fmt::format("{:.{}f} {:.{}f}\u2013{:.{}f}", band.expected, digits, band.low, digits, band.high, digits);
  }

  void readings(const meters::ReadingList& list) {
    if (list.rows.empty()) return;
    const bool gauged = std::any_of(list.rows.begin(), list.rows.end(),
                                    [](const meters::Reading& row) { return row.gauge.has_value(); });
    out += "\n";
    line(fmt::format("IT SHOULD READ: {} on {}", day.devices[at(list.device)].name, day.holders[at(list.holder)].name),
         "");
    out += fmt::format("  {} {} {} {} {} {}\n", padded("", wording.hands_columns()), padded("pack", 10),
                       padded("volts", 15), padded(gauged ? "gauge %" : "", gauged ? 11 : 0), padded("amps", 14),
                       "change early at");
    for (const meters::Reading& row : list.rows) {
      std::string early;
      const bool always = row.early_v && *row.early_v > row.volts.high + 0.05;
      if (always) early = "whatever it reads";
      if (row.early_v && !always) early = fmt::format("{:.{}f} V", *row.early_v, row.volts.expected < 5.0 ? 2 : 1);
      if (!always && row.early_gauge && *row.early_gauge > 0.0 && *row.early_gauge < 1.0)
        early += (early.empty() ? "" : ", ") + whole_percent(*row.early_gauge);
      std::string gauge;
      if (row.gauge)
        gauge = fmt::format("{:.0f} {:.0f}\u2013{:.0f}", 100.0 * row.gauge->expected, 100.0 * row.gauge->low,
                            100.0 * row.gauge->high);
      const int digits = row.volts.expected < 5.0 ? 2 : 1;
      const char* when = row.moment == meters::Moment::before_change ? "change now" : "";
      const std::string last = early.empty() ? std::string(when) : early;
      std::string text =
          fmt::format("  {} {} {} {} {} {}", wording.hands(row.at_s), padded(day.packs[at(row.pack)].params.label, 10),
                      padded(volts_band(row.volts, digits), 15), padded(gauge, gauged ? 11 : 0),
                      padded(volts_band(row.amps, 2), 15), last);
      while (!text.empty() && text.back() == ' ') text.pop_back();
      out += text + "\n";
    }
    line(
        "First what is expected, then what eight days in ten show. At or below \"change early\" the pack would miss "
        "its change on one such day in ten.");
  }
};

}  // namespace

std::string profile_why(const meters::DeviceMeter& meter) {
  if (meter.own_index < 0 || meter.flat || meter.profiles.empty()) return {};
  const meters::ProfileVerdict& own = meter.profiles[at(meter.own_index)];
  const meters::ProfileVerdict& best = meter.profiles.front();
  const std::string reads = fmt::format("reads {} when full, {} at half, {} with 10 % left", whole_percent(own.full),
                                        whole_percent(own.half), whole_percent(own.near_end));
  if (meter.own_index > 0)
    return fmt::format("its own profile ({}) {} there and is {} off on the mean; {} is {} off and warns in time{}",
                       own.profile.title, reads, whole_percent(own.error), best.profile.title,
                       whole_percent(best.error),
                       meter.fits() ? ". Warmer, or with less load, its own is right again" : "");
  if (own.error > meters::kFits)
    return fmt::format("its own profile ({}) {} there: no guide", own.profile.title, reads);
  if (own.timing == meters::Timing::early)
    return fmt::format("{} is its own, but there it {} and is empty with {} to come: rather go by the volts",
                       own.profile.title, reads, wh_whole(own.empty_left_j));
  if (own.timing == meters::Timing::late)
    return fmt::format(
        "{} is its own, but there it {}: rather go by the volts", own.profile.title,
        own.warns_s < 30.0 ? std::string("never warns") : "warns only " + about(own.warns_s) + " before");
  return {};
}

meters::Options meters_options(const DayFile& file, int device) {
  return {.spread = odds_options(file, 128, 1).spread, .days = 128, .seed = 1, .device = device};
}

std::string meters_text(const MetersReport& report) {
  Text text{report};
  if (!text.day.title.empty()) text.out += text.day.title + "\n\n";
  if (report.answer->meters.empty()) {
    text.line(report.one_device ? "No pack feeds it on this day: there is nothing to set."
                                : "No device of this day has a meter the catalogue knows; name one: --device NAME.",
              "");
    return text.out;
  }
  text.settings();
  text.notes();
  text.by_clock();
  for (std::size_t k = 0; k < report.answer->readings.size(); ++k) {
    const meters::ReadingList& list = report.answer->readings[k];
    for (const meters::DeviceMeter& meter : report.answer->meters) {
      if (meter.feed.device == list.device && main_device(report, meter) &&
          (report.one_device || meter.feed.delivered_j > 3600.0))
        text.profiles(meter);
    }
    const auto own = std::find_if(report.answer->meters.begin(), report.answer->meters.end(),
                                  [&](const meters::DeviceMeter& meter) { return meter.feed.device == list.device; });
    if (own != report.answer->meters.end() && main_device(report, *own)) text.readings(list);
  }
  text.out += "\n";
  text.line("Estimates: compare cut-offs and profiles with what is written on your devices.", "");
  return text.out;
}

}  // namespace tillwrap::app
