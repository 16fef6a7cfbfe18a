// Cells: one weak one among good ones, alkaline ones in the cold.
#include <algorithm>

#include "findings/rules.hpp"

namespace tillwrap::findings {

namespace {

// A set of loose cells whose weakest holds this much less than the others was not bought and charged together.
constexpr double kUnlike = 0.9;
// Alkaline cells lose much of what they give under load below this (common practice).
constexpr double kColdAlkaline_k = 278.15;

void mixed(Work& work) {
  std::vector<Item> items;
  bool harms = false;
  std::vector<char> told(work.day.packs.size(), 0);
  for (const forecast::Stint& stint : work.forecast.run.stints) {
    const std::size_t p = at(stint.pack);
    const day::Pack& pack = work.day.packs[p];
    if (told[p] || stint.in_s >= work.day.off_s || work.day.holders[at(stint.holder)].charger_supply >= 0) continue;
    const double usual = work.kit.packs[p].kind->weak_fraction;
    const double weak = pack.params.weak_fraction;
    double reversed_at_s = -1.0;
    for (const forecast::Event& event : work.forecast.run.events) {
      if (event.kind == forecast::EventKind::cell_reversed && event.pack == stint.pack &&
          event.at_s <= work.day.off_s && reversed_at_s < 0.0)
        reversed_at_s = event.at_s;
    }
    const bool unlike = pack.params.series > 1 && weak < kUnlike && weak < usual;
    if (!unlike && reversed_at_s < 0.0) continue;
    told[p] = 1;
    Item item{.place = work.kit.packs[p].place,
              .what = pack.params.label,
              .other = work.day.holders[at(stint.holder)].name,
              .figures = {{"weak", weak}, {"usual", usual}, {"cells", static_cast<double>(pack.params.series)}},
              .holder = stint.holder,
              .entry = work.kit.packs[p].kind,
              .entry_key = "weak_fraction"};
    if (reversed_at_s >= 0.0) item.figures.push_back({"reversed_at_s", reversed_at_s});
    harms = harms || reversed_at_s >= 0.0;
    items.push_back(std::move(item));
  }
  work.add(Rule::mixed_cells, harms ? Severity::harms : Severity::costs, std::move(items));
}

void cold(Work& work) {
  std::vector<Item> items;
  for (const forecast::Stint& stint : work.forecast.run.stints) {
    const std::size_t p = at(stint.pack);
    const day::Pack& pack = work.day.packs[p];
    if (pack.params.cell.chemistry != cell::Chemistry::alkaline || stint.in_s >= work.day.off_s) continue;
    if (stint.lowest_k >= kColdAlkaline_k) continue;
    items.push_back({.place = work.kit.packs[p].place,
                     .what = pack.params.label,
                     .other = work.day.holders[at(stint.holder)].name,
                     .figures = {{"temperature_k", stint.lowest_k},
                                 {"given_wh", stint.delivered_j / 3600.0},
                                 {"rated_wh", work.kit.packs[p].rated_wh},
                                 {"end_charge", stint.end_charge}},
                     .holder = stint.holder});
  }
  work.add(Rule::cold_alkaline, Severity::costs, std::move(items));
}

}  // namespace

void look_at_cells(Work& work) {
  mixed(work);
  cold(work);
}

}  // namespace tillwrap::findings
