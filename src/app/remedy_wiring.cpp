// Steps that feed it otherwise: a second input, higher volts, a second cup.
#include <fmt/format.h>

#include <algorithm>

#include "app/day_feed.hpp"
#include "app/prices.hpp"
#include "app/remedy_steps.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr double kHigher_v = 2.0;
constexpr double kRewire_s = 300.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

decode::Node pack_table(const std::string& label, const std::string& kind, const std::string& spare) {
  return edit::table("", {edit::text("label", label), edit::text("kind", kind), edit::text("spare", spare)});
}

// A compartment of its own that nothing sits in yet.
void second_inputs(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const kit::Inventory& kit = base.file->inventory;
  for (std::size_t d = 0; d < kit.devices.size(); ++d) {
    const kit::DeviceItem& item = kit.devices[d];
    if (item.kind == nullptr || day.devices[d].need == day::Need::optional) continue;
    std::string seen;
    for (const kit::InputItem& input : item.inputs) {
      if (input.port >= 0 || !input.socket.ends_with("contacts") || input.socket == seen) continue;
      seen = input.socket;  // of two alike one tells it all
      for (const std::string& id : item.kind->holders) {
        const catalogue::HolderKind* holder = base.catalogue->holder(id);
        if (holder == nullptr || catalogue::contacts_of(*holder) != input.socket) continue;
        const bool built_in = holder->change_s <= 0.0;
        for (const std::string& pack_id : holder->fits) {
          const catalogue::PackKind* pack = base.catalogue->pack(pack_id);
          if (pack == nullptr) continue;
          const bool alkaline = pack->travel.kind == catalogue::TravelClass::Kind::alkaline;
          if (alkaline) continue;  // the worst of those that fit
          const Money money = built_in ? Money{} : pack_price(kit, *pack);
          steps.push_back(
              {.kind = "second_input",
               .words = built_in ? fmt::format("{}: its own cell as well", day.devices[d].name)
                                 : fmt::format("{} in {} as well", pack->id, input.name),
               .note = built_in ? "charged the night before" : "carries it through a change",
               .change =
                   [point = input.name, holder_id = id, pack_id,
                    place = day.places[at(day.devices[d].place)].name](decode::Document& document) {
                     const std::string name =
                         edit::fresh_name(document, point.substr(0, point.find('.')) + " second feed");
                     const std::string label = edit::fresh_name(document, name + " pack");
                     edit::things(document, "pack").children.push_back(pack_table(label, pack_id, place));
                     edit::things(document, "holder")
                         .children.push_back(edit::table(
                             "", {edit::text("name", name), edit::text("kind", holder_id), edit::text("place", place),
                                  edit::text("in", point), edit::texts("packs", {label})}));
                   },
               .cost = {.mass_kg = pack->mass_kg, .hands_s = holder->change_s, .buy = !built_in},
               .money = money,
               .fills = pack});
        }
        break;
      }
    }
  }
}

// Least volts that every must-run device asks of this feed do not matter to a pack with more of them; most volts do,
// and are checked when the changed day is read.
void higher_volts(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const kit::Inventory& kit = base.file->inventory;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    if (!base.holder_matters[h] || holder.charger_supply >= 0 || holder.built_in || holder.slots.empty()) continue;
    const kit::PackItem& now = kit.packs[at(holder.slots.front().pack)];
    if (now.kind->nominal_v < 5.0) continue;  // single cells of body-packs and the like
    for (const catalogue::HolderKind& kind : base.catalogue->holders) {
      const catalogue::PackKind* best = nullptr;
      for (const std::string& id : kind.fits) {
        const catalogue::PackKind* pack = base.catalogue->pack(id);
        if (pack == nullptr || pack->regulator || pack->travel.kind != catalogue::TravelClass::Kind::lithium_ion)
          continue;
        if (pack->nominal_v < now.kind->nominal_v + kHigher_v || pack->rated_wh > 100.0) continue;
        if (best == nullptr || pack->rated_wh > best->rated_wh) best = pack;
      }
      if (best == nullptr || kind.place == "cart") continue;
      Feed feed{.holder = holder.name, .holder_kind = &kind, .pack_kind = best};
      for (std::size_t k = 0; k < holder.slots.size(); ++k)
        feed.labels.push_back(edit::fresh_name(*base.document, fmt::format("{} new {}", holder.name, k + 1)));
      try {
        const FeedChange change = feed_change(*base.file, *base.catalogue, feed);
        const double count = static_cast<double>(feed.labels.size());
        const Money money = count * pack_price(kit, *best);
        steps.push_back(
            {.kind = "higher_volts",
             .words = fmt::format("{} for {}: {:.3g} V instead of {:.3g} ({})", best->id, holder.name, best->nominal_v,
                                  now.kind->nominal_v, plural(std::ssize(feed.labels), "pack")),
             .note = change.how,
             .change = change.change,
             .cost = {.mass_kg = count * (best->mass_kg - now.kind->mass_kg), .hands_s = kRewire_s, .buy = true},
             .money = money,
             .fills = best});
      } catch (const NotPossible&) {
        continue;  // nothing of this kind goes in there
      }
    }
  }
}

// A box with one cup becomes one with two: one pack can be changed while the other carries.
void two_cups(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const kit::Inventory& kit = base.file->inventory;
  for (const kit::BoxItem& box : kit.boxes) {
    if (box.kind->inputs.size() != 1) continue;
    const std::string cup = box.kind->inputs.front();
    const std::string name = day.devices[at(box.device)].name;
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      const kit::HolderItem& item = kit.holders[h];
      if (item.kind == nullptr || item.kind->id != cup || day.holders[h].slots.empty()) continue;
      if (item.sits_in != name && item.sits_in != name + ".in-1") continue;
      const catalogue::PackKind* pack = kit.packs[at(day.holders[h].slots.front().pack)].kind;
      for (const catalogue::BoxKind& kind : base.catalogue->boxes) {
        if (std::count(kind.inputs.begin(), kind.inputs.end(), cup) < 2) continue;
        DayChange boxes;
        try {
          boxes = box_change(*base.file, name, kind);
        } catch (const NotPossible&) {
          continue;
        }
        const Money money = pack_price(kit, *pack);
        steps.push_back(
            {.kind = "two_cups",
             .words = fmt::format("{} for {} and one more {}", kind.id, name, pack->id),
             .change =
                 [boxes, name, cup, pack_id = pack->id, first = day.holders[h].name](decode::Document& document) {
                   boxes(document);
                   const std::string holder = edit::fresh_name(document, first + " 2");
                   const std::string label = edit::fresh_name(document, holder + " pack");
                   edit::things(document, "pack").children.push_back(pack_table(label, pack_id, "bag"));
                   edit::things(document, "holder")
                       .children.push_back(edit::table("", {edit::text("name", holder), edit::text("kind", cup),
                                                            edit::text("in", name), edit::texts("packs", {label})}));
                 },
             .cost = {.mass_kg = pack->mass_kg + kind.mass_kg - box.kind->mass_kg, .hands_s = kRewire_s, .buy = true},
             .money = money,
             .fills = pack});
      }
    }
  }
}

}  // namespace

void wiring_steps(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  second_inputs(base, steps);
  higher_volts(base, steps);
  two_cups(base, steps);
}

RemedyBase remedy_base(const decode::Document& document, const DayFile& file, const forecast::Forecast& forecast,
                       const catalogue::Catalogue& catalogue) {
  RemedyBase base{.document = &document, .file = &file, .forecast = &forecast, .catalogue = &catalogue};
  base.holder_matters.assign(file.scenario.holders.size(), 0);
  base.device_matters.assign(file.scenario.devices.size(), 0);
  for (const forecast::Piece& piece : forecast::split(file.scenario)) {
    if (!piece.must_run) continue;
    for (const int h : piece.holders) base.holder_matters[at(h)] = 1;
    for (const int d : piece.devices) base.device_matters[at(d)] = 1;
  }
  return base;
}

std::vector<RemedyStep> remedy_steps(const RemedyBase& base) {
  std::vector<RemedyStep> steps;
  load_steps(base, steps);
  time_steps(base, steps);
  pack_steps(base, steps);
  wiring_steps(base, steps);
  return steps;
}

}  // namespace tillwrap::app
