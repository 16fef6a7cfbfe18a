#include "findings/findings.hpp"

#include <algorithm>
#include <cmath>

#include "cell/pack.hpp"
#include "findings/rules.hpp"
#include "quantity/maths.hpp"
#include "quantity/order.hpp"

namespace tillwrap::findings {

std::string_view rule_key(Rule rule) {
  switch (rule) {
    case Rule::collapse:
      return "collapse";
    case Rule::drop:
      return "drop";
    case Rule::overload:
      return "overload";
    case Rule::near_limit:
      return "near_limit";
    case Rule::fuse_load:
      return "fuse_load";
    case Rule::pptc_warm:
      return "pptc_warm";
    case Rule::fuse_wire:
      return "fuse_wire";
    case Rule::fuse_slow:
      return "fuse_slow";
    case Rule::fuse_missing:
      return "fuse_missing";
    case Rule::inrush:
      return "inrush";
    case Rule::reversible:
      return "reversible";
    case Rule::centre_negative:
      return "centre_negative";
    case Rule::check_polarity:
      return "check_polarity";
    case Rule::loose_plug:
      return "loose_plug";
    case Rule::not_locking:
      return "not_locking";
    case Rule::worn_contacts:
      return "worn_contacts";
    case Rule::shield_return:
      return "shield_return";
    case Rule::splitter:
      return "splitter";
    case Rule::over_volts:
      return "over_volts";
    case Rule::phantom_limit:
      return "phantom_limit";
    case Rule::stored_drain:
      return "stored_drain";
    case Rule::back_feed:
      return "back_feed";
    case Rule::unequal_packs:
      return "unequal_packs";
    case Rule::pd_outage:
      return "pd_outage";
    case Rule::vehicle:
      return "vehicle";
    case Rule::bank_sleep:
      return "bank_sleep";
    case Rule::mixed_cells:
      return "mixed_cells";
    case Rule::cold_alkaline:
      return "cold_alkaline";
    case Rule::knocked_switch:
      return "knocked_switch";
    case Rule::single_point:
      return "single_point";
  }
  return "";
}

std::string_view severity_key(Severity severity) {
  switch (severity) {
    case Severity::stops:
      return "stops";
    case Severity::harms:
      return "harms";
    case Severity::costs:
      return "costs";
    case Severity::note:
      return "note";
  }
  return "";
}

void Work::add(Rule rule, Severity severity, std::vector<Item> items) {
  if (!items.empty()) found.push_back({rule, severity, std::move(items)});
}

const kit::WireItem* Work::wire_of(int lead) const {
  const int w = wire_index(lead);
  return w < 0 ? nullptr : &kit.wires[at(w)];
}

int Work::wire_index(int lead) const {
  for (std::size_t w = 0; w < kit.wires.size(); ++w) {
    if (kit.wires[w].lead == lead) return static_cast<int>(w);
  }
  return -1;
}

int Work::box_index(const std::string& name) const {
  for (std::size_t b = 0; b < kit.boxes.size(); ++b) {
    if (day.devices[at(kit.boxes[b].device)].name == name) return static_cast<int>(b);
  }
  return -1;
}

Item Work::item_of_lead(int lead) const {
  Item item;
  item.what = day.leads[at(lead)].name;
  item.wire = wire_index(lead);
  if (item.wire >= 0) {
    item.place = kit.wires[at(item.wire)].place;
    return item;
  }
  for (std::size_t b = 0; b < kit.boxes.size(); ++b) {
    const std::string& name = day.devices[at(kit.boxes[b].device)].name;
    if (item.what.rfind(name + ".", 0) != 0 && item.what.rfind(name + " ", 0) != 0) continue;
    item.box = static_cast<int>(b);
    item.place = kit.boxes[b].place;
  }
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    if (item.box >= 0 || day.leads[at(lead)].from != day.holders[h].port) continue;
    item.holder = static_cast<int>(h);
    item.place = kit.holders[h].place;
  }
  return item;
}

double Work::nominal_v(const Feed& feed) const {
  if (feed.kind == Feed::Kind::supply) return day.supplies[at(feed.index)].volts;
  if (feed.kind == Feed::Kind::regulator) return day.regulators[at(feed.index)].law.set_v;
  const day::Holder& holder = day.holders[at(feed.index)];
  if (holder.slots.empty()) return 0.0;
  const int pack = holder.slots.front().pack;
  if (day.packs[at(pack)].regulator) return day.packs[at(pack)].regulator->set_v;
  return kit.packs[at(pack)].kind->nominal_v;
}

double Work::full_v(const Feed& feed, std::string* name) const {
  if (feed.kind == Feed::Kind::supply) {
    if (name != nullptr) *name = day.supplies[at(feed.index)].name;
    return day.supplies[at(feed.index)].volts;
  }
  if (feed.kind == Feed::Kind::regulator) {
    if (name != nullptr) *name = day.regulators[at(feed.index)].name;
    return day.regulators[at(feed.index)].law.set_v;
  }
  double most_v = 0.0;
  for (const day::Slot& slot : day.holders[at(feed.index)].slots) {
    const day::Pack& pack = day.packs[at(slot.pack)];
    const double v = pack.regulator ? pack.regulator->set_v
                                    : std::max(pack.charge_v, pack.params.series * pack.params.cell.ocv.value(1.0));
    if (v <= most_v) continue;
    most_v = v;
    if (name != nullptr) *name = pack.params.label;
  }
  return most_v;
}

int Work::guard(int lead) const {
  std::vector<char> seen(day.leads.size(), 0);
  for (int here = lead; here >= 0 && !seen[at(here)];) {
    if (day.leads[at(here)].fuse) return here;
    seen[at(here)] = 1;
    int next = -1;
    for (std::size_t k = 0; k < day.leads.size(); ++k) {
      if (day.leads[k].to == day.leads[at(here)].from) next = static_cast<int>(k);
    }
    here = next;
  }
  return -1;
}

const catalogue::FuseKind* Work::fuse_kind(int lead) const {
  if (const kit::WireItem* wire = wire_of(lead); wire != nullptr && !wire->fuse_kind.empty())
    return known.fuse(wire->fuse_kind);
  const day::Lead& l = day.leads[at(lead)];
  for (const kit::BoxItem& box : kit.boxes) {
    const std::string& name = day.devices[at(box.device)].name;
    if (l.name == name + " main fuse") return known.fuse(box.kind->main_fuse);
    for (const kit::OutputItem& output : box.outputs) {
      if (output.name == l.name) return known.fuse(output.kind->fuse);
    }
  }
  return nullptr;
}

std::string Work::name_of_feed(const Feed& feed) const {
  if (feed.kind == Feed::Kind::supply) return day.supplies[at(feed.index)].name;
  if (feed.kind == Feed::Kind::regulator) return day.regulators[at(feed.index)].name;
  return day.holders[at(feed.index)].name;
}

double hour_ratio(const wiring::FuseLaw& law) {
  constexpr double kHour_s = 3600.0;
  double low = 1.0;
  double high = 100.0;
  if (wiring::seconds_to_open(law, high) > kHour_s) return high;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (wiring::seconds_to_open(law, middle) > kHour_s ? low : high) = middle;
  }
  return high;
}

double pulse_ohm(const day::Pack& pack) {
  constexpr double kRoom_k = 298.15;
  constexpr double kPulse_a = 10.0;
  const cell::PackState state = cell::rested(pack.params, 1.0, kRoom_k);
  const cell::CellRates rates = cell::rates_at(pack.params.cell, kRoom_k);
  return (cell::evaluate(pack.params, rates, state, 0.0).volts -
          cell::evaluate(pack.params, rates, state, kPulse_a).volts) /
         kPulse_a;
}

double shield_share(double return_ohm, double shield_ohm) { return return_ohm / (return_ohm + shield_ohm); }

double most_power_w(double volts, double ohm) { return volts * volts / (4.0 * ohm); }

double inrush_a2s(double farad, double volts, double ohm) { return farad * volts * volts / (2.0 * ohm); }

double inrush_above_s(double farad, double volts, double ohm, double amps) {
  return volts / ohm > amps ? ohm * farad * maths::log(volts / (ohm * amps)) : 0.0;
}

double hold_up_s(double farad, double from_v, double to_v, double power_w) {
  return power_w > 0.0 && from_v > to_v ? farad * (from_v * from_v - to_v * to_v) / (2.0 * power_w) : 0.0;
}

std::vector<Finding> find(const Input& input, const Options& options) {
  Work work{.day = *input.day,
            .kit = *input.kit,
            .known = *input.known,
            .forecast = *input.forecast,
            .circuit = Circuit(*input.day),
            .seen = Seen(*input.day, input.forecast->run),
            .found = {}};
  look_at_copper(work);
  look_at_fuses(work);
  look_at_plugs(work);
  look_at_sources(work);
  look_at_cells(work);
  look_at_single_points(work, options.single_points);
  sort_stably(work.found, [](const Finding& a, const Finding& b) {
    return a.severity != b.severity ? a.severity < b.severity : a.rule < b.rule;
  });
  return std::move(work.found);
}

std::vector<Finding> find(const day::Scenario& day, const kit::Inventory& kit, const catalogue::Catalogue& known) {
  const forecast::Forecast run = forecast::forecast(day, {.trace = true, .with_one_loss = false});
  return find({.day = &day, .kit = &kit, .known = &known, .forecast = &run});
}

}  // namespace tillwrap::findings
