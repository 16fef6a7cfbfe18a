// Head, places, periods and measured draws of the day file.
#include "app/day_builder.hpp"

#include <algorithm>
#include <cmath>

#include "app/dates.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

constexpr double kDay_s = 86400.0;
constexpr double kLongestDay_s = 20.0 * 3600.0;
constexpr double kMaxReach = 3.0 * kDay_s;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string clock_words(double at_s) { return decode::quantity_words(at_s, Dimension::clock); }

// Names are printed in lines and tables, and stand in CSV and SVG.
void refuse_control_characters(const decode::Document& document, const decode::Node& node) {
  for (const std::string* text : {&node.key, &node.text}) {
    const bool plain = std::none_of(text->begin(), text->end(),
                                    [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
    if (!plain)
      throw decode::InputError(document.source, node.place, "a line break, tab or control character in a text",
                               "write it on one line");
  }
  for (const decode::Node& child : node.children) refuse_control_characters(document, child);
}

}  // namespace

DayBuilder::DayBuilder(const decode::Document& document, const catalogue::Catalogue& catalogue,
                       const ParamsFiles& params)
    : document_(document), catalogue_(catalogue), params_(params), day_(out_.scenario) {
  out_.source = document.source;
  out_.params = params;
}

DayFile DayBuilder::build() {
  Reader root(document_, document_.root, "the day file");
  if (document_.root.children.empty())
    root.fail_here("nothing is written in this file", "\"tillwrap init\" writes a starter day file");
  refuse_control_characters(document_, document_.root);
  // A misspelt table first: what it holds would be missed elsewhere.
  Reader names = root;
  for (const char* key : {"format", "title", "day", "place", "pack", "source", "box", "device", "holder", "charger",
                          "wire", "period", "measured", "spread", "settings", "rest", "prices"})
    names.allow(key);
  names.finish();
  read_head(root);
  read_places(root);
  read_prices(root);
  read_packs(root);
  read_sources(root);
  read_boxes(root);
  read_devices(root);
  read_holders(root);
  read_chargers(root);
  read_wires(root);
  join_holders();
  finish_devices();
  read_periods(root);
  check_slots();
  check_wiring();
  read_measured(root);
  read_spread(root);
  read_settings(root);
  read_rest(root);
  root.finish();
  return std::move(out_);
}

void DayBuilder::warn(decode::Place place, std::string text) { out_.warnings.push_back({place, std::move(text)}); }

void DayBuilder::name_once(const Reader& reader, const std::string& key, const std::string& name,
                           const std::string& what) {
  if (name.empty()) reader.fail(key, "an empty name", "give it a short name");
  if (name.find('.') != std::string::npos) {
    reader.fail(key, "the name \"" + name + "\" has a dot in it",
                "dots separate a thing from its socket; use another name");
  }
  const auto [found, fresh] = names_.emplace(name, std::make_pair(what, reader.place(key)));
  if (!fresh) {
    reader.fail(
        key, "the label \"" + name + "\" is used twice",
        "line " + std::to_string(found->second.second.line) + " already names a " + found->second.first + " so");
  }
}

void DayBuilder::read_head(Reader& root) {
  if (!root.has("format")) root.fail_here("the day file has no key \"format\"", "add format = 1");
  if (root.integer("format", 0, 1'000'000) != 1)
    root.fail("format", "this program reads day files of format 1 only", "write format = 1");
  day_.title = root.text_or("title", "");
  Reader day = root.table("day", "the day");
  day_.call_s = day.quantity("call", Dimension::clock);
  const auto after = [&](double s) { return s < day_.call_s ? s + kDay_s : s; };
  const double wrap_s = day.quantity("wrap", Dimension::clock);
  day_.wrap_s = after(wrap_s);
  if (day_.wrap_s - day_.call_s > kLongestDay_s || day_.wrap_s == day_.call_s) {
    day.fail("wrap", "wrap " + clock_words(wrap_s) + " comes before call " + clock_words(day_.call_s),
             "a day may last 20 h at most and may pass midnight; give wrap after call");
  }
  day_.off_s = day_.wrap_s;
  day.allow("off");
  if (day.has("off")) {
    const double off_s = after(day.quantity("off", Dimension::clock));
    if (off_s < day_.wrap_s || off_s - day_.wrap_s > 6 * 3600.0) {
      day.fail("off", "the kit goes off at " + clock_words(off_s) + ", which is not within 6 h after wrap",
               "off is the end of wrap-out");
    }
    day_.off_s = off_s;
  }
  day_.overrun_s = day.quantity_or("overrun", Dimension::duration, 0.0, {.least = 0.0, .most = 12 * 3600.0});
  day_.reserve_s = day.quantity_or("reserve", Dimension::duration, 900.0, {.least = 0.0, .most = 4 * 3600.0});
  if (const decode::Node* date = day.take("date")) {
    if (date->kind != decode::Kind::date && date->kind != decode::Kind::text) {
      day.fail("date", "a date is expected", "write it as 2026-11-25");
    }
    if (!is_iso_date(date->text))
      day.fail("date", "\"" + date->text.substr(0, 40) + "\" is no date", "write it as 2026-11-25");
    out_.date = date->text;
  }
  day.finish();
}

double DayBuilder::clock(double written_s) const {
  const double start_s = day_.periods.empty() ? day_.call_s : day_.periods.front().from_s;
  return written_s < start_s ? written_s + kDay_s : written_s;
}

double DayBuilder::clock_in_day(double written_s, decode::Place where, const std::string& what) const {
  const double at_s = clock(written_s);
  const double last_s = day_.off_s + day_.overrun_s;
  if (at_s <= last_s) return at_s;
  const double first_s = day_.periods.empty() ? day_.call_s : day_.periods.front().from_s;
  throw decode::InputError(
      document_.source, where, what + " at " + clock_words(written_s) + " lies outside the day",
      "the day runs from " + clock_words(first_s) + " to " + clock_words(last_s) + ", overrun included");
}

// "11:30-12:25", with a hyphen or a dash.
std::pair<double, double> DayBuilder::clock_span(const std::string& text, decode::Place where) {
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text.compare(i, 3, "\xE2\x80\x93") == 0) {
      plain += '-';
      i += 2;
    } else {
      plain += text[i];
    }
  }
  const std::size_t dash = plain.find('-');
  try {
    if (dash == std::string::npos) throw decode::QuantityError("no two times in \"" + text + "\"", "");
    const double from_s =
        clock_in_day(decode::parse_quantity(plain.substr(0, dash), Dimension::clock), where, "a stretch");
    const double until_s = clock(decode::parse_quantity(plain.substr(dash + 1), Dimension::clock));
    if (until_s <= from_s) throw decode::QuantityError("\"" + text + "\" ends before it begins", "");
    return {from_s, until_s};
  } catch (const decode::QuantityError& error) {
    throw decode::InputError(document_.source, where, error.what(), "write a stretch as \"11:30-12:25\"");
  }
}

void DayBuilder::read_places(Reader& root) {
  const auto add = [&](day::Place place) {
    places_[place.name] = static_cast<int>(day_.places.size());
    day_.places.push_back(std::move(place));
  };
  // A closed bag of about 8 kg of metal, plastic and foam: heat capacity and loss are common practice, no source.
  add({.name = "bag", .kind = day::Place::Kind::bag, .heat_capacity_j_k = 6000.0, .cooling_w_k = 1.0});
  add({.name = "cart", .kind = day::Place::Kind::air});
  add({.name = "open", .kind = day::Place::Kind::air});
  add({.name = "camera", .kind = day::Place::Kind::air});
  add({.name = "pocket", .kind = day::Place::Kind::between, .fixed_k = 303.15, .share = 0.7});
  add({.name = "cast", .kind = day::Place::Kind::between, .fixed_k = 305.15, .share = 0.6});
  add({.name = "van", .kind = day::Place::Kind::between, .fixed_k = 291.15, .share = 0.5});
  add({.name = "indoors", .kind = day::Place::Kind::fixed, .fixed_k = 293.15});
  for (Reader& reader : root.tables("place", "place")) {
    const std::string name = reader.text("name");
    const auto known = places_.find(name);
    day::Place place = known == places_.end() ? day::Place{.name = name} : day_.places[at(known->second)];
    if (reader.has("like") || known == places_.end()) {
      const std::string like = reader.one_of("like", {"air", "bag", "fixed", "between"});
      place.kind = like == "air"     ? day::Place::Kind::air
                   : like == "bag"   ? day::Place::Kind::bag
                   : like == "fixed" ? day::Place::Kind::fixed
                                     : day::Place::Kind::between;
      if (place.kind == day::Place::Kind::bag && place.heat_capacity_j_k <= 0.0) place.heat_capacity_j_k = 6000.0;
    }
    place.cooling_w_k =
        reader.quantity_or("loses", Dimension::conductance_heat, place.cooling_w_k, {.most = 100.0, .above = 0.0});
    place.heat_capacity_j_k = reader.quantity_or("heat_capacity", Dimension::heat_capacity, place.heat_capacity_j_k,
                                                 {.least = 0.0, .most = 1e6});
    if (place.kind == day::Place::Kind::bag && place.heat_capacity_j_k < 100.0) {
      reader.fail("heat_capacity", "a bag needs a heat capacity of at least 100 J/K", "about 1 kJ/K for each kilogram");
    }
    place.fixed_k =
        reader.quantity_or("temperature", Dimension::temperature, place.fixed_k, {.least = 213.15, .most = 343.15});
    place.share = reader.quantity_or("share", Dimension::fraction, place.share, {.least = 0.0, .most = 1.0});
    reader.finish();
    if (known == places_.end()) {
      add(place);
    } else {
      day_.places[at(known->second)] = place;
    }
  }
}

int DayBuilder::place_index(Reader& reader, const std::string& key, const std::string& otherwise) {
  const std::string name = reader.text_or(key, otherwise);
  const auto found = places_.find(name);
  if (found != places_.end()) return found->second;
  std::vector<std::string> known;
  std::string list;
  for (const day::Place& place : day_.places) {
    known.push_back(place.name);
    list += (list.empty() ? "" : ", ") + place.name;
  }
  const auto near = decode::nearest(name, known);
  reader.fail(key, "there is no place \"" + name + "\"",
              (near ? "did you mean \"" + *near + "\"? " : "") + std::string("places: ") + list);
}

int DayBuilder::new_port(const std::string& name, int place) {
  day_.ports.push_back({.name = name, .place = place});
  return static_cast<int>(day_.ports.size()) - 1;
}

void DayBuilder::read_periods(Reader& root) {
  std::vector<Reader> readers = root.tables("period", "period");
  if (readers.empty()) root.fail_here("the day has no [[period]]", "write at least one, from call on");
  const auto devices_named = [&](Reader& reader, const std::string& key, const decode::Node& node) {
    if (node.kind != decode::Kind::text)
      reader.fail(key, "names of devices or groups are expected", "for example [\"monitor\"]");
    std::vector<int> found;
    const auto device = devices_.find(node.text);
    if (device != devices_.end()) found.push_back(device->second);
    for (std::size_t d = 0; d < device_notes_.size(); ++d) {
      if (device_notes_[d].group == node.text && !node.text.empty()) found.push_back(static_cast<int>(d));
    }
    if (found.empty()) {
      std::vector<std::string> known;
      for (const auto& entry : devices_) known.push_back(entry.first);
      for (const DeviceNote& note : device_notes_) known.push_back(note.group);
      const auto near = decode::nearest(node.text, known);
      reader.fail(key, "no device or group is named \"" + node.text + "\"",
                  near ? "did you mean \"" + *near + "\"?" : "");
    }
    return found;
  };
  for (Reader& reader : readers) {
    day::Period period;
    period.name = reader.text("name");
    const double written_s = reader.quantity("from", Dimension::clock);
    period.from_s = written_s;
    if (!day_.periods.empty()) {
      period.from_s = clock(written_s);
      const day::Period& before = day_.periods.back();
      if (period.from_s >= day_.off_s) {
        reader.fail("from",
                    "period \"" + period.name + "\" begins at " + clock_words(written_s) + ", outside the day: " +
                        clock_words(day_.periods.front().from_s) + " to " + clock_words(day_.off_s),
                    "periods are written in the order of the day, the last before off");
      }
      if (period.from_s <= before.from_s) {
        reader.fail("from",
                    "period \"" + period.name + "\" begins at " + clock_words(written_s) + ", not after \"" +
                        before.name + "\"",
                    "periods are written in the order of the day");
      }
      if (before.until_s > period.from_s) {
        reader.fail("from",
                    "period \"" + period.name + "\" overlaps \"" + before.name + "\", which lasts until " +
                        clock_words(before.until_s),
                    "end one before the next begins, or leave out until");
      }
      if (before.until_s > 0.0 && before.until_s < period.from_s) {
        reader.fail("from",
                    "nothing is said about " + clock_words(before.until_s) + " to " + clock_words(period.from_s),
                    "add a period, or leave out until");
      }
      day_.periods.back().until_s = period.from_s;
    } else if (period.from_s > day_.call_s) {
      reader.fail("from", "the first period begins after call " + clock_words(day_.call_s),
                  "begin it at call or earlier; where it begins before midnight, write call as " +
                      clock_words(day_.call_s + kDay_s));
    }
    reader.allow("until");
    if (reader.has("until")) {
      const double until_s = reader.quantity("until", Dimension::clock);
      const bool next_day = until_s < period.from_s && until_s + kDay_s <= day_.off_s + day_.overrun_s;
      period.until_s = next_day ? until_s + kDay_s : until_s;
    }
    if (period.until_s > 0.0 && period.until_s <= period.from_s) {
      reader.fail("until", "period \"" + period.name + "\" ends before it begins", "give a later time");
    }
    period.air_k = reader.quantity("air", Dimension::temperature, {.least = 213.15, .most = 333.15});
    for (std::size_t d = 0; d < day_.devices.size(); ++d) {
      const int off = static_cast<int>(day_.devices[d].modes.size()) - 1;
      period.mode.push_back(device_notes_[d].usually_off ? off : 0);
    }
    const auto set_mode = [&](const std::string& key, bool off) {
      const decode::Node* list = reader.take(key);
      if (list == nullptr) return;
      if (list->kind != decode::Kind::array)
        reader.fail(key, "a list of names is expected", "for example [\"receivers\"]");
      for (const decode::Node& node : list->children) {
        for (const int d : devices_named(reader, key, node)) {
          period.mode[at(d)] = off ? static_cast<int>(day_.devices[at(d)].modes.size()) - 1 : 0;
        }
      }
    };
    set_mode("on", false);
    set_mode("off", true);
    if (auto modes = reader.maybe_table("modes", "modes of period \"" + period.name + "\"")) {
      for (const decode::Node& node : modes->node().children) {
        const std::string mode = modes->text(node.key);
        decode::Node name = node;
        name.text = node.key;
        for (const int d : devices_named(*modes, node.key, name)) {
          const auto& known = day_.devices[at(d)].modes;
          const auto found =
              std::find_if(known.begin(), known.end(), [&](const day::Mode& m) { return m.name == mode; });
          if (found == known.end()) {
            std::string list;
            for (const day::Mode& m : known) list += (list.empty() ? "" : ", ") + m.name;
            modes->fail(node.key, "\"" + day_.devices[at(d)].name + "\" has no mode \"" + mode + "\"",
                        "its modes: " + list);
          }
          period.mode[at(d)] = static_cast<int>(found - known.begin());
        }
      }
      modes->finish();
    }
    period.supply_live.assign(day_.supplies.size(), 0);
    for (const std::string& name : reader.texts_or_none("live")) {
      const auto found = supplies_.find(name);
      if (found == supplies_.end()) {
        std::vector<std::string> known;
        for (const auto& entry : supplies_) known.push_back(entry.first);
        const auto near = decode::nearest(name, known);
        reader.fail(
            "live", "no source is named \"" + name + "\"",
            near ? "did you mean \"" + *near + "\"?" : "live lists mains adapters and vehicle sockets that have power");
      }
      period.supply_live[at(found->second)] = 1;
    }
    day_.periods.push_back(period);
    // Stretches out of reach: whole period by place name, or part of it.
    if (const decode::Node* closed = reader.take("no_hands")) {
      const auto place_of = [&](const std::string& name, decode::Place where) {
        const auto found = places_.find(name);
        if (found == places_.end()) {
          std::vector<std::string> known;
          for (const day::Place& place : day_.places) known.push_back(place.name);
          const auto near = decode::nearest(name, known);
          throw decode::InputError(
              document_.source, where, "there is no place \"" + name + "\"",
              near ? "did you mean \"" + *near + "\"?" : "no_hands names places, such as bag or cast");
        }
        return found->second;
      };
      if (closed->kind == decode::Kind::array) {
        for (const decode::Node& node : closed->children) {
          if (node.kind != decode::Kind::text)
            reader.fail("no_hands", "a list of places is expected", "write no_hands = [\"bag\"]");
          day_.no_hands.push_back({.place = place_of(node.text, node.place), .from_s = period.from_s, .until_s = -1.0});
        }
      } else if (closed->kind == decode::Kind::table) {
        for (const decode::Node& node : closed->children) {
          if (node.kind != decode::Kind::text)
            reader.fail("no_hands", "a stretch of time is expected", "write bag = \"11:30-12:25\"");
          const auto [from_s, until_s] = clock_span(node.text, node.place);
          day_.no_hands.push_back({.place = place_of(node.key, node.key_place), .from_s = from_s, .until_s = until_s});
        }
      } else {
        reader.fail("no_hands", "a list of places or a table of stretches is expected",
                    "write no_hands = [\"bag\"] or no_hands = { bag = \"11:30-12:25\" }");
      }
    }
    reader.finish();
    // A whole-period stretch ends with its period, known once the next one is read.
  }
  day::Period& last = day_.periods.back();
  if (last.until_s <= 0.0) last.until_s = std::max(day_.off_s, last.from_s + 60.0);
  for (day::NoHands& stretch : day_.no_hands) {
    if (stretch.until_s >= 0.0) continue;
    for (const day::Period& period : day_.periods) {
      if (period.from_s != stretch.from_s) continue;
      // Past wrap the last period's load and reach go on.
      stretch.until_s = &period == &day_.periods.back() ? kMaxReach : period.until_s;
    }
  }
}

// One standard deviation of what is not known exactly.
void DayBuilder::read_spread(Reader& root) {
  auto reader = root.maybe_table("spread", "the spread");
  if (!reader) return;
  odds::Spread& spread = out_.spread;
  const decode::Allowed share{.least = 0.0, .most = 1.0};
  out_.own_load_spread = reader->has("load");
  spread.load = reader->quantity_or("load", Dimension::fraction, spread.load, share);
  spread.load_each = reader->quantity_or("load_each", Dimension::fraction, spread.load_each, share);
  spread.capacity = reader->quantity_or("capacity", Dimension::fraction, spread.capacity, share);
  spread.capacity_each = reader->quantity_or("capacity_each", Dimension::fraction, spread.capacity_each, share);
  spread.resistance = reader->quantity_or("resistance", Dimension::fraction, spread.resistance, share);
  spread.start_charge = reader->quantity_or("start_charge", Dimension::fraction, spread.start_charge, share);
  spread.bag = reader->quantity_or("bag", Dimension::fraction, spread.bag, share);
  spread.overrun = reader->quantity_or("overrun", Dimension::fraction, spread.overrun, share);
  spread.air_k =
      reader->quantity_or("air", Dimension::temperature_difference, spread.air_k, {.least = 0.0, .most = 30.0});
  reader->finish();
}

DayFile read_day(const decode::Document& document, const catalogue::Catalogue& catalogue, const ParamsFiles& params) {
  return DayBuilder(document, catalogue, params).build();
}

void DayBuilder::read_prices(Reader& root) {
  auto table = root.maybe_table("prices", "the prices");
  if (!table) return;
  for (const decode::Node& entry : table->node().children) {
    const std::string& id = entry.key;
    const catalogue::Entry* kind = catalogue_.pack(id);
    if (kind == nullptr) kind = catalogue_.box(id);
    if (kind == nullptr) kind = catalogue_.holder(id);
    if (kind == nullptr) kind = catalogue_.source(id);
    if (kind == nullptr) kind = catalogue_.charger(id);
    if (kind == nullptr) kind = catalogue_.connector(id);
    if (kind == nullptr && id != "lead") {
      std::vector<std::string> ids{"lead"};
      const auto all = [&](const auto& list) {
        for (const auto& kind : list) ids.push_back(kind.id);
      };
      all(catalogue_.packs);
      all(catalogue_.boxes);
      all(catalogue_.holders);
      all(catalogue_.sources);
      all(catalogue_.chargers);
      all(catalogue_.connectors);
      const auto near = decode::nearest(id, ids);
      throw decode::InputError(document_.source, entry.key_place,
                               "the catalogue has nothing with a price called \"" + id.substr(0, 60) + "\"",
                               near ? "did you mean \"" + *near + "\"?"
                                    : "write an id of packs, boxes, holders, sources, chargers or connectors, or lead");
    }
    out_.inventory.prices[kind == nullptr ? id : kind->id] = table->number(id, {.least = 0.0, .most = 1e6});
  }
  table->finish();
}

void DayBuilder::read_settings(Reader& root) {
  auto table = root.maybe_table("settings", "the settings");
  if (!table) return;
  kit::Settings& settings = out_.inventory.settings;
  for (const char* key : {"clock", "temperature", "weight"}) table->allow(key);
  if (table->has("clock")) settings.twelve_hours = table->one_of("clock", {"24 h", "12 h"}) == "12 h";
  if (table->has("temperature")) settings.fahrenheit = table->one_of("temperature", {"°C", "°F"}) == "°F";
  if (table->has("weight")) settings.pounds = table->one_of("weight", {"kg", "lb"}) == "lb";
  settings.currency = table->text_or("currency", settings.currency);
  const std::string& currency = settings.currency;
  if (currency.size() != 3 ||
      !std::all_of(currency.begin(), currency.end(), [](char c) { return c >= 'A' && c <= 'Z'; }))
    table->fail("currency", "\"" + currency.substr(0, 20) + "\" is no currency code",
                "write three capital letters as in ISO 4217, such as EUR");
  table->finish();
}

}  // namespace tillwrap::app
