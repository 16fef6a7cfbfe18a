#include "app/choose_report.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "app/report_json.hpp"
#include "app/wording.hpp"
#include "app/words.hpp"
#include "choose/sure.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string odds_of(double share, double half_width) {
  return fmt::format("{:.1f} % \u00b1 {:.1f}", 100.0 * share, 100.0 * half_width);
}

std::string joined(const std::vector<std::string>& words, const std::string& last = "and") {
  std::string all;
  for (std::size_t k = 0; k < words.size(); ++k)
    all += (k == 0 ? "" : k + 1 == words.size() ? " " + last + " " : ", ") + words[k];
  return all;
}

const std::string& label(const ChooseAnswer& answer, int pack) {
  return answer.file.scenario.packs[at(pack)].params.label;
}

std::vector<std::string> labels(const ChooseAnswer& answer, const std::vector<int>& packs) {
  std::vector<std::string> all;
  for (const int pack : packs) all.push_back(label(answer, pack));
  return all;
}

// "2 × one-kind", "one-kind and another-kind"
std::string added_words(const std::vector<std::string>& kinds) {
  if (kinds.size() == 2 && kinds.front() == kinds.back()) return "2 \u00d7 " + kinds.front();
  return joined(kinds);
}

std::string goal_words(const ChooseAnswer& answer, const Wording& wording) {
  return answer.options.overrun_s > 0.0 ? wording.clock(answer.choice.end_s) + " (overrun included)"
                                        : wording.clock(answer.choice.end_s);
}

std::string cost_words(const choose::Cost& cost, const Wording& wording) {
  return fmt::format("{}, {}, {}", plural(cost.changes(), "change"), plural(cost.packs(), "pack"),
                     wording.weight(static_cast<double>(cost.part[2]) / 1000.0));
}

std::string proof_words(const ChooseAnswer& answer, const Wording& wording) {
  const choose::Choice& choice = answer.choice;
  if (choice.proven_best) {
    return fmt::format(
        "Best of all plans in these {} kinds of pack and these moments on the {} common days (fewest changes, then "
        "packs, weight, cells spent, wear); no plan does with less than {}.",
        choice.kinds, choice.days, cost_words(choice.bound, wording));
  }
  std::vector<std::string> why;
  if (!choice.complete) why.emplace_back("the search was cut short by its limits");
  if (choice.differ > 0) why.push_back(fmt::format("tables and whole days differ on {}", plural(choice.differ, "day")));
  if (choice.raised > 0)
    why.push_back(fmt::format("more days than {} had to be covered for the fresh days to agree",
                              choose::days_needed(choice.days, answer.options.sure)));
  return fmt::format("The best found; not proven best: {}. Relaxed bound: {}.", fmt::join(why, "; "),
                     cost_words(choice.bound, wording));
}

std::string odds_words(const ChooseAnswer& answer) {
  const choose::Choice& choice = answer.choice;
  return fmt::format("Covers {} of {} common days ({} needed for {} with 95 % confidence); {} fresh days: {}.",
                     choice.covered, choice.days, choose::days_needed(choice.days, answer.options.sure),
                     share_words(answer.options.sure), choice.fresh_days,
                     odds_of(choice.probability, choice.half_width));
}

std::string one_loss_words(const ChooseAnswer& answer) {
  const choose::Choice& choice = answer.choice;
  if (choice.one_loss)
    return fmt::format("Any one pack may be dead when its turn comes: the day still lasts on at least {} of {} days.",
                       choice.need, choice.days);
  std::vector<std::string> failing;
  for (const choose::StandIn& one : choice.stand_ins) {
    if (!one.holds) failing.push_back(label(answer, one.pack));
  }
  return fmt::format("One pack dead: fewer than {} of {} days last if it is {}.{}", choice.need, choice.days,
                     joined(failing, "or"),
                     answer.options.one_loss ? "" : " --one-loss looks for a plan that stands it.");
}

std::string shortage_words(const ChooseAnswer& answer, const choose::Shortage& one, const Wording& wording) {
  const day::Scenario& day = answer.file.scenario;
  if (one.holder < 0) {
    return fmt::format("What no pack of yours can change (built-in cells, mains) loses a device that must run from {}.",
                       wording.clock(one.from_s));
  }
  const std::string& name = day.holders[at(one.holder)].name;
  if (one.from_s >= answer.choice.end_s) return fmt::format("{} can be served, but not with one pack dead.", name);
  if (one.shared)
    return fmt::format("If the other holders are served, {} has nothing to last on from {}.", name,
                       wording.clock(one.from_s));
  return fmt::format("{} has nothing to last on from {}, even with every pack that fits.", name,
                     wording.clock(one.from_s));
}

// Packs in use, in the order of the holders.
std::vector<int> brought(const choose::Choice& choice) {
  std::vector<int> bring;
  for (const choose::Assignment& assignment : choice.assignments) {
    for (const choose::PackTurn& turn : assignment.turns) {
      if (std::find(bring.begin(), bring.end(), turn.pack) == bring.end()) bring.push_back(turn.pack);
    }
  }
  return bring;
}

// What the plan uses up.
struct FreshCells {
  std::vector<int> packs;
  int cells = 0;
  Money money;
};

FreshCells fresh_cells(const ChooseAnswer& answer) {
  FreshCells fresh;
  for (const int pack : brought(answer.choice)) {
    if (!answer.options.costs[at(pack)].thrown_away) continue;
    const kit::PackItem& item = answer.file.inventory.packs[at(pack)];
    fresh.packs.push_back(pack);
    fresh.cells += item.kind->series * item.kind->parallel;
    fresh.money += Money::of(item);
  }
  return fresh;
}

// Where the plan went, and the command that says of that day what was said here.
std::string written_words(const ChooseAnswer& answer) {
  std::string odds = fmt::format("tillwrap odds {} --days {} --seed {}", answer.written, answer.choice.fresh_days,
                                 answer.options.odds.seed + 1);
  return fmt::format("wrote {}\nthe same fresh days again: {}\n", answer.written, odds);
}

}  // namespace

std::vector<std::string> choose_reasons(const ChooseAnswer& answer) {
  const Wording wording(answer.file.inventory.settings);
  const choose::Choice& choice = answer.choice;
  std::vector<std::string> reasons;
  if (choice.assignments.empty()) {
    for (const choose::Shortage& one : choice.shortages) reasons.push_back(shortage_words(answer, one, wording));
    if (choice.shortages.empty()) reasons.emplace_back("No plan does.");
    for (const choose::Addition& one : choice.additions) {
      reasons.push_back(fmt::format("With {} more it can be done ({} of the common days).", added_words(one.names),
                                    share_words(one.probability)));
    }
    if (choice.additions.empty()) reasons.emplace_back("No one or two packs more are enough; try: tillwrap remedies.");
  } else {
    reasons.push_back(odds_words(answer));
    reasons.push_back(one_loss_words(answer));
    if (!choice.fresh_holds) reasons.emplace_back("On fresh days it stays below what was asked for.");
    reasons.push_back(proof_words(answer, wording));
    for (const int holder : choice.left_free) {
      reasons.push_back(fmt::format("{} needs no pack.", answer.file.scenario.holders[at(holder)].name));
    }
  }
  for (const std::string& note : answer.notes) reasons.push_back(note);
  return reasons;
}

std::string choose_text(const ChooseAnswer& answer) {
  const Wording wording(answer.file.inventory.settings);
  const choose::Choice& choice = answer.choice;
  const day::Scenario& day = answer.file.scenario;
  std::string text = day.title.empty() ? std::string() : day.title + "\n";
  const auto say = [&](const std::string& words) { text += wrapped(words, kWidth, "  ") + "\n"; };
  if (choice.assignments.empty()) {
    say(fmt::format("No plan with these packs reaches {} with {}{}.", goal_words(answer, wording),
                    share_words(answer.options.sure), answer.options.one_loss ? " and one pack dead" : ""));
    if (!choice.complete) say("The search was cut short by its limits: there may be one all the same.");
    for (const std::string& reason : choose_reasons(answer)) say(reason);
    return text;
  }
  say(fmt::format("{} reaches {}: {}.", choice.feasible ? "This plan" : "Short: the best plan found hardly",
                  goal_words(answer, wording), cost_words(choice.cost, wording)));
  say(odds_words(answer));
  say(one_loss_words(answer));
  const std::vector<int> bring = brought(choice);
  text += "\nBRING\n";
  say("  " + joined(labels(answer, bring)));
  const FreshCells fresh = fresh_cells(answer);
  if (fresh.cells > 0)
    say(fmt::format("  of these fresh, and used up: {} ({}, {})", joined(labels(answer, fresh.packs)),
                    plural(fresh.cells, "cell"), wording.money(fresh.money)));
  if (!choice.spares.empty()) say("  spare: " + joined(labels(answer, choice.spares)));
  if (!choice.home.empty()) say("  may stay home: " + joined(labels(answer, choice.home)));
  text += "\nWHERE AND WHEN\n";
  for (const choose::Assignment& assignment : choice.assignments) {
    const std::string& name = day.holders[at(assignment.holder)].name;
    for (std::size_t t = 0; t < assignment.turns.size(); ++t) {
      const choose::PackTurn& turn = assignment.turns[t];
      std::string when = wording.clock(turn.in_s);
      std::string tail;
      if (t > 0) {
        const std::string until = wording.clock(turn.last_safe_s);
        tail = turn.last_safe_s > turn.in_s + 59.0 ? "by " + until + " at the latest" : "not later";
      }
      if (t > 0 && turn.charged) tail += ", charged";
      if (!assignment.must_run) tail = "need not run";
      text += fmt::format("  {} {} {} {}\n", padded(t == 0 ? name : "", 20), padded(when, wording.clock_columns()),
                          padded(label(answer, turn.pack), 18), tail);
    }
  }
  if (!choice.charging.empty()) {
    text += "\nCHARGING\n";
    for (const choose::Stay& stay : choice.charging) {
      say(fmt::format("  {} into {} from {} to {}", label(answer, stay.pack), day.holders[at(stay.bay)].name,
                      wording.clock(stay.from_s), wording.clock(stay.until_s)));
    }
  }
  text += "\nHOW SURE\n";
  for (const std::string& reason : choose_reasons(answer)) {
    if (reason != odds_words(answer) && reason != one_loss_words(answer)) say("  " + reason);
  }
  if (fresh.money.has_guess)
    say("  " + wording.guess_note(answer.file.inventory.packs.front().kind->provenance.checked));
  text += "\nCAUTIONS\n";
  say("  An estimate, not a safety clearance. Never charge below 0 \u00b0C or unattended; keep packs from short "
      "circuits.");
  while (text.find(" \n") != std::string::npos) text.erase(text.find(" \n"), 1);
  if (!answer.written.empty()) text += "\n" + written_words(answer);
  return text;
}

Json choose_object(const ChooseAnswer& answer) {
  const choose::Choice& choice = answer.choice;
  const day::Scenario& day = answer.file.scenario;
  const auto cost_json = [](const choose::Cost& cost) {
    return Json{{"changes", cost.part[0]},
                {"packs", cost.part[1]},
                {"grams", cost.part[2]},
                {"cents", cost.part[3]},
                {"wear", cost.part[4]}};
  };
  const auto names = [&](const std::vector<int>& packs) {
    Json all = Json::array();
    for (const int pack : packs) all.push_back(label(answer, pack));
    return all;
  };
  Json out;
  out["format"] = "tillwrap-choose-1";
  out["title"] = day.title;
  out["feasible"] = choice.feasible;
  out["sure"] = answer.options.sure;
  out["probability"] = choice.probability;
  out["half_width"] = choice.half_width;
  out["fresh_days"] = choice.fresh_days;
  out["days"] = choice.days;
  out["days_needed"] = choose::days_needed(choice.days, answer.options.sure);
  out["days_covered"] = choice.covered;
  out["days_differ"] = choice.differ;
  out["end_s"] = choice.end_s;
  out["one_loss"] = choice.one_loss;
  out["proven_best"] = choice.proven_best;
  out["cost"] = cost_json(choice.cost);
  out["bound"] = cost_json(choice.bound);
  out["assignments"] = Json::array();
  for (const choose::Assignment& assignment : choice.assignments) {
    Json packs = Json::array();
    for (const choose::PackTurn& turn : assignment.turns) {
      packs.push_back({{"label", label(answer, turn.pack)},
                       {"in_at_s", turn.in_s},
                       {"out_at_s", turn.out_s},
                       {"last_safe_s", turn.last_safe_s},
                       {"charged", turn.charged}});
    }
    out["assignments"].push_back(
        {{"holder", day.holders[at(assignment.holder)].name}, {"must_run", assignment.must_run}, {"packs", packs}});
  }
  out["charging"] = Json::array();
  for (const choose::Stay& stay : choice.charging) {
    out["charging"].push_back({{"label", label(answer, stay.pack)},
                               {"bay", day.holders[at(stay.bay)].name},
                               {"from_s", stay.from_s},
                               {"until_s", stay.until_s}});
  }
  const FreshCells fresh = fresh_cells(answer);
  out["fresh"] = {{"packs", names(fresh.packs)},
                  {"cells", fresh.cells},
                  {"cost_own", fresh.money.has_own ? Json(fresh.money.own) : Json(nullptr)},
                  {"currency", answer.file.inventory.settings.currency},
                  {"cost_guess_usd", fresh.money.has_guess ? Json(fresh.money.guess_usd) : Json(nullptr)}};
  out["spares"] = names(choice.spares);
  out["home"] = names(choice.home);
  out["stand_ins"] = Json::array();
  for (const choose::StandIn& one : choice.stand_ins) {
    out["stand_ins"].push_back({{"dead", label(answer, one.pack)},
                                {"holder", day.holders[at(one.holder)].name},
                                {"spare", one.spare >= 0 ? Json(label(answer, one.spare)) : Json(nullptr)},
                                {"stays_in", one.stays},
                                {"days_covered", one.covered},
                                {"holds", one.holds}});
  }
  out["missing"] = Json::array();
  for (const choose::Shortage& one : choice.shortages) {
    out["missing"].push_back({{"holder", one.holder >= 0 ? Json(day.holders[at(one.holder)].name) : Json(nullptr)},
                              {"from_s", one.from_s},
                              {"shared", one.shared}});
  }
  out["additions"] = Json::array();
  for (const choose::Addition& one : choice.additions) {
    out["additions"].push_back(
        {{"kinds", one.names}, {"grams", one.grams}, {"cents", one.cents}, {"probability", one.probability}});
  }
  out["reasons"] = choose_reasons(answer);
  out["written"] = answer.written.empty() ? Json(nullptr) : Json(answer.written);
  return out;
}

std::string choose_json(const ChooseAnswer& answer) { return choose_object(answer).dump(2) + "\n"; }

}  // namespace tillwrap::app
