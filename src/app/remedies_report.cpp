#include "app/remedies_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/charger_words.hpp"
#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using remedies::Goal;
using remedies::Outcome;

constexpr std::size_t kWidth = 80;
constexpr std::size_t kListed = 15;  // in text, unless all are asked for
constexpr double kSame_s = 30.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string_view goal_key(Goal goal) {
  switch (goal) {
    case Goal::reach_off:
      return "reach_off";
    case Goal::one_loss:
      return "one_loss";
    case Goal::overrun:
      return "overrun";
    case Goal::more:
      return "more";
  }
  return "more";
}

std::string gained(double seconds) {
  if (std::fabs(seconds) < kSame_s) return "0";
  return (seconds > 0.0 ? "+" : "\u2212") + length_words(std::fabs(seconds));
}

// "receiver 1 at 15:51"
std::string loss_words(const Outcome& outcome, const Wording& wording) {
  if (outcome.lost_device.empty()) return "nothing in 24 h";
  return fmt::format("{} at {}", outcome.lost_device, wording.clock(outcome.lost_at_s));
}

std::string cost_words(const Taken& taken, const Wording& wording) {
  const remedies::Cost& cost = taken.cost;
  std::string text;
  const auto add = [&](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
  if (taken.money.has_own || taken.money.has_guess) add(wording.money(taken.money));
  if (!cost.buy) add("free");
  for (const ChargerNeed& need : taken.chargers) {
    if (need.kind != nullptr)
      add(fmt::format("with {}{} of {}", need.add > 1 ? fmt::format("{} x ", need.add) : "", need.kind->id,
                      wording.weight(need.mass_kg)));
    if (!need.enough) add("no charger has it full again by the next call");
    if (need.overnight) add("charged overnight too");
  }
  if (std::fabs(cost.mass_kg) >= 0.001)
    add((cost.mass_kg > 0.0 ? "+" : "\u2212") + wording.weight(std::fabs(cost.mass_kg)));
  if (cost.ask) add("ask");
  if (cost.hands_s >= 1.0) add(length_words(cost.hands_s) + " of hands");
  return text;
}

std::string goal_words(const RemedyAnswer& answer, const DayFile& file, const Wording& wording) {
  const day::Scenario& day = file.scenario;
  const Outcome& base = answer.base;
  const std::string safe = wording.clock(day.off_s + base.safe_margin_s);
  const std::string off = wording.clock(day.off_s);
  switch (answer.goal) {
    case Goal::reach_off:
      return fmt::format("It does not last: safe to {}, likely {}, off at {}. First to go: {}. Looked for: safe to {}.",
                         safe, wording.clock(day.off_s + base.likely_margin_s), off, loss_words(base, wording), off);
    case Goal::one_loss:
      return fmt::format(
          "It lasts: safe to {}, off at {}. But without {} it is {} short. Looked for: any one pack may be dead.", safe,
          off, base.one_loss_pack, length_words(std::max(0.0, -base.one_loss_margin_s)));
    case Goal::overrun:
      return fmt::format(
          "It lasts, and any one pack may be dead. Looked for: safe through the overrun, to {}; now to {}.",
          wording.clock(day.off_s + day.overrun_s), safe);
    case Goal::more:
      return fmt::format("It lasts to {} with the overrun, and any one pack may be dead. Looked for: more margin.",
                         safe);
  }
  return {};
}

// What this step does to the day, in one sentence.
std::string effect_words(const RemedyAnswer& answer, const Outcome& outcome, const DayFile& file,
                         const Wording& wording) {
  const Outcome& base = answer.base;
  std::string text;
  const bool changed =
      outcome.lost_device != base.lost_device || std::fabs(outcome.margin_s - base.margin_s) >= kSame_s;
  if (!changed) {
    text = base.lost_device.empty() ? "" : fmt::format("{} still goes first", loss_words(base, wording));
  } else if (outcome.lost_device.empty()) {
    text = fmt::format("removes the loss of {}; nothing fails in 24 h", base.lost_device);
  } else if (outcome.lost_device == base.lost_device) {
    text = fmt::format("{} goes at {}, not {}", outcome.lost_device, wording.clock(outcome.lost_at_s),
                       wording.clock(base.lost_at_s));
  } else {
    text = fmt::format("removes the loss of {}; next to fail: {}", base.lost_device, loss_words(outcome, wording));
  }
  if (answer.goal == Goal::one_loss && outcome.with_one_loss) {
    const std::string also = outcome.one_loss_holds
                                 ? "any one pack may be dead"
                                 : fmt::format("without {} still {}", outcome.one_loss_pack,
                                               wording.clock(file.scenario.off_s + outcome.one_loss_margin_s));
    text = text.empty() || !changed ? also : also + "; " + text;
  }
  return text;
}

Json outcome_json(const Outcome& outcome, const day::Scenario& day) {
  Json out;
  out["margin_s"] = outcome.margin_s;
  out["margin_is_least"] = outcome.margin_is_least;
  out["safe_to_s"] = day.off_s + outcome.safe_margin_s;
  out["likely_s"] = day.off_s + outcome.likely_margin_s;
  out["probability"] = outcome.probability;
  out["first_loss"] = outcome.lost_device.empty()
                          ? Json(nullptr)
                          : Json{{"device", outcome.lost_device},
                                 {"at_s", outcome.lost_at_s},
                                 {"cause", cause_key(outcome.cause)},
                                 {"pack", outcome.lost_pack.empty() ? Json(nullptr) : Json(outcome.lost_pack)}};
  out["one_loss"] = !outcome.with_one_loss
                        ? Json(nullptr)
                        : Json{{"holds", outcome.one_loss_holds},
                               {"worst", outcome.one_loss_pack.empty() ? Json(nullptr) : Json(outcome.one_loss_pack)},
                               {"margin_s", outcome.one_loss_margin_s},
                               {"short_s", outcome.one_loss_short_s}};
  return out;
}

void add_cost(Json& out, const Taken& taken, const DayFile& file) {
  out["money"] = money_json(taken.money, file.inventory.settings);
  out["mass_kg"] = taken.cost.mass_kg;
  out["hands_s"] = taken.cost.hands_s;
  out["ask"] = taken.cost.ask;
  out["buy"] = taken.cost.buy;
}

Json step_json(const RemedyStep& step, const Taken& taken, const DayFile& file) {
  Json out;
  out["kind"] = step.kind;
  out["words"] = step.words;
  out["note"] = step.note.empty() ? Json(nullptr) : Json(step.note);
  add_cost(out, taken, file);
  out["chargers"] =
      taken.chargers.empty() ? Json(nullptr) : charger_json(taken.chargers.front(), file.inventory.settings);
  return out;
}

std::string words_of(const RemedyAnswer& answer, const std::vector<int>& steps) {
  std::string words;
  for (const int i : steps) words += (words.empty() ? "" : "; and ") + answer.steps[at(i)].words;
  return words;
}

// What was computed of the pairs and what was not.
std::string pairs_words(const remedies::Pairs& pairs) {
  std::string text = fmt::format("Each pair is computed as one day; gains do not add up. {} of {} pairs computed",
                                 pairs.tried - pairs.exclude, pairs.all);
  if (pairs.exclude > 0) text += fmt::format(", {} exclude one another", pairs.exclude);
  if (pairs.complete) return text + "; none left is better than these.";
  if (pairs.tried < pairs.all)
    text += fmt::format("; {} left out, those of the steps that help least, as at most {} are tried",
                        pairs.all - pairs.tried, pairs.bounds.computed);
  if (pairs.not_drawn > 0)
    text += fmt::format("; {} that may be better than these not put on all drawn days, as at most {} are",
                        pairs.not_drawn, pairs.bounds.drawn);
  return text + ". A better one may be among the rest.";
}

}  // namespace

std::string remedies_text(const DayFile& file, const RemedyAnswer& answer, const RemedyOptions& options) {
  const Wording wording(file.inventory.settings);
  const Outcome& base = answer.base;
  std::string text = file.scenario.title.empty() ? std::string() : file.scenario.title + "\n";
  text += wrapped(goal_words(answer, file, wording), kWidth, "") + "\n";
  const bool by_one_loss = answer.goal == Goal::one_loss;
  const auto row = [&](const std::string& first, const Outcome& outcome, const std::string& words,
                       const std::string& cost) {
    const double safe = outcome.safe_margin_s - base.safe_margin_s;
    const double third =
        by_one_loss ? base.one_loss_short_s - outcome.one_loss_short_s : outcome.likely_margin_s - base.likely_margin_s;
    const double before = by_one_loss ? third : safe;
    const double after = by_one_loss ? safe : third;
    const bool there = remedies::reached(answer.goal, outcome, file.scenario.overrun_s);
    std::string line = fmt::format("{} {} {} {} ", padded(first, 3), there ? "*" : " ", padded(gained(before), 12),
                                   padded(gained(after), 12));
    const std::size_t indent = columns(line);
    line += words;
    std::string block = wrapped(line, kWidth, std::string(indent, ' ')) + "\n";
    const auto below = [&](const std::string& words_below) {
      std::string placed = std::string(indent, ' ');
      for (const char c : wrapped(words_below, kWidth - indent, "")) {
        placed += c;
        if (c == '\n') placed += std::string(indent, ' ');
      }
      block += placed + "\n";
    };
    below(cost);
    if (const std::string effect = effect_words(answer, outcome, file, wording); !effect.empty()) below(effect);
    return block;
  };
  if (answer.ranked.empty()) {
    text += "\nNo step computed here helps.\n";
  } else {
    text += fmt::format("\n      {} {} WHAT\n", padded(by_one_loss ? "ONE DEAD" : "SAFE TO", 12),
                        padded(by_one_loss ? "SAFE TO" : "LIKELY", 12));
    const std::size_t listed = options.no_help_too ? answer.ranked.size() : std::min(kListed, answer.ranked.size());
    for (std::size_t k = 0; k < listed; ++k) {
      const int i = answer.ranked[k];
      text += row(fmt::format("{}", k + 1), answer.tried[at(i)].outcome, answer.steps[at(i)].words,
                  cost_words(answer.taken[at(i)], wording));
    }
    if (listed < answer.ranked.size())
      text += fmt::format("{} more help; see them with --all\n", answer.ranked.size() - listed);
    if (by_one_loss)
      text +=
          wrapped("ONE DEAD: how much less short it is, every single loss that is not survived added up.", kWidth, "") +
          "\n";
    if (answer.cheapest >= 0) {
      text += wrapped(fmt::format("* is enough by itself; at the least cost: {} ({}).",
                                  answer.steps[at(answer.cheapest)].words,
                                  cost_words(answer.taken[at(answer.cheapest)], wording)),
                      kWidth, "") +
              "\n";
    }
  }
  if (answer.pairs) {
    text += "\nNO SINGLE STEP IS ENOUGH. PAIRS\n";
    for (std::size_t k = 0; k < answer.pairs->best.size(); ++k) {
      const remedies::StepSet& pair = answer.pairs->best[k];
      text += row(fmt::format("{}", k + 1), pair.outcome, words_of(answer, pair.steps),
                  cost_words(answer.pairs_taken[k], wording));
    }
    if (answer.pairs->best.empty()) text += "No pair gives more than the better of its two.\n";
    const remedies::Pairs& pairs = *answer.pairs;
    const std::string all = pairs.tried < pairs.all ? fmt::format(" All: --pairs {}.", pairs.all) : std::string();
    text += wrapped(pairs_words(pairs) + all, kWidth, "") + "\n";
  }
  if (!answer.set.steps.empty()) {
    text += answer.set.reaches ? "\nTOGETHER ENOUGH\n" : "\nTOGETHER, AND STILL NOT ENOUGH\n";
    for (const int i : answer.set.steps) {
      text += wrapped("  - " + answer.steps[at(i)].words + " (" + cost_words(answer.taken[at(i)], wording) + ")",
                      kWidth, "    ") +
              "\n";
    }
    text += wrapped("  in all: " + cost_words(answer.set_taken, wording), kWidth, "    ") + "\n";
    text += wrapped(fmt::format("  safe to {}, likely {}; {}",
                                wording.clock(file.scenario.off_s + answer.set.outcome.safe_margin_s),
                                wording.clock(file.scenario.off_s + answer.set.outcome.likely_margin_s),
                                effect_words(answer, answer.set.outcome, file, wording)),
                    kWidth, "  ") +
            "\n";
  }
  std::size_t no_help = 0;
  std::size_t impossible = 0;
  std::string listed;
  for (std::size_t k = 0; k < answer.steps.size(); ++k) {
    if (std::find(answer.ranked.begin(), answer.ranked.end(), static_cast<int>(k)) != answer.ranked.end()) continue;
    const bool possible = answer.tried[k].possible;
    (possible ? no_help : impossible) += 1;
    const std::string why =
        possible
            ? fmt::format("safe to {}, likely {}", gained(answer.tried[k].outcome.safe_margin_s - base.safe_margin_s),
                          gained(answer.tried[k].outcome.likely_margin_s - base.likely_margin_s))
            : answer.why_not[k];
    listed += wrapped(fmt::format("  {}: {}", answer.steps[k].words, why), kWidth, "    ") + "\n";
  }
  text += fmt::format("\n{} steps computed; {} no help, {} not possible here{}\n", answer.steps.size(), no_help,
                      impossible, options.no_help_too || no_help + impossible == 0 ? ":" : " (--all lists them).");
  if (options.no_help_too) text += listed;
  text +=
      wrapped(fmt::format("Each step on the same {} drawn days, seed {}: nine in ten last to \"safe to\", every "
                          "other to \"likely\". Clock times of a loss are the day's as stated. Gains under a minute "
                          "are no help.",
                          options.days, options.seed),
              kWidth, "") +
      "\n";
  bool guessed = false;
  bool hours_assumed = false;
  for (const int i : answer.ranked) {
    const Taken& taken = answer.taken[at(i)];
    guessed = guessed || taken.money.has_guess;
    for (const ChargerNeed& need : taken.chargers) hours_assumed = hours_assumed || need.hours_assumed;
  }
  if (hours_assumed) text += wrapped(charger_hours_words(), kWidth, "") + "\n";
  if (guessed) text += wrapped(wording.guess_note("2026-11-25"), kWidth, "") + "\n";
  text += wrapped(
              "Estimates, not a safety clearance. Do not charge unattended or below 0 \u00b0C; mains and vehicle power "
              "belong to licensed people.",
              kWidth, "") +
          "\n";
  return text;
}

Json remedies_object(const DayFile& file, const RemedyAnswer& answer, const RemedyOptions& options) {
  const day::Scenario& day = file.scenario;
  Json out;
  out["format"] = "tillwrap-remedies-1";
  out["title"] = day.title;
  out["goal"] = goal_key(answer.goal);
  out["days"] = options.days;
  out["seed"] = options.seed;
  out["off_s"] = day.off_s;
  out["overrun_s"] = day.overrun_s;
  out["base"] = outcome_json(answer.base, day);
  const auto with_gain = [&](Json step, const Outcome& outcome) {
    step["gain"] = {{"safe_s", outcome.safe_margin_s - answer.base.safe_margin_s},
                    {"likely_s", outcome.likely_margin_s - answer.base.likely_margin_s},
                    {"one_loss_s", outcome.with_one_loss && answer.base.with_one_loss
                                       ? Json(answer.base.one_loss_short_s - outcome.one_loss_short_s)
                                       : Json(nullptr)}};
    step["enough"] = remedies::reached(answer.goal, outcome, day.overrun_s);
    step["outcome"] = outcome_json(outcome, day);
    return step;
  };
  out["remedies"] = Json::array();
  for (const int i : answer.ranked)
    out["remedies"].push_back(
        with_gain(step_json(answer.steps[at(i)], answer.taken[at(i)], file), answer.tried[at(i)].outcome));
  out["cheapest"] = answer.cheapest < 0 ? Json(nullptr) : Json(answer.steps[at(answer.cheapest)].words);
  const auto set_json = [&](const remedies::StepSet& set, const Taken& taken) {
    Json one;
    one["steps"] = Json::array();
    for (const int i : set.steps) one["steps"].push_back(answer.steps[at(i)].words);
    add_cost(one, taken, file);
    return with_gain(one, set.outcome);
  };
  out["pairs"] = nullptr;
  if (answer.pairs) {
    const remedies::Pairs& pairs = *answer.pairs;
    out["pairs"] = {{"best", Json::array()},        {"all", pairs.all},           {"tried", pairs.tried},
                    {"exclude", pairs.exclude},     {"drawn", pairs.drawn},       {"left_out", pairs.all - pairs.tried},
                    {"not_drawn", pairs.not_drawn}, {"complete", pairs.complete}, {"words", pairs_words(pairs)}};
    for (std::size_t k = 0; k < pairs.best.size(); ++k)
      out["pairs"]["best"].push_back(set_json(pairs.best[k], answer.pairs_taken[k]));
  }
  out["together"] = answer.set.steps.empty() ? Json(nullptr) : set_json(answer.set, answer.set_taken);
  out["no_help"] = Json::array();
  out["not_possible"] = Json::array();
  for (std::size_t k = 0; k < answer.steps.size(); ++k) {
    if (std::find(answer.ranked.begin(), answer.ranked.end(), static_cast<int>(k)) != answer.ranked.end()) continue;
    if (answer.tried[k].possible) {
      out["no_help"].push_back(answer.steps[k].words);
    } else {
      out["not_possible"].push_back({{"words", answer.steps[k].words}, {"why", answer.why_not[k]}});
    }
  }
  return out;
}

std::string remedies_json(const DayFile& file, const RemedyAnswer& answer, const RemedyOptions& options) {
  return remedies_object(file, answer, options).dump(2) + "\n";
}

}  // namespace tillwrap::app
