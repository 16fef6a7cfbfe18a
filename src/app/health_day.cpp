#include "app/health_day.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <utility>

#include "app/assess.hpp"
#include "app/health_bands.hpp"
#include "app/health_log.hpp"
#include "app/kit_now.hpp"
#include "app/track_day.hpp"
#include "app/words.hpp"
#include "learn/packs_of_day.hpp"

namespace tillwrap::app {

namespace {

// Out of a holder for longer than this it was not a change: the holder stood empty.
constexpr std::size_t kMostOfAPoint = 40;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::int64_t midnight_us(const std::string& date) {
  const auto part = [&](std::size_t from, std::size_t count) { return std::stoi(date.substr(from, count)); };
  return journal::days_from_civil(part(0, 4), part(5, 2), part(8, 2)) * journal::kDay_us;
}

template <typename List, typename Name>
int index_of(const List& list, Name name_of, const std::string& name) {
  const auto found = std::find_if(list.begin(), list.end(), [&](const auto& one) { return name_of(one) == name; });
  return found == list.end() ? -1 : static_cast<int>(found - list.begin());
}

int pack_of(const day::Scenario& day, const std::string& label) {
  return index_of(
      day.packs, [](const day::Pack& p) { return p.params.label; }, label);
}
int holder_of(const day::Scenario& day, const std::string& name) {
  return index_of(
      day.holders, [](const day::Holder& h) { return h.name; }, name);
}

// The day's file knows what the line is about; the rest of that date's journal is of other kit.
bool of_this_kit(const journal::Line& line, const day::Scenario& day) {
  const auto device = [&](const std::string& name) {
    return index_of(
        day.devices, [](const day::Device& d) { return d.name; }, name);
  };
  const auto supply = [&](const std::string& name) {
    return index_of(
        day.supplies, [](const day::Supply& s) { return s.name; }, name);
  };
  switch (line.form->event) {
    case journal::Event::put_in:
      return pack_of(day, line.words("pack")) >= 0 && holder_of(day, line.words("holder")) >= 0;
    case journal::Event::taken_out: {
      const std::string& holder = line.words("holder");
      return pack_of(day, line.words("pack")) >= 0 && (holder.empty() || holder_of(day, holder) >= 0);
    }
    case journal::Event::period:
      return index_of(
                 day.periods, [](const day::Period& p) { return p.name; }, line.words("name")) >= 0;
    case journal::Event::reading: {
      const std::string& of = line.words("of");
      if (line.words("point") == "gauge") return pack_of(day, of) >= 0;
      if (line.words("point") == "amps") return holder_of(day, of) >= 0 || device(of) >= 0 || supply(of) >= 0;
      return device(of) >= 0;
    }
    default:
      return true;
  }
}

// A line by its date in its own zone and the day file's clock, s after midnight of the day's date.
double clock_s(const journal::Moment& moment, const std::string& date) {
  return static_cast<double>(moment.us + moment.offset_min * 60 * journal::kSecond_us - midnight_us(date)) / 1e6;
}

struct TakenOut {
  int pack = 0;
  double at_s = 0.0;
  std::optional<double> charge;
};

// Of each point at most `kMostOfAPoint` readings, evenly spread: a logger's thousands tell no more of a pack, as what
// the model is off by is the same in all, and each moment is an unknown.
void thin(TrackAnswer& day, std::vector<std::string>& notes) {
  std::map<std::pair<track::Where, int>, std::size_t> count, seen;
  for (const track::Reading& reading : day.weighed) ++count[{reading.where, reading.index}];
  std::vector<track::Reading> weighed;
  std::vector<TrackedReading> readings;
  for (std::size_t k = 0; k < day.weighed.size(); ++k) {
    const std::pair point(day.weighed[k].where, day.weighed[k].index);
    const std::size_t all = count[point], so_far = seen[point]++;
    if (all > kMostOfAPoint && so_far == 0)
      notes.push_back(fmt::format("of {} readings of {} of {} {}, evenly spread, are weighed", all,
                                  day.readings[k].point, day.readings[k].of, kMostOfAPoint));
    // The first of each of so many equal parts.
    const bool begins = so_far == 0 || so_far * kMostOfAPoint / all > (so_far - 1) * kMostOfAPoint / all;
    if (all > kMostOfAPoint && !begins) continue;
    weighed.push_back(day.weighed[k]);
    readings.push_back(day.readings[k]);
  }
  day.weighed = std::move(weighed);
  day.readings = std::move(readings);
}

}  // namespace

const DayPack* DayHealth::pack(const std::string& label) const {
  const auto found = std::find_if(packs.begin(), packs.end(), [&](const DayPack& one) { return one.label == label; });
  return found == packs.end() ? nullptr : &*found;
}

DaySpan span_of(const DayFile& file) {
  if (!file.date || file.date->size() != 10)
    throw decode::InputError(file.source, {1, 1}, "the day has no date, so its lines in the journal cannot be found",
                             "write under [day]: date = \"2026-11-25\"");
  const std::int64_t midnight = midnight_us(*file.date);
  const day::Scenario& day = file.scenario;
  const auto us = [&](double s) { return midnight + static_cast<std::int64_t>(1e6 * s); };
  constexpr double kZones_s = 14.0 * 3600.0;
  return {us(day.periods.front().from_s - kZones_s), us(day.off_s + day.overrun_s + 12.0 * 3600.0 + kZones_s)};
}

DayHealth health_of_day(const DayFile& file, const DayOfJournal& journal, const catalogue::Catalogue& catalogue) {
  DayHealth out{.day = file.source, .date = *file.date};
  const double first_s = file.scenario.periods.front().from_s;
  const double last_s = file.scenario.off_s + file.scenario.overrun_s + 12.0 * 3600.0;
  std::string text;
  std::vector<TakenOut> outs;
  std::size_t others = 0, reads = 0;
  for (const journal::Line& line : journal.lines) {
    const double at_s = clock_s(line.at, *file.date);
    if (line.form == nullptr || at_s < first_s || at_s > last_s) continue;
    if (!of_this_kit(line, file.scenario)) {
      ++others;
      continue;
    }
    out.offset_min = line.at.offset_min;
    text += line.text + "\n";
    reads += line.form->event == journal::Event::reading ? 1 : 0;
    if (line.form->event == journal::Event::taken_out)
      outs.push_back({pack_of(file.scenario, line.words("pack")), at_s, line.number("charge")});
    if (line.form->event == journal::Event::reading || line.form->event == journal::Event::taken_out)
      out.until_us = std::max(out.until_us, line.at.us);
  }
  if (reads == 0)
    throw decode::InputError(file.source, {1, 1},
                             fmt::format("the journal has no reading of this day's kit on {}", *file.date),
                             "check the date, and that names in the journal are those of the day file");
  TrackAnswer day = day_as_it_stands(file, text, "the journal of " + *file.date, {});
  for (const std::string& note : day.notes) out.notes.push_back(note.substr(note.find(": ") + 2));
  if (others > 0)
    out.notes.push_back(fmt::format("{} of that date left aside: of packs, holders or devices that are not in {}",
                                    plural(static_cast<std::int64_t>(others), "line"), file.source));
  thin(day, out.notes);
  // Volts by the last digit their display shows.
  std::map<int, std::vector<double>> shown;
  for (const track::Reading& reading : day.weighed) {
    if (reading.where == track::Where::device_v) shown[reading.index].push_back(reading.value);
  }
  for (track::Reading& reading : day.weighed) {
    if (reading.where == track::Where::device_v) reading.noise = learn::volts_scatter(shown[reading.index]);
  }
  learn::Options options{.spread = odds_options(file, 1, 1).spread};
  options.until_s = clock_s({out.until_us, out.offset_min}, *file.date);
  const std::int64_t start_us =
      midnight_us(*file.date) + static_cast<std::int64_t>(1e6 * first_s) - out.offset_min * 60 * journal::kSecond_us;
  const KitAnswer kit = kit_now(journal.state_before(start_us), catalogue, start_us);
  for (std::size_t p = 0; p < day.scenario.packs.size(); ++p) {
    day::Pack& pack = day.scenario.packs[p];
    const kit::PackItem& item = file.inventory.packs[p];
    // As new: what is found is told over that.
    if (!item.own_cells)
      pack.params.cell = cell::aged(pack.params.cell, {.capacity_fraction = 1.0 / item.health,
                                                       .resistance_factor = 1.0 / item.resistance_factor});
    options.start_sd.push_back(told_charge_sd(journal::Event::charged));
    const auto known = std::find_if(kit.packs.begin(), kit.packs.end(), [&](const KitPack& one) {
      return one.facts->label == pack.params.label && one.charge && one.facts->kind == pack.mount;
    });
    if (known == kit.packs.end()) continue;
    pack.start_charge = known->charge->middle;
    options.start_sd.back() = told_charge_sd(known->facts->charge->by);
  }
  std::vector<learn::Told> told;
  for (const TakenOut& one : outs) {
    if (one.charge) told.push_back({one.pack, one.at_s, *one.charge, told_charge_sd(journal::Event::taken_out)});
  }
  const learn::Found found = learn::packs_of_day(day.scenario, day.weighed, told, options);
  out.weighed = found.weighed.size();
  for (const learn::PackFound& one : found.packs) {
    const day::Pack& pack = day.scenario.packs[at(one.pack)];
    if (!day::rechargeable(pack)) continue;
    DayPack result{.label = pack.params.label, .capacity = {}, .resistance = {}, .with_pairs_sd = one.with_pairs_sd};
    const bool possible =
        !one.capacity || (one.capacity->value >= kLeastCapacity && one.capacity->value <= kMostCapacity);
    if (!possible)
      out.notes.push_back(
          fmt::format("{}: by these readings it would hold {:.0f} % of a new one's: another pack, or a "
                      "charge that was told wrong; nothing is told of it",
                      result.label, 100.0 * one.capacity->value));
    if (possible && one.capacity) result.capacity = band_of(*one.capacity);
    if (possible && one.resistance) result.resistance = band_of(*one.resistance);
    out.packs.push_back(std::move(result));
  }
  for (const learn::Inseparable& two : found.inseparable)
    out.together.push_back({day.scenario.packs[at(two.one)].params.label,
                            day.scenario.packs[at(two.other)].params.label, band_of(two.together)});
  for (const std::size_t r : found.aside)
    out.notes.push_back(fmt::format("{} of {} at {} left aside: no such day shows it", day.readings[r].point,
                                    day.readings[r].of, clock_words(day.readings[r].at_s)));
  if (!found.off.empty()) {
    double first_off_s = day.readings[found.off.front()].at_s, last_off_s = first_off_s;
    for (const std::size_t r : found.off) {
      first_off_s = std::min(first_off_s, day.readings[r].at_s);
      last_off_s = std::max(last_off_s, day.readings[r].at_s);
    }
    const std::string until = last_off_s > first_off_s ? " to " + clock_words(last_off_s) : "";
    out.notes.push_back(fmt::format(
        "{} at {}{} not weighed: nothing runs on volts so low, so it was off then, or the number was mistyped",
        plural(static_cast<std::int64_t>(found.off.size()), "reading"), clock_words(first_off_s), until));
  }
  out.fits = found.fits;
  if (!found.fits)
    out.notes.emplace_back(
        "some readings fit no packs behind this wiring: check holders, cables and loads of the day file against what "
        "was used");
  return out;
}

std::optional<journal::Test> day_as_test(const DayHealth& day, const std::string& label) {
  const DayPack* pack = day.pack(label);
  if (pack == nullptr || !pack->capacity) return std::nullopt;
  journal::Test out{.at_us = day.until_us,
                    .capacity = pack->capacity->middle,
                    .resistance = cell::prior_resistance_factor(std::min(1.0, pack->capacity->middle)),
                    .capacity_sd = sd_of(*pack->capacity),
                    .resistance_sd = fit::kResistanceSpread,
                    .log = day.day.substr(day.day.find_last_of('/') + 1),
                    .day = day.date};
  if (pack->resistance) {
    out.resistance = pack->resistance->middle;
    out.resistance_sd = (pack->resistance->high - pack->resistance->middle) / health::kBand;
  }
  return out;
}

namespace {

// What would tell a resistance.
std::string resistance_words(double with_pairs_sd) {
  if (!(with_pairs_sd > 0.0)) return "Its resistance cannot be told without volts.";
  const std::string how =
      "read volts to a hundredth, and the amps of each holder in use, with everything on; switch off what you can and "
      "read both again a minute later";
  if (with_pairs_sd <= fit::kTellsResistance)
    return fmt::format(
        "Its resistance cannot be told. What would: three times on such a day, {}. That tells it within {:.1f} of a "
        "new "
        "one's.",
        how, health::kBand * with_pairs_sd);
  return fmt::format(
      "Its resistance cannot be told, and on a day so warm and light two loads would not tell it either. In the cold: "
      "{}. Or log a discharge.",
      how);
}

}  // namespace

std::vector<std::pair<std::string, journal::Test>> tests_of_day(const DayHealth& day, const journal::State& state) {
  std::vector<std::pair<std::string, journal::Test>> out;
  for (const DayPack& one : day.packs) {
    const auto test = day_as_test(day, one.label);
    if (test && state.pack(one.label) != nullptr) out.emplace_back(one.label, *test);
  }
  return out;
}

std::string about_pack(const DayHealth& day, const std::string& label) {
  const DayPack* own = day.pack(label);
  if (own == nullptr) return day.fits ? label + " was not in use that day." : std::string();
  return own->resistance ? std::string() : resistance_words(own->with_pairs_sd);
}

std::vector<std::string> day_words(const DayHealth& day, const std::string& label) {
  const auto percent = [](const health::Band& band) {
    return fmt::format("{:.0f} % ({:.0f}\u2013{:.0f})", 100.0 * band.middle, 100.0 * band.low, 100.0 * band.high);
  };
  std::vector<std::string> out{
      fmt::format("By {} of {}, with all packs in ({}):", plural(static_cast<std::int64_t>(day.weighed), "reading"),
                  day.date, day.day.substr(day.day.find_last_of('/') + 1))};
  std::vector<const DayPack*> packs;
  for (const DayPack& one : day.packs) packs.push_back(&one);
  std::stable_partition(packs.begin(), packs.end(), [&](const DayPack* one) { return one->label == label; });
  for (const DayPack* one : packs) {
    std::string words = "  " + one->label + ": ";
    words += one->capacity ? "holds " + percent(*one->capacity) + " of a new one's" : "its capacity cannot be told";
    if (one->resistance)
      words += fmt::format(", resistance {:.1f} times ({:.1f}\u2013{:.1f})", one->resistance->middle,
                           one->resistance->low, one->resistance->high);
    out.push_back(words + ".");
  }
  for (const DayTogether& two : day.together)
    out.push_back(fmt::format(
        "  {} and {} cannot be told apart: together they hold {} of new. The amps of each one's holder, or the charge "
        "each comes out with, would tell which holds less.",
        two.one, two.other, percent(two.capacity)));
  if (const std::string about = about_pack(day, label); !about.empty()) out.push_back("  " + about);
  for (const std::string& note : day.notes) out.push_back("  " + note + ".");
  return out;
}

nlohmann::ordered_json day_json(const DayHealth& day) {
  using Json = nlohmann::ordered_json;
  const auto number = [](double value) { return std::round(1e5 * value) / 1e5; };
  const auto band = [&](const std::optional<health::Band>& one) {
    return one ? Json{{"low", number(one->low)}, {"middle", number(one->middle)}, {"high", number(one->high)}}
               : Json(nullptr);
  };
  Json out = {{"name", day.day}, {"date", day.date}, {"weighed", day.weighed}, {"packs", Json::array()}};
  for (const DayPack& one : day.packs)
    out["packs"].push_back(
        {{"pack", one.label}, {"capacity", band(one.capacity)}, {"resistance", band(one.resistance)}});
  out["together"] = Json::array();
  for (const DayTogether& two : day.together)
    out["together"].push_back({{"packs", {two.one, two.other}}, {"capacity", band(two.capacity)}});
  out["notes"] = day.notes;
  return out;
}

}  // namespace tillwrap::app
