#include "journal/fold.hpp"

#include <algorithm>

#include "journal/uuid.hpp"

namespace tillwrap::journal {

namespace {

// A line may be written this long before what it tells of (clocks differ by as much); common practice, no source.
constexpr std::int64_t kClocksDiffer_us = 120 * kSecond_us;

bool counted_by_day(const PackState& pack, const FieldDay& day) {
  return std::any_of(pack.turns.begin(), pack.turns.end(), [&](const Turn& turn) {
    return turn.counted_by_day && turn.in_us >= day.from_us && turn.in_us <= day.at_us;
  });
}

// To the minute, with a blank between date and time, in the zone it was written in.
std::string when(const Moment& at) {
  std::string text = moment_text(at);
  text[10] = ' ';
  return text.substr(0, 16);
}

}  // namespace

const PackState* State::pack(std::string_view label) const {
  const PackState* found = nullptr;
  for (const PackState& pack : packs) {
    if (pack.label == label) found = &pack;
  }
  return found;
}

void count_by_day(PackState& pack, const std::string& date, int offset_min) {
  for (Turn& turn : pack.turns)
    turn.counted_by_day = turn.counted_by_day || moment_text({turn.in_us, offset_min}).substr(0, 10) == date;
  std::erase_if(pack.field_days, [&](const FieldDay& day) { return counted_by_day(pack, day); });
}

void Fold::remark(Remark::Kind kind, const std::string& id, std::string text) {
  ++state_.counts[kind];
  if (state_.remarks.size() < kMostRemarks) {
    state_.remarks.push_back({kind, id, std::move(text)});
  } else {
    ++state_.more_remarks;
  }
}

void Fold::add(const Line& line) {
  if (state_.lines == 0) {
    for (const auto& [taker, of] : survey_.taken_back) found_[of] = false;
  }
  ++state_.lines;
  if (const auto it = found_.find(line.id); it != found_.end()) it->second = true;
  const std::string what = line.what.empty() ? "the line" : "\"" + line.what + "\"";
  if (const auto it = survey_.differing.find(line.id); it != survey_.differing.end()) {
    if (it->second.counts != line.text) return;
    remark(Remark::Kind::same_id, line.id,
           std::to_string(it->second.lines) + " different lines have this id; " + what + " of " + when(line.at) +
               " is taken, all are kept");
  }
  if (line.version > kVersion) {
    remark(Remark::Kind::later_version, line.id,
           what + " of " + when(line.at) + " is of version " + std::to_string(line.version) +
               ", written by a later tillwrap: kept, not understood");
    return;
  }
  if (line.form == nullptr) {
    remark(Remark::Kind::unknown_event, line.id,
           what + " of " + when(line.at) + " is no event known here: kept, not understood");
    return;
  }
  if (const std::int64_t ahead_us = line.at.us - 1000 * made_ms(line.id); ahead_us > kClocksDiffer_us) {
    remark(Remark::Kind::clock, line.id,
           what + " of " + when(line.at) + " was written " + std::to_string(ahead_us / (60 * kSecond_us)) +
               " min before it was so: the clock of \"" + line.by + "\" was behind, or the time is wrong");
  }
  if (survey_.void_ids.contains(line.id)) {
    ++state_.taken_back;
    return;
  }
  ++state_.folded;
  look_for_twin(line);
  apply(line);
}

void Fold::look_for_twin(const Line& line) {
  // A meter may well show the same twice; a pack is not charged, used or tested twice within minutes.
  if (line.form->event == Event::reading || line.form->event == Event::taken_back) return;
  constexpr std::int64_t kWithin_us = 600 * kSecond_us;
  constexpr std::size_t kMostRecent = 64;
  std::string told = line.what;
  for (const auto& [key, text] : line.texts) {
    if (key != "note") told += '\n' + std::string(key) + '=' + text;
  }
  for (const auto& [key, value] : line.numbers) told += '\n' + std::string(key) + '=' + std::to_string(value);
  while (!recent_.empty() && (recent_.size() > kMostRecent || line.at.us - recent_.front().at_us > kWithin_us))
    recent_.pop_front();
  for (const auto& [at_us, other, by] : recent_) {
    if (other != told) continue;
    remark(Remark::Kind::told_twice, line.id,
           "\"" + line.what + "\" of " + when(line.at) + " was told the same " +
               std::to_string((line.at.us - at_us) / (60 * kSecond_us)) + " min before" +
               (by == line.by ? "" : " by \"" + by + "\", this by \"" + line.by + "\"") +
               ": if it happened once, take one back");
    break;
  }
  recent_.push_back({line.at.us, std::move(told), line.by});
}

PackState& Fold::pack_of(const Line& line) {
  const std::string& label = line.words("pack");
  std::vector<PackState>& all = packs_[label];
  if (all.empty()) {
    all.push_back({.label = label});
    remark(Remark::Kind::contradiction, line.id,
           "\"" + label + "\" was never acquired: its kind is unknown; add: acquired " + label + " --kind ...");
  }
  PackState& pack = all.back();
  if (pack.retired && line.form->event != Event::retired) {
    remark(Remark::Kind::contradiction, line.id,
           "\"" + line.what + "\" of " + label + " at " + when(line.at) + ", yet it was retired at " +
               when(*pack.retired));
  }
  return pack;
}

void Fold::acquire(const Line& line) {
  const std::string& label = line.words("pack");
  std::vector<PackState>& all = packs_[label];
  if (all.empty() || all.back().retired) {
    all.push_back({.label = label});
  } else if (!all.back().kind.empty() || all.back().acquired) {
    remark(Remark::Kind::contradiction, line.id,
           "\"" + label + "\" is acquired again at " + when(line.at) + " without having been retired");
  }
  PackState& pack = all.back();
  if (!pack.kind.empty() && pack.kind != line.words("kind")) {
    // Another pack under the same label: nothing told of the one before holds for it.
    pack = {.label = label};
  }
  pack.kind = line.words("kind");
  pack.acquired = line.at;
  if (!line.words("bought").empty()) pack.bought = line.words("bought");
  if (const auto price = line.number("price")) pack.price = price;
  if (const auto health = line.number("health")) pack.health = health;
  if (!line.words("note").empty()) pack.note = line.words("note");
}

void Fold::move(PackState& pack, Stay stay) {
  if (!pack.stays.empty() && !pack.stays.back().holder.empty()) {
    const auto it = in_holder_.find(pack.stays.back().holder);
    if (it != in_holder_.end() && it->second == pack.label) in_holder_.erase(it);
  }
  Turn* last = pack.turns.empty() ? nullptr : &pack.turns.back();
  const bool in_one = last != nullptr && !last->out_us;
  const bool stays_in = in_one && last->holder == stay.holder;
  if (in_one && !stays_in) last->out_us = stay.since_us;
  if (!stay.holder.empty()) {
    in_holder_[stay.holder] = pack.label;
    if (!stays_in) {
      Turn turn{.holder = stay.holder, .in_us = stay.since_us};
      const bool untouched = last == nullptr || (pack.charge && last->out_us && *last->out_us <= pack.charge->at_us);
      if (pack.charge && untouched && !(pack.charge->drawn_ah > 0.0)) turn.start = pack.charge;
      pack.turns.push_back(std::move(turn));
    }
  }
  pack.stays.push_back(std::move(stay));
}

// What a reading says of the packs in use then.
void Fold::read(const Line& line) {
  const std::string& point = line.words("point");
  const std::string& of = line.words("of");
  const Turn::Read made{line.at.us, line.number("value").value_or(0.0)};
  const auto turn_of = [&](const std::string& label) -> Turn* {
    const auto it = packs_.find(label);
    return it == packs_.end() || it->second.back().turns.empty() ? nullptr : &it->second.back().turns.back();
  };
  if (point == "gauge") {
    Turn* turn = turn_of(of);
    if (turn == nullptr) return;
    if (!turn->out_us) {
      turn->gauge.push_back(made);
    } else if (!turn->left) {
      const std::optional<Moment>& charged = packs_.at(of).back().last_charged;
      if (!charged || charged->us < *turn->out_us) turn->left = made.value;
    }
    return;
  }
  if (const auto in = in_holder_.find(of); point == "amps" && in != in_holder_.end()) {
    if (Turn* turn = turn_of(in->second)) turn->amps.push_back(made);
    return;
  }
  for (const auto& [holder, label] : in_holder_) {
    Turn* turn = turn_of(label);
    if (turn == nullptr || turn->out_us) continue;
    if (point == "amps") ++turn->amps_elsewhere;
    if (point == "meter") ++turn->meters;
    if (point == "input volts" && in_holder_.size() == 1) turn->volts.push_back(made);
    if (point == "input volts" && in_holder_.size() > 1) ++turn->volts_of_several;
  }
}

void Fold::apply(const Line& line) {
  const auto told = [&](PackState& pack, std::string_view key, Event by) {
    const auto fraction = line.number(key);
    if (!fraction) return;
    pack.charge = {.fraction = *fraction, .at_us = line.at.us, .by = by};
    if (pack.stays.size() > 1) pack.stays.erase(pack.stays.begin(), pack.stays.end() - 1);
  };
  const std::int64_t at_us = line.at.us;
  switch (line.form->event) {
    case Event::acquired:
      acquire(line);
      return;
    case Event::charged: {
      PackState& pack = pack_of(line);
      told(pack, "charge", Event::charged);
      pack.last_charged = line.at;
      pack.charged_to = line.number("charge");
      ++pack.charges;
      return;
    }
    case Event::rested:
      move(pack_of(line),
           {.since_us = at_us, .place = line.words("place"), .temperature_k = line.number("temperature")});
      return;
    case Event::put_in: {
      PackState& pack = pack_of(line);
      const std::string& holder = line.words("holder");
      const auto other = in_holder_.find(holder);
      if (other != in_holder_.end() && other->second != pack.label) {
        remark(Remark::Kind::contradiction, line.id,
               pack.label + " went into \"" + holder + "\" at " + when(line.at) + " while " + other->second +
                   " was in it: was that taken out?");
        PackState& out = packs_[other->second].back();
        move(out, {.since_us = at_us});
      }
      if (!pack.stays.empty() && !pack.stays.back().holder.empty() && pack.stays.back().holder != holder) {
        remark(Remark::Kind::contradiction, line.id,
               pack.label + " went into \"" + holder + "\" at " + when(line.at) + " while it was in \"" +
                   pack.stays.back().holder + "\"");
      }
      move(pack, {.since_us = at_us, .holder = holder});
      pack.last_used = line.at;
      return;
    }
    case Event::taken_out: {
      PackState& pack = pack_of(line);
      told(pack, "charge", Event::taken_out);
      if (!pack.turns.empty() && !pack.turns.back().out_us) pack.turns.back().left = line.number("charge");
      move(pack, {.since_us = at_us});
      pack.last_used = line.at;
      return;
    }
    case Event::reading: {
      read(line);
      if (line.words("point") != "gauge") return;
      const auto it = packs_.find(line.words("of"));
      if (it == packs_.end()) return;
      told(it->second.back(), "value", Event::reading);
      return;
    }
    case Event::period:
    case Event::late:
      return;  // of a day
    case Event::tested: {
      PackState& pack = pack_of(line);
      const std::string& day = line.words("day");
      if (!day.empty()) {
        std::erase_if(pack.tests, [&](const Test& test) { return test.day == day; });  // told anew
        count_by_day(pack, day, line.at.offset_min);
      }
      pack.tests.push_back({.at_us = at_us,
                            .capacity = *line.number("capacity"),
                            .resistance = *line.number("resistance"),
                            .capacity_sd = line.number("capacity_sd"),
                            .resistance_sd = line.number("resistance_sd"),
                            .log = line.words("log"),
                            .id = line.id,
                            .day = day});
      return;
    }
    case Event::used: {
      PackState& pack = pack_of(line);
      const double ah = *line.number("ah");
      pack.used_ah += ah;
      pack.last_used = line.at;
      for (Turn& turn : pack.turns) {
        if (!pack.last_charged || turn.in_us >= pack.last_charged->us) turn.counted_by_used = true;
      }
      if (const auto left = line.number("charge"); left && pack.charged_to && *pack.charged_to > *left) {
        const FieldDay day{
            .from_us = pack.last_charged->us, .at_us = at_us, .ah = ah, .from = *pack.charged_to, .to = *left};
        if (!counted_by_day(pack, day)) pack.field_days.push_back(day);
      }
      pack.charged_to.reset();
      if (line.number("charge")) {
        told(pack, "charge", Event::used);
      } else if (pack.charge) {
        pack.charge->drawn_ah += ah;
      }
      return;
    }
    case Event::retired: {
      PackState& pack = pack_of(line);
      if (pack.retired) {
        remark(Remark::Kind::contradiction, line.id, pack.label + " is retired again at " + when(line.at));
        return;
      }
      pack.retired = line.at;
      pack.retired_reason = line.words("reason");
      return;
    }
    case Event::taken_back:
      return;  // settled beforehand
  }
}

State Fold::take() {
  for (const auto& [taker, of] : survey_.taken_back) {
    const auto it = found_.find(of);
    if (it == found_.end() || !it->second)
      remark(Remark::Kind::taken_back_unknown, taker, "takes back " + of + ", which is not in this journal (yet)");
  }
  for (auto& [label, packs] : packs_) {
    for (PackState& pack : packs) state_.packs.push_back(std::move(pack));
  }
  packs_.clear();
  return std::move(state_);
}

State fold(const std::vector<Line>& lines) {
  const std::vector<Line> all = united(lines, {});
  Fold fold(survey(all));
  for (const Line& line : all) fold.add(line);
  return fold.take();
}

}  // namespace tillwrap::journal
