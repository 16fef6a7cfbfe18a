#include "app/report_json.hpp"
#include "app/travel_report.hpp"
#include "catalogue/reading.hpp"

namespace tillwrap::app {

namespace {

using catalogue::TravelRule;
using travel::Answer;
using travel::Instead;
using travel::Item;
using travel::Reading;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

const char* goes_key(TravelRule::Goes goes) {
  return goes == TravelRule::Goes::cabin           ? "cabin"
         : goes == TravelRule::Goes::cabin_or_hold ? "cabin_or_hold"
                                                   : "cargo";
}

const char* class_key(const catalogue::TravelClass& travel) {
  using Kind = catalogue::TravelClass::Kind;
  switch (travel.kind) {
    case Kind::lithium_ion:
      return "lithium-ion";
    case Kind::lithium_metal:
      return "lithium-metal";
    case Kind::nickel:
      return "nickel";
    case Kind::alkaline:
      return "alkaline";
    case Kind::lead_non_spillable:
      return "lead-non-spillable";
  }
  return "";
}

const char* instead_key(Instead what) {
  switch (what) {
    case Instead::smaller_pack:
      return "smaller_pack";
    case Instead::plain_pack:
      return "plain_pack";
    case Instead::dry_cells:
      return "dry_cells";
    case Instead::more_travellers:
      return "more_travellers";
    case Instead::by_ground:
      return "by_ground";
    case Instead::rent_there:
      return "rent_there";
  }
  return "";
}

Json reading_json(const Answer& answer, const Reading& reading) {
  Json out = {{"fits", reading.fits}, {"travellers_needed", reading.people_needed}};
  out["counts"] = Json::array();
  for (const travel::Tally& tally : reading.tallies)
    out["counts"].push_back({{"rule", tally.limit->id},
                             {"title", tally.limit->title},
                             {"count", tally.count},
                             {"most_a_person", tally.limit->most_a_person}});
  out["share"] = Json::array();
  for (const std::vector<travel::Part>& person : reading.shares) {
    std::vector<int> pieces(answer.items.size(), 0);
    for (const travel::Part& part : person) pieces[at(part.item)] += part.pieces;
    Json takes = Json::array();
    for (std::size_t i = 0; i < pieces.size(); ++i) {
      if (pieces[i] > 0) takes.push_back({{"item", i}, {"pieces", pieces[i]}});
    }
    out["share"].push_back(takes);
  }
  return out;
}

}  // namespace

Json travel_object(const TravelReport& report) {
  const Answer& a = *report.answer;
  const day::Scenario& day = report.file->scenario;
  const auto labels = [&](const std::vector<int>& packs) {
    Json out = Json::array();
    for (const int pack : packs) out.push_back(day.packs[at(pack)].params.label);
    return out;
  };
  Json out;
  out["format"] = "tillwrap-travel-1";
  out["title"] = day.title;
  out["on"] = a.date;
  out["travellers"] = a.travellers;
  out["may_fly"] = a.all_fly;
  out["travellers_needed"] = a.strict.people_needed;
  out["readings_differ"] = a.readings_differ;
  out["items"] = Json::array();
  for (const Item& item : a.items) {
    out["items"].push_back({{"labels", labels(item.packs)},
                            {"kind", item.kind->id},
                            {"class", class_key(item.kind->travel)},
                            {"wh", item.rated_wh},
                            {"lithium_g", item.lithium_g},
                            {"pieces_each", item.pieces},
                            {"travels", item.in_device ? "in_device" : "spare"},
                            {"goes", goes_key(item.goes())},
                            {"approval", item.approval},
                            {"power_bank", item.bank == nullptr ? "no"
                                           : item.bank_unclear  ? "unclear"
                                                                : "yes"},
                            {"protect", item.rule->protect},
                            {"rule", item.rule->id}});
  }
  out["stays"] = labels(a.stays);
  out["strict"] = reading_json(a, a.strict);
  out["narrow"] = reading_json(a, a.narrow);
  out["approvals"] = Json::array();
  for (const int item : a.approvals)
    out["approvals"].push_back({{"item", item}, {"sentence", approval_sentence(report, item)}});
  out["alternatives"] = Json::array();
  for (const travel::Alternative& alternative : a.alternatives) {
    out["alternatives"].push_back({{"what", instead_key(alternative.what)},
                                   {"item", alternative.item >= 0 ? Json(alternative.item) : Json(nullptr)},
                                   {"kind", alternative.kind != nullptr ? Json(alternative.kind->id) : Json(nullptr)},
                                   {"count", alternative.count > 0 ? Json(alternative.count) : Json(nullptr)},
                                   {"sentence", alternative_sentence(report, alternative)}});
  }
  out["rules"] = Json::array();
  for (const TravelRule* rule : a.rules)
    out["rules"].push_back({{"id", rule->id},
                            {"title", rule->title},
                            {"text", rule->text},
                            {"valid_from", rule->valid_from},
                            {"valid_until", rule->valid_until},
                            {"source", rule->provenance.source},
                            {"mark", catalogue::mark_word(rule->provenance.mark)},
                            {"checked", rule->provenance.checked}});
  return out;
}

std::string travel_json(const TravelReport& report) { return travel_object(report).dump(2) + "\n"; }

}  // namespace tillwrap::app
