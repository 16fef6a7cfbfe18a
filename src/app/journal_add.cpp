#include "app/journal_add.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "app/dates.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {

namespace {

using decode::Dimension;
using journal::Civil;
using journal::Moment;
using journal::Value;

constexpr std::int64_t kMinute_us = 60 * journal::kSecond_us;

// The shortest decimal that reads back as the same number.
std::string number_text(double value) { return fmt::format("{}", value); }

[[noreturn]] void refuse(const std::string& wrong, const std::string& advice) {
  throw decode::InputError("command line", {1, 1}, wrong, advice);
}

[[noreturn]] void refuse_time(const std::string& text) {
  refuse(fmt::format("--at: \"{}\" is no time", text.substr(0, 60)),
         "write \"2026-11-25 21:30\", \"21:30\", \"yesterday 21:30\", \"10 min ago\" or 2026-11-25T21:30:00+01:00");
}

Moment at_local(const Civil& civil, const Zone& zone, std::vector<std::string>& notes) {
  const Zone::Local local = zone.offset_of_local(civil);
  const Moment out{journal::us_of(civil, local.offset_min), local.offset_min};
  if (local.missing) {
    refuse(fmt::format("--at: {:02}:{:02} did not exist on that day: the clocks went forward over it", civil.hour,
                       civil.minute),
           "write the time with its zone, such as " + journal::moment_text(out));
  }
  if (local.twice) {
    notes.push_back(fmt::format("{:02}:{:02} came twice that night, as the clocks went back: the first is taken, {}",
                                civil.hour, civil.minute, journal::moment_text(out)));
  }
  return out;
}

std::optional<double> clock_s(const std::string& text) {
  try {
    const double s = decode::parse_quantity(text, Dimension::clock);
    if (s < 0.0 || s >= 86400.0) return std::nullopt;
    return s;
  } catch (const decode::QuantityError&) {
    return std::nullopt;
  }
}

Civil with_clock(Civil day, double s) {
  const int whole = static_cast<int>(std::lround(s));
  day.hour = whole / 3600;
  day.minute = whole / 60 % 60;
  day.second = whole % 60;
  return day;
}

std::string plain(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](char c) {
    return c == ' ' || c == '-' ? '_' : c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  });
  return text;
}

// "80 %" or 0.8; "1.4" or "1.4 ×"; "40 min" or 40; "5.2 Ah" or 5.2.
double typed_number(const journal::Key& key, const std::string& text, const std::string& unit, Dimension dimension,
                    double scale) {
  try {
    const bool bare = text.find_first_not_of("0123456789.+-eE") == std::string::npos;
    const double value = decode::parse_quantity(bare && !unit.empty() ? text + " " + unit : text, dimension) / scale;
    // Without the last bits a change of unit leaves: 1400 mA is 1.4 A.
    double short_value = value;
    const std::string digits = fmt::format("{:.12g}", value);
    std::from_chars(digits.data(), digits.data() + digits.size(), short_value);
    return short_value;
  } catch (const decode::QuantityError& error) {
    refuse(fmt::format("--{}: {}", key.name, error.what()), error.hint);
  }
}

void check_range(const journal::Key& key, const std::string& text, double value, double least, double most,
                 bool as_fraction) {
  if (value >= least && value <= most) return;
  const auto say = [&](double x) { return as_fraction ? number_text(100.0 * x) + " %" : number_text(x); };
  refuse(fmt::format("--{} {} is out of range", key.name, text.substr(0, 60)),
         fmt::format("allowed: {} to {}", say(least), say(most)));
}

struct Typed {
  const SaidEvent& said;
  const journal::Form& form;
  std::int64_t now_us;
  const Zone& zone;
  const catalogue::Catalogue& catalogue;
  const std::function<std::vector<std::string>(const std::string&)>& ids_like;
  std::string point;  // of a reading
};

std::string number_json(const journal::Key& key, const std::string& text, const std::string& unit, Dimension dimension,
                        double scale = 1.0) {
  const double value = typed_number(key, text, unit, dimension, scale);
  check_range(key, text, value, key.least, key.most, dimension == Dimension::fraction);
  return number_text(value);
}

std::string line_id(const Typed& typed, const std::string& text) {
  constexpr std::size_t kLeast = 4;
  const std::string part = text.size() > 3 && text.starts_with("\xE2\x80\xA6") ? text.substr(3) : text;
  if (part.size() < kLeast)
    refuse("\"" + part + "\" is too short to name a line", "give at least four letters of its id");
  const std::vector<std::string> found = typed.ids_like(part);
  if (found.empty())
    refuse("no line has an id like \"" + part.substr(0, 60) + "\"", "see the ids with: tillwrap journal list");
  if (found.size() > 1)
    refuse("more than one line has an id like \"" + part.substr(0, 60) + "\"", "give more letters of it");
  return found.front();
}

std::string value_json(const Typed& typed, const journal::Key& key, const std::string& text) {
  switch (key.value) {
    case Value::label:
      if (typed.form.event == journal::Event::acquired && key.name == "kind") {
        const catalogue::PackKind* kind = typed.catalogue.pack(text);
        if (kind == nullptr)
          refuse("--kind: the catalogue has no pack \"" + text.substr(0, 60) + "\"",
                 catalogue::unknown_id_hint(typed.catalogue, "packs", text));
        return journal::json_text(kind->id);
      }
      return journal::json_text(text);
    case Value::text:
      return journal::json_text(text);
    case Value::date:
      if (!is_iso_date(text))
        refuse(fmt::format("--{}: \"{}\" is no date", key.name, text.substr(0, 60)), "write it as 2024-03-01");
      return journal::json_text(text);
    case Value::id:
      return journal::json_text(line_id(typed, text));
    case Value::point:
      if (journal::point_of(text) == nullptr)
        refuse("there is no reading \"" + text.substr(0, 60) + "\"",
               "allowed: \"input volts\" of a device, meter of a device, gauge of a pack, amps of a box, source or "
               "device");
      return journal::json_text(text);
    case Value::temperature:
      try {
        const bool bare = text.find_first_not_of("0123456789.+-") == std::string::npos;
        const std::string with_unit = bare ? text + " \u00b0C" : text;
        decode::parse_quantity(with_unit, Dimension::temperature);
        return journal::json_text(with_unit);
      } catch (const decode::QuantityError& error) {
        refuse(fmt::format("--{}: {}", key.name, error.what()), error.hint);
      }
    case Value::fraction:
      return number_json(key, text, "", Dimension::fraction);
    case Value::factor:
      return number_json(key, text, "", Dimension::factor);
    case Value::minutes:
      // A length of time has no sign where it is written with its unit.
      if (text.starts_with("-")) {
        const double value = -typed_number(key, text.substr(1), "min", Dimension::duration, 60.0);
        check_range(key, text, value, key.least, key.most, false);
        return number_text(value);
      }
      return number_json(key, text, "min", Dimension::duration, 60.0);
    case Value::charge_ah:
      return number_json(key, text, "Ah", Dimension::charge, 3600.0);
    case Value::money:
      return number_json(key, text, "", Dimension::factor);
    case Value::reading: {
      const journal::Point* point = journal::point_of(typed.point);
      const Dimension dimension = point->unit == "V"   ? Dimension::voltage
                                  : point->unit == "A" ? Dimension::current
                                                       : Dimension::fraction;
      const double value = typed_number(key, text, std::string(point->unit), dimension, 1.0);
      check_range(key, text, value, point->least, point->most, point->unit.empty());
      return number_text(value);
    }
  }
  return "null";
}

// --key value, --key=value, key=value; the words that are none of these say what it is about.
struct Words {
  std::vector<std::string> about;
  std::vector<std::pair<std::string, std::string>> keys;
};

Words sorted_out(const SaidEvent& said, const journal::Form& form) {
  Words out;
  for (std::size_t k = 0; k < said.words.size(); ++k) {
    std::string word = said.words[k];
    const bool dashed = word.starts_with("--") && word.size() > 2;
    if (dashed) word.erase(0, 2);
    const std::size_t equals = word.find('=');
    const std::string name = plain(word.substr(0, equals));
    if (!dashed && (equals == std::string::npos || form.key(name) == nullptr)) {
      out.about.push_back(word);
      continue;
    }
    std::string value;
    if (equals != std::string::npos) {
      value = word.substr(equals + 1);
    } else if (k + 1 < said.words.size()) {
      value = said.words[++k];
    } else {
      refuse("--" + word.substr(0, 60) + " has no value", "write --" + word.substr(0, 60) + " VALUE");
    }
    if (form.key(name) == nullptr) {
      std::vector<std::string> known;
      std::string all;
      for (const journal::Key& key : form.keys) {
        known.emplace_back(key.name);
        all += (all.empty() ? "--" : ", --") + std::string(key.name);
      }
      const auto near = decode::nearest(name, known);
      refuse(fmt::format("\"{}\" has no --{}", form.name, name.substr(0, 60)),
             near ? "did you mean \"--" + *near + "\"?" : "it has " + all);
    }
    for (const auto& [key, other] : out.keys) {
      if (key == name) refuse("--" + name + " is given twice", "give it once");
    }
    out.keys.emplace_back(name, value);
  }
  return out;
}

const journal::Form& named_form(const std::string& what) {
  if (const journal::Form* form = journal::form_of(plain(what))) return *form;
  std::vector<std::string> known;
  std::string all;
  for (const journal::Form& form : journal::forms()) {
    known.emplace_back(form.name);
    all += (all.empty() ? "" : ", ") + std::string(form.name);
  }
  const auto near = decode::nearest(plain(what), known);
  refuse("there is no event \"" + what.substr(0, 60) + "\"",
         near ? "did you mean \"" + *near + "\"?" : "events: " + all);
}

}  // namespace

Zone fixed_zone(int offset_min) {
  return {.offset_at = [offset_min](std::int64_t) { return offset_min; },
          .offset_of_local = [offset_min](const Civil&) { return Zone::Local{.offset_min = offset_min}; }};
}

Moment moment_of(const std::string& text, std::int64_t now_us, const Zone& zone, std::vector<std::string>& notes) {
  // To the second, as people say it.
  const Moment now{now_us - (now_us % journal::kSecond_us), zone.offset_at(now_us)};
  if (text == "now") return now;
  if (text.ends_with(" ago")) {
    try {
      const double ago_s = decode::parse_quantity(text.substr(0, text.size() - 4), Dimension::duration);
      const std::int64_t us = now.us - static_cast<std::int64_t>(std::llround(ago_s)) * journal::kSecond_us;
      return {us, zone.offset_at(us)};
    } catch (const decode::QuantityError&) {
      refuse_time(text);
    }
  }
  if (text.size() >= 12 && (text[10] == 'T' || text[10] == 't')) {
    try {
      return journal::parse_moment(text);
    } catch (const journal::MomentError& error) {
      if (text.size() > 19) refuse(fmt::format("--at: {}", error.what()), error.hint);
    }
  }
  Civil today = journal::civil_of(now.us, now.offset_min);
  if (text.size() >= 12 && is_iso_date(text.substr(0, 10)) && (text[10] == ' ' || text[10] == 'T')) {
    const auto s = clock_s(text.substr(11));
    if (!s) refuse_time(text);
    const Civil day{std::stoi(text.substr(0, 4)), std::stoi(text.substr(5, 2)), std::stoi(text.substr(8, 2))};
    return at_local(with_clock(day, *s), zone, notes);
  }
  const auto day_before = [&](const Civil& day) {
    const Civil out = journal::civil_of(journal::us_of({day.year, day.month, day.day}, 0) - journal::kDay_us, 0);
    return Civil{out.year, out.month, out.day};
  };
  if (text.starts_with("yesterday ")) {
    const auto s = clock_s(text.substr(10));
    if (!s) refuse_time(text);
    return at_local(with_clock(day_before(today), *s), zone, notes);
  }
  const auto s = clock_s(text);
  if (!s) refuse_time(text);
  const Moment out = at_local(with_clock(today, *s), zone, notes);
  if (out.us <= now.us + kMinute_us) return out;
  const Moment before = at_local(with_clock(day_before(today), *s), zone, notes);
  notes.push_back(
      fmt::format("{} is still to come today: yesterday's is taken, {}", text, journal::moment_text(before)));
  return before;
}

std::vector<std::pair<std::string, std::string>> tested_keys(const std::string& label, const journal::Test& test) {
  std::vector<std::pair<std::string, std::string>> out = {{"pack", label},
                                                          {"capacity", fmt::format("{:.4f}", test.capacity)},
                                                          {"resistance", fmt::format("{:.3f}", test.resistance)},
                                                          {"capacity_sd", fmt::format("{:.4f}", *test.capacity_sd)},
                                                          {"resistance_sd", fmt::format("{:.3f}", *test.resistance_sd)},
                                                          {"log", test.log}};
  if (!test.day.empty()) out.emplace_back("day", test.day);
  return out;
}

NewLine new_line(const SaidEvent& said, std::int64_t now_us, const Zone& zone, const journal::RandomBytes& random,
                 const catalogue::Catalogue& catalogue,
                 const std::function<std::vector<std::string>(const std::string&)>& ids_like, std::string_view after) {
  NewLine out;
  const journal::Form& form = named_form(said.what);
  Words words = sorted_out(said, form);
  const journal::Key& about = form.keys.front();
  const auto has = [&](std::string_view key) {
    return std::any_of(words.keys.begin(), words.keys.end(), [&](const auto& one) { return one.first == key; });
  };
  if (!words.about.empty() && !has(about.name)) {
    words.keys.emplace_back(about.name, words.about.front());
    words.about.erase(words.about.begin());
  }
  // A place, holder or point's owner may follow without its name: "rested C2 van", "put_in C2 cup".
  if (!words.about.empty() && form.keys.size() > 1 && form.keys[1].needed && form.keys[1].value == Value::label &&
      !has(form.keys[1].name)) {
    words.keys.emplace_back(form.keys[1].name, words.about.front());
    words.about.erase(words.about.begin());
  }
  if (!words.about.empty()) {
    refuse("\"" + words.about.front().substr(0, 60) + "\" is one word too many",
           "a value of several words goes in quotes; keys are written --key VALUE");
  }
  Typed typed{.said = said,
              .form = form,
              .now_us = now_us,
              .zone = zone,
              .catalogue = catalogue,
              .ids_like = ids_like,
              .point = {}};
  std::vector<std::pair<std::string, std::string>> rest;
  for (const journal::Key& key : form.keys) {
    const auto it =
        std::find_if(words.keys.begin(), words.keys.end(), [&](const auto& one) { return one.first == key.name; });
    if (it == words.keys.end()) {
      if (!key.needed) continue;
      if (&key == &about)
        refuse(fmt::format("\"{}\" of what?", form.name), fmt::format("say the {} after it", about.name));
      refuse(fmt::format("\"{}\" needs --{}", form.name, key.name),
             fmt::format("such as: tillwrap journal add {} {} --{} ...", form.name,
                         words.keys.empty() ? "..." : words.keys.front().second, key.name));
    }
    if (it->second.empty()) refuse(fmt::format("--{} is empty", key.name), "give it a value or leave it out");
    rest.emplace_back(key.name, value_json(typed, key, it->second));
    if (key.value == Value::point) typed.point = it->second;
  }
  const Moment at = moment_of(said.at, now_us, zone, out.notes);
  const std::string id = journal::make_uuid7_after(after, now_us / 1000, random);
  const std::string text = journal::compose_line(id, at, said.by, form.name, rest);
  try {
    out.line = journal::parse_line(text, "command line", 1);
  } catch (const decode::InputError& error) {
    refuse(error.message, error.hint);
  }
  if (at.us > now_us + 2 * kMinute_us)
    out.notes.push_back(
        "this lies ahead of the clock: a journal tells what was, so the time or the clock may be wrong");
  return out;
}

}  // namespace tillwrap::app
