#include "app/compare.hpp"

#include <algorithm>
#include <cmath>

#include "app/assess.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// The holder whose packs give most energy to what must run.
int main_holder(const DayFile& file) {
  const day::Scenario& day = file.scenario;
  const forecast::Forecast forecast = forecast::forecast(day, {.with_one_loss = false});
  std::vector<double> given_j(day.holders.size(), 0.0);
  for (const forecast::Stint& stint : forecast.run.stints) given_j[at(stint.holder)] += stint.delivered_j;
  int best = -1;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    if (holder.charger_supply >= 0 || holder.built_in || holder.slots.empty()) continue;
    if (best < 0 || given_j[h] > given_j[at(best)]) best = static_cast<int>(h);
  }
  return best;
}

CompareRow computed(const CompareOption& option, const CompareOptions& options, const compare::Depth& depth,
                    const catalogue::Catalogue& catalogue, const day::Scenario& as_is) {
  CompareRow row{.option = option};
  const bool lithium_metal = option.pack->travel.kind == catalogue::TravelClass::Kind::lithium_metal;
  row.disposable = lithium_metal || option.pack->travel.kind == catalogue::TravelClass::Kind::alkaline;
  row.cycles_known = option.pack->travel.kind == catalogue::TravelClass::Kind::lithium_ion;
  try {
    row.serving = compare::serving(option.build(1), option.holders.front(), depth);
    if (!row.serving.starts) return row;
    const double day_s = as_is.off_s - as_is.call_s;
    const int expected =
        option.count > 0 ? option.count : static_cast<int>(std::ceil(day_s / std::max(row.serving.likely_s, 600.0)));
    const compare::Build build = [&](int packs) { return option.build(packs); };
    row.need = compare::need(build, option.holders, expected, option.count > 0, depth);
    row.dark = compare::dark_in_change(option.build(3), option.holders);
    if (row.need.possible) row.chargers = chargers_needed(option.day(row.need.packs), catalogue, *option.pack);
  } catch (const std::runtime_error& error) {
    row.failed = error.what();
    return row;
  }
  const double packs = row.need.packs;
  row.mass_kg = packs * option.pack->mass_kg;
  row.buy = packs * option.price;
  compare::Wear wear{.kind = row.disposable     ? compare::Wear::Kind::disposable
                             : row.cycles_known ? compare::Wear::Kind::cycles_known
                                                : compare::Wear::Kind::cycles_unknown,
                     .price = option.price.rough(),
                     .packs = row.need.packs,
                     .drawn = row.need.drawn};
  if (row.disposable)
    row.buy = static_cast<double>(std::max<std::size_t>(row.need.drawn.size(), 1) * at(options.days)) * option.price;
  row.a_day = Money::of(compare::money_a_day(wear, options.days), option.price.has_own);
  Money gear = price_of(option.gear);
  if (row.chargers) gear += row.chargers->money;
  row.buy += gear;
  row.a_day += (1.0 / options.days) * gear;
  return row;
}

}  // namespace

CompareAnswer compare_options(const decode::Document& document, const DayFile& file,
                              const catalogue::Catalogue& catalogue, const CompareOptions& options,
                              const odds::Each& each) {
  const day::Scenario& day = file.scenario;
  int holder = -1;
  if (options.holder.empty()) {
    holder = main_holder(file);
    if (holder < 0)
      throw decode::InputError(file.source, {1, 1}, "no holder of this day takes another pack",
                               "compare needs a [[holder]] with packs");
  } else {
    std::string known;
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      if (day.holders[h].charger_supply >= 0 || day.holders[h].built_in) continue;
      if (day.holders[h].name == options.holder) holder = static_cast<int>(h);
      known += (known.empty() ? "" : ", ") + day.holders[h].name;
    }
    if (holder < 0)
      throw decode::InputError("command line", {1, 1}, "--holder: no holder is named \"" + options.holder + "\"",
                               "holders: " + known);
  }
  CompareAnswer answer{.holder = day.holders[at(holder)].name};
  for (const int d : compare::fed_devices(day, holder)) {
    if (day.devices[at(d)].need != day::Need::optional) answer.devices.push_back(day.devices[at(d)].name);
  }
  if (answer.devices.empty())
    throw decode::InputError(file.source, file.inventory.holders[at(holder)].place,
                             "nothing that must run is fed by \"" + answer.holder + "\"",
                             "name another one with --holder");
  const std::vector<CompareOption> list = options.options_file != nullptr
                                              ? read_options(*options.options_file, document, file, catalogue, holder)
                                              : catalogue_options(document, file, catalogue, holder, answer.left_out);
  const odds::OddsOptions drawn = odds_options(file, options.drawn_days, options.seed);
  const compare::Depth depth{.days = options.drawn_days, .seed = options.seed, .spread = drawn.spread};
  std::vector<CompareRow> rows(list.size());
  each(list.size(), [&](std::size_t k) { rows[k] = computed(list[k], options, depth, catalogue, day); });
  for (CompareRow& row : rows) {
    if (options.options_file == nullptr && (!row.failed.empty() || !row.serving.starts)) {
      answer.left_out.push_back({row.option.name, row.failed.empty() ? "what must run does not start on it"
                                                                     : "the forecast of it failed: " + row.failed});
    } else {
      answer.rows.push_back(std::move(row));
    }
  }
  sort_stably(answer.rows, [](const CompareRow& a, const CompareRow& b) {
    if (a.need.possible != b.need.possible) return a.need.possible;
    if (!a.need.possible) return a.serving.likely_s > b.serving.likely_s;
    if (a.need.changes != b.need.changes) return a.need.changes < b.need.changes;
    return a.a_day.rough() < b.a_day.rough();
  });
  return answer;
}

}  // namespace tillwrap::app
