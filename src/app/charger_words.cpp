#include "app/charger_words.hpp"

#include <fmt/format.h>

#include <cmath>

#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr double kDay_s = 86400.0;

}  // namespace

std::string charger_words(const ChargerNeed& need, const Wording& wording) {
  const std::string by =
      fmt::format("{} full again by {}", need.packs == 1 ? "the one used" : fmt::format("the {} used", need.packs),
                  wording.clock(std::fmod(need.until_s, kDay_s)));
  if (need.packs == 0) return {};
  if (!need.enough) return fmt::format("no number of chargers has {}", by);
  std::string text;
  if (need.kind != nullptr)
    text = fmt::format("{}{} ({}, {}, {})", need.add > 1 ? fmt::format("{} x ", need.add) : "", need.kind->title,
                       plural(need.bays, "bay"), wording.money(need.money), wording.weight(need.mass_kg));
  else
    text = fmt::format("the {} at hand", plural(need.own_bays, "bay"));
  if (need.kind != nullptr && need.own_bays > 0)
    text += fmt::format(" beside the {} at hand", plural(need.own_bays, "bay"));
  return fmt::format("{}: {}{}", text, by, need.overnight ? ", charging also while nobody is awake there" : "");
}

Json charger_json(const ChargerNeed& need, const kit::Settings& settings) {
  return {{"kind", need.kind != nullptr ? Json(need.kind->id) : Json(nullptr)},
          {"add", need.add},
          {"bays", need.bays},
          {"own_bays", need.own_bays},
          {"packs", need.packs},
          {"enough", need.enough},
          {"overnight", need.overnight},
          {"hours_assumed", need.hours_assumed},
          {"from_s", need.from_s},
          {"until_s", need.until_s},
          {"price", money_json(need.money, settings)},
          {"mass_kg", need.mass_kg}};
}

std::string charger_hours_words() {
  return "Chargers as the night plans them; somebody awake there for four hours after off and the last before call, as "
         "[rest] does not say when.";
}

}  // namespace tillwrap::app
