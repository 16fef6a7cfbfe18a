#include "app/sheet_json.hpp"

#include <set>

#include "app/changes_json.hpp"
#include "app/findings_report.hpp"
#include "app/meters_report.hpp"
#include "catalogue/reading.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

Json labels(const day::Scenario& day, const std::vector<int>& packs) {
  Json out = Json::array();
  for (const int pack : packs) out.push_back(day.packs[at(pack)].params.label);
  return out;
}

Json bring(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  const kit::Inventory& kit = report.file->inventory;
  const BringList list = packs_to_bring(report);
  Json packs = Json::array();
  for (std::size_t k = 0; k < list.used.size(); ++k) {
    const int pack = list.used[k];
    const day::Pack& one = day.packs[at(pack)];
    packs.push_back({{"label", one.params.label},
                     {"kind", kit.packs[at(pack)].kind->id},
                     {"title", kit.packs[at(pack)].kind->title},
                     {"first_s", list.first_s[k]},
                     {"charge", one.start_charge},
                     {"rechargeable", day::rechargeable(one)},
                     {"built_in", built_in(day, pack)},
                     {"spare", day.places[at(one.spare_place)].name}});
  }
  Json things = Json::array();
  for (std::size_t s = 0; s < kit.supplies.size(); ++s) {
    if (kit.supplies[s].kind == nullptr) continue;
    things.push_back(
        {{"name", day.supplies[s].name}, {"kind", kit.supplies[s].kind->id}, {"title", kit.supplies[s].kind->title}});
  }
  for (const kit::ChargerItem& charger : kit.chargers) {
    if (charger.holders.empty()) continue;
    things.push_back({{"name", charger.name}, {"kind", charger.kind->id}, {"title", charger.kind->title}});
  }
  return {{"packs", packs}, {"things", things}, {"mass_kg", list.mass_kg}, {"not_in_plan", labels(day, list.home)}};
}

Json changes(const ForecastReport& report, const std::vector<odds::ChangeOdds>& all) {
  const day::Scenario& day = report.file->scenario;
  Json out = Json::array();
  for (const odds::ChangeOdds& change : all) {
    if (change.out_pack < 0 || change.planned_s > day.off_s) continue;
    Json one = change_json(day, change, 0.0);
    one["window"] = nullptr;
    for (const day::Span& span : day::windows(day, day.holders[at(change.holder)].place, day.off_s + day.overrun_s)) {
      if (change.planned_s >= span.from_s - 1.0 && change.planned_s <= span.until_s + 1.0)
        one["window"] = {{"from_s", span.from_s}, {"until_s", span.until_s}};
    }
    out.push_back(one);
  }
  return out;
}

Json past_off(const ForecastReport& report) {
  const day::Scenario& day = report.file->scenario;
  Json out = Json::array();
  for (const forecast::PlannedChange& change : changes_past_off(report)) {
    out.push_back({{"at_s", change.at_s},
                   {"pack", day.packs[at(change.pack)].params.label},
                   {"holder", day.holders[at(change.holder)].name}});
  }
  return out;
}

// Where the numbers of every kind in this kit come from.
Json sources(const kit::Inventory& kit) {
  Json out = Json::array();
  std::set<std::string> told;
  const auto tell = [&](const catalogue::Entry* kind) {
    if (kind == nullptr || !told.insert(kind->id).second) return;
    out.push_back({{"kind", kind->id},
                   {"title", kind->title},
                   {"mark", catalogue::mark_word(kind->provenance.mark)},
                   {"source", kind->provenance.source},
                   {"checked", kind->provenance.checked}});
  };
  for (const kit::PackItem& item : kit.packs) tell(item.kind);
  for (const kit::HolderItem& item : kit.holders) tell(item.kind);
  for (const kit::DeviceItem& item : kit.devices) tell(item.kind);
  for (const kit::BoxItem& item : kit.boxes) tell(item.kind);
  for (const kit::SupplyItem& item : kit.supplies) tell(item.kind);
  for (const kit::ChargerItem& item : kit.chargers) tell(item.kind);
  return out;
}

const char* key(sheet::Section::Where where) {
  switch (where) {
    case sheet::Section::Where::top:
      return "top";
    case sheet::Section::Where::left:
      return "left";
    case sheet::Section::Where::right:
      return "right";
    case sheet::Section::Where::foot:
      break;
  }
  return "foot";
}

Json section_json(const sheet::Section& section) {
  Json one = {{"title", section.title}, {"where", key(section.where)}, {"lines", section.lines}};
  one["checks"] = Json::array();
  for (const sheet::Check& check : section.checks)
    one["checks"].push_back({{"label", check.label}, {"rest", check.rest}});
  one["table"] = nullptr;
  if (section.table) {
    one["table"] = {{"columns", Json::array()}, {"rows", section.table->rows}};
    for (const sheet::Column& column : section.table->columns)
      one["table"]["columns"].push_back({{"title", column.title}, {"right", column.right}, {"blank", column.blank}});
  }
  return one;
}

}  // namespace

Json sheet_object(const SheetParts& parts, const SheetAnswers& answers, const sheet::Sheet& sheet) {
  const ForecastReport& report = parts.forecast;
  const DayFile& file = *report.file;
  Json out;
  out["format"] = "tillwrap-sheet-1";
  out["title"] = file.scenario.title;
  out["date"] = file.date ? Json(*file.date) : Json(nullptr);
  out["heading"] = sheet.title;
  out["verdict"] = sheet.verdict;
  out["under"] = sheet.under;
  out["forecast"] = forecast_object(report);
  out["bring"] = bring(report);
  out["changes"] = changes(report, answers.changes);
  out["past_off"] = past_off(report);
  out["helps"] = Json::array();
  if (answers.remedies) {
    for (const Help& help : helps(*answers.remedies))
      out["helps"].push_back({{"words", help.words}, {"gained_s", help.gained_s}});
  }
  out["meters"] = meters_object({.file = &file, .answer = &answers.meters, .one_device = false});
  out["findings"] = findings_object(file, answers.findings);
  out["expendables"] = expendables_object(expendables_of(file, answers));
  const Wording wording(file.inventory.settings);
  out["cautions"] = Json::array({caution_words(wording)});
  out["computed_from"] = computed_from(report);
  out["sources"] = sources(file.inventory);
  out["sections"] = Json::array();
  for (const sheet::Section& section : sheet.sections) out["sections"].push_back(section_json(section));
  return out;
}

}  // namespace tillwrap::app
