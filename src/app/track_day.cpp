#include "app/track_day.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "app/assess.hpp"
#include "app/field_turns.hpp"
#include "forecast/model.hpp"
#include "journal/event.hpp"
#include "meters/scale.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

// What the instruments scatter by and what the model is off by, each time alike. Volts a cell: the middle of the table
// in docs/accuracy.md. The others from memory: a display of tenths of a volt, a gauge that learned long ago, a clamp
// meter.
constexpr double kVolts_sd = 0.05;
constexpr double kModel_v_a_cell = 0.02;
constexpr double kGauge_sd = 0.01;
constexpr double kGaugeModel = 0.05;
constexpr double kAmps_share = 0.03;
constexpr double kAmps_sd = 0.02;
// A device's own meter: a display of ten bars (0.1/sqrt 12); how far its scale may lie off the one computed for it is
// from memory.
constexpr double kMeter_sd = 0.03;
constexpr double kMeterModel = 0.10;
constexpr double kNight_s = 6.0 * 3600.0;
constexpr double kDay_s = 86400.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Numbered {
  journal::Line line;
  std::size_t number = 0;
  double at_s = 0.0;
};

template <typename List, typename Name>
int index_of(const List& list, Name name_of, const std::string& name) {
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (name_of(list[i]) == name) return static_cast<int>(i);
  }
  return -1;
}

class Reader {
 public:
  Reader(const DayFile& file, const std::string& source, TrackAnswer& out) : file_(file), source_(source), out_(out) {}

  [[noreturn]] void fail(const Numbered& at, const std::string& what, const std::string& hint) const {
    throw decode::InputError(source_, {static_cast<std::uint32_t>(at.number), 1}, what, hint);
  }

  std::vector<Numbered> lines(std::string_view text) const {
    std::vector<Numbered> found;
    std::map<std::string, std::pair<std::string, std::size_t>> seen;
    std::set<std::string> gone;
    std::size_t number = 0;
    while (!text.empty()) {
      const std::size_t end = std::min(text.find('\n'), text.size());
      std::string_view one = text.substr(0, end);
      text.remove_prefix(std::min(end + 1, text.size()));
      ++number;
      if (!one.empty() && one.back() == '\r') one.remove_suffix(1);
      if (one.find_first_not_of(" \t") == std::string_view::npos) continue;
      Numbered line{journal::parse_line(one, source_, number), number, 0.0};
      if (line.line.form == nullptr) {
        out_.notes.push_back(fmt::format("line {}: of a later version or unknown; left aside", number));
        continue;
      }
      const auto [known, fresh] = seen.emplace(line.line.id, std::make_pair(line.line.text, number));
      if (!fresh) {
        if (known->second.first != line.line.text)
          fail(line, fmt::format("the id of line {} again, with other words", known->second.second),
               "each event has an id of its own; take one of the two out");
        out_.notes.push_back(fmt::format("line {}: the same as line {}; counted once", number, known->second.second));
        continue;
      }
      if (line.line.form->event == journal::Event::taken_back) gone.insert(line.line.words("of"));
      line.at_s = seconds(line.line.at);
      found.push_back(std::move(line));
    }
    std::erase_if(found, [&](const Numbered& line) {
      return gone.count(line.line.id) > 0 || line.line.form->event == journal::Event::taken_back;
    });
    sort_stably(found, [](const Numbered& a, const Numbered& b) { return journal::before(a.line, b.line); });
    return found;
  }

  // Seconds after midnight of the day's first date, by the clock of the zone the line was written in.
  [[nodiscard]] double seconds(const journal::Moment& moment) const {
    const journal::Civil local = journal::civil_of(moment.us, moment.offset_min);
    const double clock_s = 3600.0 * local.hour + 60.0 * local.minute + local.second;
    if (file_.date && file_.date->size() == 10) {
      const auto part = [&](std::size_t from, std::size_t count) { return std::stoi(file_.date->substr(from, count)); };
      const std::int64_t first = journal::days_from_civil(part(0, 4), part(5, 2), part(8, 2));
      return clock_s +
             kDay_s * static_cast<double>(journal::days_from_civil(local.year, local.month, local.day) - first);
    }
    return clock_s < file_.scenario.periods.front().from_s - kNight_s ? clock_s + kDay_s : clock_s;
  }

  void require_in_day(const Numbered& line) const {
    const double start_s = file_.scenario.periods.front().from_s;
    const double end_s = file_.scenario.off_s + file_.scenario.overrun_s + 12.0 * 3600.0;
    if (line.at_s >= start_s - 1.0 && line.at_s <= end_s) return;
    fail(line, "this is not of the day: it lies before its first period or long after its end",
         file_.date ? "the day is " + *file_.date : "give the day file its date, or leave the line out");
  }

  int pack(const Numbered& line, const std::string& label) const {
    const int found = index_of(
        out_.scenario.packs, [](const day::Pack& p) { return p.params.label; }, label);
    if (found < 0) fail(line, "the day has no pack \"" + label + "\"", "allowed: a label of the day file");
    return found;
  }
  int holder(const Numbered& line, const std::string& name) const {
    const int found = index_of(
        out_.scenario.holders, [](const day::Holder& h) { return h.name; }, name);
    if (found < 0) fail(line, "the day has no holder \"" + name + "\"", "allowed: a holder of the day file");
    return found;
  }

  // It goes in then; what was planned for before stays, its own next turn has come now.
  void put_in(const Numbered& line) {
    day::Holder& holder_now = out_.scenario.holders[at(holder(line, line.line.words("holder")))];
    const int packed = pack(line, line.line.words("pack"));
    const std::string& mount = out_.scenario.packs[at(packed)].mount;
    if (std::find(holder_now.accepts.begin(), holder_now.accepts.end(), mount) == holder_now.accepts.end())
      fail(line, "\"" + line.line.words("pack") + "\" does not fit into \"" + holder_now.name + "\"",
           "put it where its mount fits");
    std::vector<day::Slot> slots;
    std::vector<day::Slot> later;
    for (std::size_t k = 0; k < holder_now.slots.size(); ++k) {
      const day::Slot& slot = holder_now.slots[k];
      (k == 0 || slot.at_s < line.at_s ? slots : later).push_back(slot);
    }
    const auto turn =
        std::find_if(later.begin(), later.end(), [&](const day::Slot& slot) { return slot.pack == packed; });
    if (turn != later.end()) later.erase(turn);
    const bool in_already = !slots.empty() && slots.back().pack == packed && !(slots.back().out_s <= line.at_s);
    if (!in_already) slots.push_back({.pack = packed, .at_s = line.at_s});
    slots.insert(slots.end(), later.begin(), later.end());
    holder_now.slots = slots;
  }

  void taken_out(const Numbered& line) {
    const std::string& named = line.line.words("holder");
    const std::string odd = take_out(out_.scenario, pack(line, line.line.words("pack")),
                                     named.empty() ? -1 : holder(line, named), line.at_s);
    if (!odd.empty()) {
      out_.notes.push_back(fmt::format("line {}: {}", line.number, odd));
    } else if (const auto charge = line.line.number("charge"); charge && out_.words.weigh_left) {
      const std::string& label = line.line.words("pack");
      add_reading(line, "charge", label,
                  {.where = track::Where::gauge,
                   .index = pack(line, label),
                   .at_s = line.at_s,
                   .value = *charge,
                   .noise = told_charge_sd(journal::Event::taken_out)});
    }
  }

  // Everything that begins after that moment comes so much later.
  void slide(double from_s, double by_s) {
    day::Scenario& day = out_.scenario;
    const auto later = [&](double& moment_s) {
      if (moment_s > from_s) moment_s += by_s;
    };
    for (std::size_t k = 0; k < day.periods.size(); ++k) {
      later(day.periods[k].from_s);
      later(day.periods[k].until_s);
    }
    for (std::size_t k = 0; k + 1 < day.periods.size(); ++k) {
      day.periods[k + 1].from_s = std::max(day.periods[k + 1].from_s, day.periods[k].from_s + 1.0);
      day.periods[k].until_s = day.periods[k + 1].from_s;
    }
    const double off_before_s = day.off_s;
    later(day.wrap_s);
    later(day.off_s);
    day.periods.back().until_s = std::max(day.periods.back().until_s, day.periods.back().from_s + 1.0);
    out_.slid_s += day.off_s - off_before_s;
    for (day::NoHands& closed : day.no_hands) {
      later(closed.from_s);
      later(closed.until_s);
    }
    for (day::Holder& one : day.holders) {
      for (std::size_t k = 1; k < one.slots.size(); ++k) {
        later(one.slots[k].at_s);
        later(one.slots[k].out_s);
      }
    }
  }

  void started(const Numbered& line) {
    const std::string& name = line.line.words("name");
    const int found = index_of(
        out_.scenario.periods, [](const day::Period& p) { return p.name; }, name);
    if (found < 0) fail(line, "the day has no period \"" + name + "\"", "allowed: a period of the day file");
    const double planned_s = out_.scenario.periods[at(found)].from_s;
    if (planned_s != line.at_s && found > 0) slide(std::min(planned_s, line.at_s) - 1.0, line.at_s - planned_s);
  }

  void reading(const Numbered& line) {
    const std::string& point = line.line.words("point");
    const std::string& of = line.line.words("of");
    track::Reading made{.at_s = line.at_s, .value = line.line.number("value").value_or(0.0)};
    const day::Scenario& day = out_.scenario;
    const int device = index_of(
        day.devices, [](const day::Device& d) { return d.name; }, of);
    if (point == "input volts") {
      if (device < 0) fail(line, "the day has no device \"" + of + "\"", "\"input volts\" are of a device");
      made.where = track::Where::device_v;
      made.index = device;
      made.noise = kVolts_sd;
      made.model = kModel_v_a_cell * cells_behind(device);
      made.width = 30.0;
    } else if (point == "gauge") {
      made.where = track::Where::gauge;
      made.index = pack(line, of);
      made.noise = kGauge_sd;
      made.model = kGaugeModel;
    } else if (point == "amps") {
      const int in_holder = index_of(
          day.holders, [](const day::Holder& h) { return h.name; }, of);
      const int supply = index_of(
          day.supplies, [](const day::Supply& s) { return s.name; }, of);
      if (in_holder >= 0) {
        made.where = track::Where::holder_a;
        made.index = in_holder;
      } else if (device >= 0) {
        made.where = track::Where::device_a;
        made.index = device;
      } else if (supply >= 0) {
        made.where = track::Where::supply_a;
        made.index = supply;
      } else {
        fail(line, "\"amps\" of \"" + of + "\": the day has no such holder, device or source",
             "read a box's amps as those of the holder that feeds it");
      }
      made.noise = kAmps_sd + kAmps_share * std::fabs(made.value);
      made.model = kAmps_share * std::fabs(made.value);
      made.width = 30.0;
    } else {
      if (device < 0) fail(line, "the day has no device \"" + of + "\"", "\"meter\" is of a device");
      const std::optional<meters::Profile> profile =
          meters::known_profile(catalogue::builtin(), file_.inventory.devices[at(device)]);
      if (!profile) {
        out_.notes.push_back(fmt::format(
            "line {}: the meter of {} is kept, not weighed: which profile it is set to is not known. Say so "
            "with the device in the day file, as meter = \"lithium-4s\", or read its volts",
            line.number, of));
        return;
      }
      made.where = track::Where::device_meter;
      made.index = device;
      made.scale = profile->scale.share;
      made.noise = kMeter_sd;
      // The model's volts count by how steep the display is there.
      const double steep_per_v = made.scale.at(made.scale.inverse(std::clamp(made.value, 0.01, 0.99))).slope;
      made.model = std::hypot(kMeterModel, steep_per_v * kModel_v_a_cell * cells_behind(device));
    }
    add_reading(line, point, of, made);
  }

 private:
  void add_reading(const Numbered& line, const std::string& point, const std::string& of, const track::Reading& made) {
    out_.readings.push_back({.id = line.line.id,
                             .point = point,
                             .of = of,
                             .where = made.where,
                             .at_s = line.at_s,
                             .value = made.value,
                             .line = line.number});
    out_.weighed.push_back(made);
  }

  // Cells in series of what feeds a device, the most there are.
  [[nodiscard]] double cells_behind(int device) const {
    const forecast::Model model(out_.scenario);
    int most = 1;
    for (const int h : model.feeding[at(device)].holders) {
      for (const day::Slot& slot : out_.scenario.holders[at(h)].slots)
        most = std::max(most, static_cast<int>(out_.scenario.packs[at(slot.pack)].params.series));
    }
    return most;
  }

  const DayFile& file_;
  const std::string& source_;
  TrackAnswer& out_;
};

}  // namespace

TrackAnswer day_as_it_stands(const DayFile& file, std::string_view lines, const std::string& source,
                             const TrackWords& words) {
  TrackAnswer out;
  out.file = &file;
  out.words = words;
  out.scenario = file.scenario;
  Reader reader(file, source, out);
  const std::vector<Numbered> found = reader.lines(lines);
  out.at_s = words.at_s.value_or(found.empty() ? file.scenario.call_s : found.back().at_s);
  for (const Numbered& line : found) {
    const journal::Event event = line.line.form->event;
    const bool of_the_day = event == journal::Event::put_in || event == journal::Event::taken_out ||
                            event == journal::Event::reading || event == journal::Event::period ||
                            event == journal::Event::late;
    if (!of_the_day) continue;
    reader.require_in_day(line);
    if (line.at_s > out.at_s + 1.0) {
      out.notes.push_back(fmt::format("line {}: later than the moment asked about; left aside", line.number));
      continue;
    }
    if (event == journal::Event::put_in) reader.put_in(line);
    if (event == journal::Event::taken_out) reader.taken_out(line);
    if (event == journal::Event::late) reader.slide(line.at_s, 60.0 * line.line.number("minutes").value_or(0.0));
    if (event == journal::Event::period) reader.started(line);
    if (event == journal::Event::reading) reader.reading(line);
  }
  out.emptied = settle_emptied(out.scenario, out.at_s);
  return out;
}

namespace {

TrackWords weighing_left(TrackWords words) {
  words.weigh_left = true;
  return words;
}

}  // namespace

DayTracking::DayTracking(const DayFile& file, std::string_view lines, const std::string& source,
                         const TrackWords& words)
    : asked_(std::make_unique<TrackAnswer>(day_as_it_stands(file, lines, source, weighing_left(words)))) {
  const track::Options options{.spread = odds_options(file, 1, 1).spread, .at_s = asked_->at_s, .roll_s = words.roll_s};
  steps_ = std::make_unique<track::Tracking>(asked_->scenario, asked_->weighed, options);
}

TrackAnswer DayTracking::answer() {
  TrackAnswer out = *asked_;
  look_at_emptied(out.scenario, out.at_s, out.emptied);
  out.answer = steps_->answer();
  return out;
}

TrackAnswer track_day(const DayFile& file, std::string_view lines, const std::string& source, const TrackWords& words,
                      const odds::Each& each) {
  DayTracking day(file, lines, source, words);
  track::in_steps(day.steps(), each);
  return day.answer();
}

}  // namespace tillwrap::app
