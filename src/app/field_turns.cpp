#include "app/field_turns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/health_bands.hpp"
#include "app/health_log.hpp"
#include "app/words.hpp"
#include "catalogue/catalogue.hpp"
#include "cell/resting.hpp"
#include "fit/field_turn.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::app {

namespace {

// A charge left, read from a gauge or from volts, is good to 5 to 8 % (charge and discharge volts of an NCA cell differ
// by as much, doi:10.17632/wykht8y7tg.1); a charger's "full" to 2 %.
constexpr double kLeftSd = 0.06;
constexpr double kFullSd = 0.02;
constexpr double kIndoors_k = 293.15;  // where nobody said how warm it is; common practice, no source
// Longer without a reading of amps: whether the kit ran is anybody's guess. Common practice, no source.
constexpr double kLongestGap_s = 3.0 * 3600.0;
constexpr std::size_t kVoltsOfTurns = 12;

double seconds(std::int64_t us) { return static_cast<double>(us) / 1e6; }

std::optional<fit::FieldTurn::Told> start_of(const journal::Turn& turn, const cell::PackParams& pack) {
  if (!turn.start) return std::nullopt;
  const double charge = cell::charge_after_rest(
      pack, turn.start->fraction,
      {.for_s = std::max(0.0, seconds(turn.in_us - turn.start->at_us)), .temperature_k = kIndoors_k});
  return fit::FieldTurn::Told{0.0, charge, told_charge_sd(turn.start->by)};
}

// The longest stretch of the turn in which no amps were read, s.
double longest_gap_s(const fit::FieldTurn& turn, double from_s, double to_s) {
  double gap_s = 0.0;
  double last_s = from_s;
  for (const auto& read : turn.amps) {
    if (read.at_s <= from_s || read.at_s >= to_s) continue;
    gap_s = std::max(gap_s, read.at_s - last_s);
    last_s = read.at_s;
  }
  return std::max(gap_s, to_s - last_s);
}

void say_what_was_left_aside(const journal::Turn& turn, TurnAnswer& out) {
  const auto say = [&](std::size_t n, const char* what, const char* why) {
    if (n > 0)
      out.cannot.push_back(
          fmt::format("{} of {} left aside: {}", plural(static_cast<std::int64_t>(n), "reading"), what, why));
  };
  say(turn.amps_elsewhere, "amps", fmt::format("not of \"{}\", so perhaps not all this pack's", turn.holder).c_str());
  say(turn.volts_of_several, "volts",
      "other packs were in use, and which of them fed that input is not told; a day file tells, with --day");
  say(turn.meters, "a meter", "the journal does not know which profile it is set to");
}

TurnAnswer answer_of(const journal::Turn& turn, const cell::PackParams& pack, bool regulated, bool weigh_volts) {
  TurnAnswer out{.holder = turn.holder,
                 .in_us = turn.in_us,
                 .out_us = turn.out_us,
                 .by_used = turn.counted_by_used || turn.counted_by_day};
  fit::FieldTurn made;
  std::int64_t until_us = turn.out_us.value_or(turn.in_us);
  for (const auto* reads : {&turn.amps, &turn.gauge, &turn.volts}) {
    if (!turn.out_us && !reads->empty()) until_us = std::max(until_us, reads->back().at_us);
  }
  made.until_s = seconds(until_us - turn.in_us);
  const auto at_s = [&](std::int64_t us) { return std::clamp(seconds(us - turn.in_us), 0.0, made.until_s); };
  for (const auto& read : turn.amps) made.amps.push_back({at_s(read.at_us), read.value});
  if (const auto start = start_of(turn, pack)) made.told.push_back(*start);
  for (const auto& read : turn.gauge) made.told.push_back({at_s(read.at_us), read.value, kLeftSd});
  if (turn.left) made.told.push_back({made.until_s, *turn.left, kLeftSd});
  if (!regulated && weigh_volts) {
    for (const auto& read : turn.volts) made.volts.push_back({at_s(read.at_us), read.value});
  }
  if (!turn.counted_by_day) say_what_was_left_aside(turn, out);
  if (!turn.volts.empty() && regulated) out.cannot.push_back("its output volts tell nothing of its cells");
  if (!turn.volts.empty() && !regulated && !weigh_volts)
    out.cannot.push_back(fmt::format("its volts were not weighed: those of the latest {} turns are", kVoltsOfTurns));
  const bool two = made.told.size() > 1;
  if (two) {
    out.from = made.told.front().charge;
    out.to = made.told.back().charge;
  }
  if (out.by_used) {
    out.cannot.push_back(turn.counted_by_day ? "its day counts as a whole, by a \"tested\" line"
                                             : "its Ah stand in a \"used\" line, which counts instead");
    return out;
  }
  if (made.amps.empty()) {
    out.cannot.push_back(
        fmt::format("no amps of \"{}\" were read, so what it gave is not known: its capacity cannot be "
                    "told",
                    turn.holder));
    return out;
  }
  const double from_s = two ? made.told.front().at_s : 0.0;
  const double to_s = two ? made.told.back().at_s : made.until_s;
  if (const double gap_s = longest_gap_s(made, from_s, to_s); gap_s > kLongestGap_s) {
    out.cannot.push_back(
        fmt::format("no amps were read for {}: whether it ran all that time is not known, so its "
                    "capacity cannot be told",
                    length_words(gap_s)));
    return out;
  }
  const fit::FieldFound found = fit::field_turn(pack, made);
  out.amps = made.amps.size();
  out.drawn_ah = found.drawn_ah;
  if (!(found.drawn_ah > 0.0)) {
    out.cannot.push_back("nothing flowed out of it by the amps read");
    return out;
  }
  if (found.volts_fit && !*found.volts_fit) {
    out.cannot.push_back(
        "the volts read are not those of these cells behind a lead (a converter between, another "
        "source, another kind): left aside");
  } else if (found.volts_fit) {
    out.volts = made.volts.size();
  }
  const bool possible =
      !found.capacity || (found.capacity->value >= kLeastCapacity && found.capacity->value <= kMostCapacity);
  if (!possible) {
    out.cannot.push_back(
        fmt::format("by these readings it would hold {:.0f} % of a new one's: another pack's amps, a charge "
                    "that was told wrong, or another kind",
                    100.0 * found.capacity->value));
    return out;
  }
  if (found.capacity) out.capacity = band_of(*found.capacity);
  if (found.resistance) out.resistance = band_of(*found.resistance);
  if (!out.capacity) {
    if (two && found.depth <= 0.0)
      out.cannot.push_back("by what was told its charge did not fall: its capacity cannot be told");
    else if (two)
      out.cannot.push_back(fmt::format("{} of the charge drawn, by {} of amps: too little to tell its capacity by",
                                       percent_words(found.depth),
                                       plural(static_cast<std::int64_t>(out.amps), "reading")));
    else
      out.cannot.push_back("its charge was told " +
                           std::string(made.told.empty() ? "neither before nor after" : "once only") +
                           ": its capacity cannot be told");
  }
  if (!out.resistance && out.volts > 0)
    out.cannot.push_back(
        "its resistance cannot be told apart from the lead's and the cold's; a day file knows both: --day");
  return out;
}

}  // namespace

double told_charge_sd(journal::Event by) { return by == journal::Event::charged ? kFullSd : kLeftSd; }

std::vector<TurnAnswer> turn_answers(const journal::PackState& pack, const catalogue::PackKind& kind,
                                     const catalogue::CellKind& cell) {
  std::vector<TurnAnswer> out;
  const cell::PackParams params = catalogue::pack_params(kind, cell);
  for (std::size_t k = 0; k < pack.turns.size(); ++k) {
    const journal::Turn& turn = pack.turns[k];
    const std::size_t read = turn.amps.size() + turn.gauge.size() + turn.volts.size() + turn.amps_elsewhere +
                             turn.volts_of_several + turn.meters;
    if (read == 0) continue;
    out.push_back(answer_of(turn, params, kind.regulator.has_value(), k + kVoltsOfTurns >= pack.turns.size()));
  }
  return out;
}

std::string turn_words(const TurnAnswer& turn) {
  std::string text = fmt::format("{} in \"{}\": ", journal::moment_text({turn.in_us, 0}).substr(0, 10), turn.holder);
  std::string facts;
  const auto put = [&](const std::string& one) { facts += (facts.empty() ? "" : ", ") + one; };
  if (turn.drawn_ah && turn.amps > 0)
    put(fmt::format("{:.3g} Ah by {} of amps", *turn.drawn_ah,
                    plural(static_cast<std::int64_t>(turn.amps), "reading")));
  if (turn.volts > 0) put(fmt::format("{} of volts", turn.volts));
  if (turn.from && turn.to) put(fmt::format("{:.0f} to {:.0f} %", 100.0 * *turn.from, 100.0 * *turn.to));
  std::string found;
  if (turn.capacity)
    found = fmt::format("holds {:.0f} % of a new one's ({:.0f}\u2013{:.0f})", 100.0 * turn.capacity->middle,
                        100.0 * turn.capacity->low, 100.0 * turn.capacity->high);
  if (turn.resistance)
    found += fmt::format("{}resistance {:.2f} times ({:.2f}\u2013{:.2f})", found.empty() ? "" : ", ",
                         turn.resistance->middle, turn.resistance->low, turn.resistance->high);
  text += facts + (facts.empty() || found.empty() ? "" : ": ") + found;
  if (!facts.empty() || !found.empty()) text += turn.cannot.empty() ? "." : "; ";
  for (std::size_t k = 0; k < turn.cannot.size(); ++k) text += (k > 0 ? "; " : "") + turn.cannot[k];
  if (!turn.cannot.empty()) text += ".";
  return text;
}

}  // namespace tillwrap::app
