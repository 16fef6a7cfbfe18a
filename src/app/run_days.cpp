#include "app/run_days.hpp"

#include <algorithm>
#include <cmath>

#include "app/choose_report.hpp"
#include "app/dates.hpp"
#include "app/words.hpp"
#include "cell/resting.hpp"

namespace tillwrap::app {

namespace {

constexpr double kDay_s = 86400.0;
// Capacity lost over the cycles a lithium pack lives: 20 % over 400 full ones (middle of 300 to 500, secondary source).
constexpr double kFade_a_cycle = 0.20 / 400.0;
constexpr int kMostPacks = 3;
constexpr int kMostBays = 4;
constexpr std::uint32_t kFreshDays = 2000;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Carried {
  std::string mount;
  double charge = 1.0;
  double drawn_ah = 0.0;
  double capacity_ah = 0.0;
  double health_before = 1.0;
  double fade = 1.0;
  int days_used = 0;
  friend bool operator==(const Carried&, const Carried&) = default;
};
using Packs = std::map<std::string, Carried>;  // by label

// A day as it went on packs that began it so.
struct Went {
  Packs before, after;
  DayOfRun day;
};

struct Extra {
  std::string mount;
  std::string holder;
  int packs = 0;
  std::map<std::string, int> bays;
};

bool fades(cell::Chemistry chemistry) {
  return cell::charge_way(chemistry) == cell::ChargeWay::constant_volts && cell::can_charge(chemistry);
}

double capacity_ah(const day::Pack& pack) { return pack.params.cell.capacity_as * pack.params.parallel / 3600.0; }

const std::string* date_of(const RunDay& day, const DayFile& file) {
  if (day.date) return &*day.date;
  return file.date ? &*file.date : nullptr;
}

// More packs of a kind: behind those of the holder that lacks them.
void add_packs(DayFile& file, const Extra& extra) {
  day::Scenario& day = file.scenario;
  const auto like = std::find_if(day.packs.begin(), day.packs.end(),
                                 [&](const day::Pack& pack) { return pack.mount == extra.mount; });
  if (like == day.packs.end()) return;
  const auto first = static_cast<std::size_t>(like - day.packs.begin());
  for (int k = 0; k < extra.packs; ++k) {
    day::Pack pack = day.packs[first];
    pack.params.label = "extra " + std::to_string(k + 1);
    pack.start_charge = 1.0;
    const int index = static_cast<int>(day.packs.size());
    day.packs.push_back(std::move(pack));
    file.inventory.packs.push_back(file.inventory.packs[first]);
    for (day::Holder& holder : day.holders) {
      if (holder.name == extra.holder) holder.slots.push_back({.pack = index});
    }
  }
}

void check_same(const DayFile& file, const RunDay& day, const std::string& run_source, const day::Pack& pack,
                const Carried& known) {
  if (known.mount == pack.mount) return;
  throw decode::InputError(run_source, day.place,
                           "pack \"" + pack.params.label + "\" is a " + pack.mount + " in " + file.source + " and a " +
                               known.mount + " on a day before",
                           "one label is one pack through the whole run");
}

RechargeWords rest_words(const RunFile& run, const RunDay& day, const DayFile& file, const DayFile& next,
                         double shift_s, const Extra& extra, long most_nodes) {
  RechargeWords words;
  words.with_help = false;
  words.most_nodes = most_nodes;
  words.chargers = day.chargers;
  words.extra_bays = extra.bays;
  words.travel_s = day.travel_s;
  words.next = &next.scenario;
  words.next_begin_s = next.scenario.periods.front().from_s + shift_s;
  if (day.rest) {
    kit::Rest rest = *day.rest;
    if (!day.rest_place.empty()) {
      const std::vector<day::Place>& places = file.scenario.places;
      const auto found = std::find_if(places.begin(), places.end(),
                                      [&](const day::Place& place) { return place.name == day.rest_place; });
      if (found == places.end())
        throw decode::InputError(
            run.source, day.place, "there is no place \"" + day.rest_place + "\" in " + file.source,
            "places: bag, cart, open, camera, pocket, cast, van, indoors, or a [[place]] of that day");
      rest.where = static_cast<int>(found - places.begin());
    }
    words.rest = std::move(rest);
  }
  if (!day.rest && !file.inventory.rest)
    throw decode::InputError(run.source, day.place, "nobody is said to be at the chargers after this day",
                             "give it rest = { there = \"20:30-23:30, 06:00-06:30\" }, or charging = false");
  for (const std::string& name : day.chargers) {
    const auto& all = file.inventory.chargers;
    if (std::none_of(all.begin(), all.end(), [&](const kit::ChargerItem& item) { return item.name == name; }))
      throw decode::InputError(run.source, day.place, "no charger is named \"" + name + "\" in " + file.source,
                               "name chargers of that day file");
  }
  return words;
}

DayOfRun one_day(const RunFile& run, std::size_t i, DayFile file, Packs& carried, const RunWords& words,
                 const catalogue::Catalogue& catalogue, const odds::Each& each) {
  DayOfRun out;
  std::vector<double> worn;
  for (std::size_t p = 0; p < file.scenario.packs.size(); ++p) {
    day::Pack& pack = file.scenario.packs[p];
    auto [found, fresh] = carried.try_emplace(pack.params.label);
    Carried& known = found->second;
    if (fresh) {
      known = {.mount = pack.mount,
               .charge = pack.start_charge,
               .capacity_ah = capacity_ah(pack),
               .health_before = file.inventory.packs[p].health};
    }
    check_same(file, run.days[i], run.source, pack, known);
    const bool thrown = !day::rechargeable(pack);
    if (thrown && run.fresh_cells) known.charge = pack.start_charge;
    pack.start_charge = std::clamp(known.charge, 0.0, 1.0);
    if (known.fade < 1.0)
      pack.params.cell = cell::aged(pack.params.cell, {.capacity_fraction = known.fade,
                                                       .resistance_factor = cell::prior_resistance_factor(known.fade)});
    worn.push_back(known.capacity_ah > 0.0 ? known.drawn_ah / known.capacity_ah : 0.0);
  }
  if (words.choose) {
    ChooseWords how;
    how.fresh_days = kFreshDays;
    how.worn = worn;
    how.plan_only = true;
    ChooseAnswer answer = choose_day(file, catalogue, how, each);
    out.proven = answer.choice.proven_best;
    if (!answer.choice.assignments.empty()) {
      file = std::move(answer.file);
      file.scenario = answer.choice.scenario;
      out.chosen = answer.choice.feasible ? "chosen" : "chosen, not sure enough";
    } else {
      out.chosen = "no choice covers it: as the day file has it";
    }
  }
  out.forecast = forecast::forecast(file.scenario, {.with_one_loss = false});
  const LeftOver left = left_over(file.scenario, forecast::kNever);
  for (std::size_t p = 0; p < file.scenario.packs.size(); ++p) {
    const day::Pack& pack = file.scenario.packs[p];
    Carried& known = carried[pack.params.label];
    PackDay one{.label = pack.params.label,
                .pack = static_cast<int>(p),
                .at_call = pack.start_charge,
                .at_off = left.charge[p],
                .after_rest = left.charge[p],
                .drawn_ah = left.drawn[p] * capacity_ah(pack),
                .used = left.drawn[p] > 0.0};
    known.drawn_ah += one.drawn_ah;
    known.days_used += one.used ? 1 : 0;
    known.charge = left.charge[p];
    if (fades(pack.params.cell.chemistry) && known.capacity_ah > 0.0)
      known.fade = 1.0 - kFade_a_cycle * known.drawn_ah / known.capacity_ah;
    if (one.used && !day::rechargeable(pack)) ++out.fresh_cells;
    out.packs.push_back(std::move(one));
  }
  out.file = std::move(file);
  return out;
}

void rest_after(const RunFile& run, std::size_t i, DayOfRun& day, const DayFile& next, Packs& carried,
                const RunWords& words, const Extra& extra) {
  const RunDay& said = run.days[i];
  const std::string* date = date_of(said, day.file);
  const std::string* next_date = date_of(run.days[i + 1], next);
  const long days = date != nullptr && next_date != nullptr ? std::max(1L, days_of(*next_date) - days_of(*date)) : 1;
  const double shift_s = static_cast<double>(days) * kDay_s;
  if (said.charging) {
    // The packs as the day leaves them; what the next day needs in its order.
    DayFile file = day.file;
    day.rest = recharge_day(std::move(file), rest_words(run, said, day.file, next, shift_s, extra, words.most_nodes));
    for (std::size_t b = 0; b < day.rest->night.batteries.size(); ++b) {
      PackDay& pack = day.packs[at(day.rest->pack_of[b])];
      pack.after_rest = std::clamp(day.rest->answer.outcomes[b].charge, 0.0, 1.0);
    }
    for (const recharge::Stay& stay : day.rest->answer.stays) {
      PackDay& pack = day.packs[at(day.rest->pack_of[at(stay.battery)])];
      const double parts = stay.parts;  // of a set: each cell sees its own part's coulombs
      pack.put_in_ah += stay.put_in_as / 3600.0 / parts;
      pack.stored_ah += stay.stored_as / 3600.0 / parts;
    }
  }
  const double lying_s = next.scenario.periods.front().from_s + shift_s - day.file.scenario.off_s;
  for (PackDay& pack : day.packs) {
    const day::Scenario& scenario = day.file.scenario;
    const day::Pack& lying = scenario.packs[at(pack.pack)];
    const double around_k = day::place_k(scenario.places[at(lying.spare_place)], scenario.periods.back().air_k);
    const double kept =
        cell::charge_after_rest(lying.params, pack.after_rest, {.for_s = lying_s, .temperature_k = around_k});
    pack.lost_lying = pack.after_rest - kept;
    carried[pack.label].charge = kept;
  }
}

RunAnswer follow(const RunFile& run, const std::vector<DayFile>& files, const RunWords& words,
                 const catalogue::Catalogue& catalogue, const odds::Each& each, std::vector<Went>& went) {
  RunAnswer answer{.run = run, .journal = words.journal};
  if (words.tell.begins) words.tell.begins("days", files.size());
  Packs carried;
  std::vector<std::string> order;
  for (std::size_t i = 0; i < files.size(); ++i) {
    for (const day::Pack& pack : files[i].scenario.packs) {
      if (carried.count(pack.params.label) == 0) order.push_back(pack.params.label);
    }
    went.push_back({.before = carried, .day = one_day(run, i, files[i], carried, words, catalogue, each)});
    went.back().after = carried;
    answer.days.push_back(went.back().day);
    if (words.tell.piece_done) words.tell.piece_done();
    DayOfRun& day = answer.days.back();
    if (!day.forecast.reaches_wrap && answer.first_failure < 0) answer.first_failure = static_cast<int>(i);
    if (i + 1 < files.size()) rest_after(run, i, day, files[i + 1], carried, words, {});
    if (words.found && i + 1 < files.size()) words.found(answer);
  }
  std::map<std::string, std::pair<double, double>> span;  // by kind of those that are charged
  for (const std::string& label : order) {
    const Carried& known = carried[label];
    if (std::any_of(answer.packs.begin(), answer.packs.end(), [&](const PackOfRun& p) { return p.label == label; }))
      continue;
    PackOfRun pack{.label = label,
                   .kind = known.mount,
                   .capacity_ah = known.capacity_ah,
                   .drawn_ah = known.drawn_ah,
                   .cycles = known.capacity_ah > 0.0 ? known.drawn_ah / known.capacity_ah : 0.0,
                   .days_used = known.days_used,
                   .health = known.health_before * known.fade,
                   .health_before = known.health_before};
    const catalogue::PackKind* kind = catalogue.pack(known.mount);
    if (kind != nullptr && kind->charge_amps > 0.0) {
      auto [found, fresh] = span.try_emplace(known.mount, pack.cycles, pack.cycles);
      found->second.first = std::min(found->second.first, pack.cycles);
      found->second.second = std::max(found->second.second, pack.cycles);
    }
    answer.packs.push_back(std::move(pack));
  }
  for (const auto& [kind, least_most] : span)
    answer.evenness = std::max(answer.evenness, least_most.second - least_most.first);
  return answer;
}

// `went`: the days without anything added; one that begins on packs as they were then goes as it went.
bool all_last(const RunFile& run, std::vector<DayFile> files, const RunWords& words, const Extra& extra,
              const catalogue::Catalogue& catalogue, const std::vector<Went>& went) {
  if (extra.packs > 0) {
    for (DayFile& file : files) add_packs(file, extra);
  }
  Packs carried;
  for (std::size_t i = 0; i < files.size(); ++i) {
    const bool known = extra.packs == 0 && i < went.size() && went[i].before == carried;
    DayOfRun day = known ? went[i].day : one_day(run, i, files[i], carried, words, catalogue, odds::one_after_another);
    if (known) carried = went[i].after;
    if (!day.forecast.reaches_wrap) return false;
    if (i + 1 < files.size()) rest_after(run, i, day, files[i + 1], carried, words, extra);
  }
  return true;
}

// Where more packs could go on the day that fails: the holder the loss came from first, then the others.
std::vector<Extra> places_for_more(const RunAnswer& answer) {
  const DayOfRun& day = answer.days[at(answer.first_failure)];
  const day::Scenario& scenario = day.file.scenario;
  const int blamed = day.forecast.run.first_loss.why.holder;
  std::vector<Extra> found;
  for (const bool first : {true, false}) {
    for (int h = 0; h < static_cast<int>(scenario.holders.size()); ++h) {
      const day::Holder& holder = scenario.holders[at(h)];
      if ((h == blamed) != first || holder.built_in || holder.charger_supply >= 0 || holder.slots.empty()) continue;
      found.push_back({.mount = scenario.packs[at(holder.slots.front().pack)].mount, .holder = holder.name});
    }
  }
  return found;
}

// All ways to add as many packs and bays together. Choosing anew takes its time: then packs alone and bays alone.
std::vector<Extra> additions(int total, const std::vector<Extra>& places, const std::vector<kit::ChargerItem>& chargers,
                             bool choose) {
  std::vector<Extra> found;
  for (int packs = std::min(total, kMostPacks); packs >= 0; --packs) {
    const int bays = total - packs;
    if (bays > kMostBays || (choose && packs > 0 && bays > 0)) continue;
    for (const Extra& place : packs > 0 ? places : std::vector<Extra>{Extra{}}) {
      Extra with = place;
      with.packs = packs;
      if (bays == 0) {
        found.push_back(with);
        continue;
      }
      for (const kit::ChargerItem& item : chargers) {
        with.bays = {{item.name, bays}};
        found.push_back(with);
      }
    }
  }
  return found;
}

}  // namespace

RunAnswer run_days(const RunFile& run, const std::vector<DayFile>& files, const RunWords& words,
                   const catalogue::Catalogue& catalogue, const odds::Each& each) {
  std::vector<Went> went;
  RunAnswer answer = follow(run, files, words, catalogue, each, went);
  if (words.found) words.found(answer);
  if (answer.first_failure < 0 || !words.help) return answer;
  answer.looked = true;
  const std::vector<Extra> places = places_for_more(answer);
  RunWords alone = words;  // each is one piece of the work
  alone.tell = {};
  alone.found = nullptr;
  const std::vector<kit::ChargerItem>& chargers = answer.days[at(answer.first_failure)].file.inventory.chargers;
  for (int total = 1; total <= kMostPacks + kMostBays && answer.additions.empty(); ++total) {
    const std::vector<Extra> tried = additions(total, places, chargers, words.choose);
    if (tried.empty()) continue;
    std::vector<char> lasts(tried.size(), 0);
    odds::work(each, words.tell, "additions", tried.size(),
               [&](std::size_t k) { lasts[k] = all_last(run, files, alone, tried[k], catalogue, went) ? 1 : 0; });
    for (std::size_t k = 0; k < tried.size(); ++k) {
      if (lasts[k] == 0) continue;
      const Extra& with = tried[k];
      answer.additions.push_back({.pack_kind = with.packs > 0 ? with.mount : std::string(),
                                  .packs = with.packs,
                                  .charger = with.bays.empty() ? std::string() : with.bays.begin()->first,
                                  .bays = with.bays.empty() ? 0 : with.bays.begin()->second});
    }
  }
  return answer;
}

}  // namespace tillwrap::app
