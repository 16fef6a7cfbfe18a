// Plugs: which way round, how firmly, how worn, and what else carries the return current.
#include <algorithm>
#include <cmath>

#include "findings/rules.hpp"

namespace tillwrap::findings {

namespace {

bool barrel(const std::string& id) { return id.rfind("barrel", 0) == 0; }

// What must run, behind a lead, and has no other way to be fed.
std::vector<std::string> only_fed_by(const Work& work, int lead) {
  std::vector<std::string> names;
  for (const int d : work.circuit.devices_behind(work.day.leads[at(lead)].to)) {
    if (work.listed(d) && work.circuit.must_run(d) && !work.circuit.fed(d, lead))
      names.push_back(work.day.devices[at(d)].name);
  }
  return names;
}

void polarity(Work& work) {
  std::vector<Item> reversible;
  std::vector<Item> negative;
  std::vector<Item> check;
  for (std::size_t w = 0; w < work.kit.wires.size(); ++w) {
    const kit::WireItem& wire = work.kit.wires[w];
    const catalogue::ConnectorKind* from = work.known.connector(wire.from_plug);
    const catalogue::ConnectorKind* to = work.known.connector(wire.to_plug);
    for (const catalogue::ConnectorKind* kind : {from, to}) {
      if (kind == nullptr || !kind->can_reverse) continue;
      Item item = work.item_of_lead(wire.lead);
      item.other = kind->title;
      item.names = {kind->polarity};
      item.entry = kind;
      item.entry_key = "polarity";
      reversible.push_back(std::move(item));
      break;
    }
    if (wire.centre_negative && (barrel(wire.from_plug) || barrel(wire.to_plug))) {
      Item item = work.item_of_lead(wire.lead);
      item.other = barrel(wire.to_plug) ? wire.to_plug : wire.from_plug;
      // Others of the same size in the kit that are centre positive: they can be swapped.
      for (const kit::WireItem& another : work.kit.wires) {
        if (&another == &wire || another.centre_negative) continue;
        if (another.to_plug == item.other || another.from_plug == item.other)
          item.names.push_back(work.day.leads[at(another.lead)].name);
      }
      item.entry = barrel(wire.to_plug) ? to : from;
      item.entry_key = "polarity";
      negative.push_back(std::move(item));
      continue;
    }
    // A made-up lead from one class to another, one end of it "usually" centre positive.
    if (from == nullptr || to == nullptr || from == to || wire.length_m <= 0.0) continue;
    if (!barrel(wire.from_plug) && !barrel(wire.to_plug)) continue;
    if (barrel(wire.from_plug) && barrel(wire.to_plug)) continue;
    Item item = work.item_of_lead(wire.lead);
    item.names = {from->title + ": " + from->polarity, to->title + ": " + to->polarity};
    item.entry = barrel(wire.from_plug) ? from : to;
    item.entry_key = "polarity";
    check.push_back(std::move(item));
  }
  work.add(Rule::reversible, Severity::harms, std::move(reversible));
  work.add(Rule::centre_negative, Severity::harms, std::move(negative));
  work.add(Rule::check_polarity, Severity::note, std::move(check));
}

void grip(Work& work) {
  std::vector<Item> loose;
  std::vector<Item> open;
  bool stops = false;
  for (std::size_t w = 0; w < work.kit.wires.size(); ++w) {
    const kit::WireItem& wire = work.kit.wires[w];
    const std::vector<std::string> dark = only_fed_by(work, wire.lead);
    const auto end = [&](const std::string& plug, const std::string& socket, const std::string& where) {
      const catalogue::ConnectorKind* kind = work.known.connector(plug);
      if (kind == nullptr || socket.empty()) return;
      if (work.known.fit(plug, socket) == catalogue::Fit::loose) {
        Item item = work.item_of_lead(wire.lead);
        item.other = where;
        const catalogue::ConnectorKind* into = work.known.connector(socket);
        item.names = {kind->title, into != nullptr ? into->title : socket};
        const double amps = work.seen.most_amps(wire.lead).value;
        item.figures = {{"contact_ohm", kind->contact_worn_ohm * kind->contacts},
                        {"new_ohm", kind->contact_new_ohm * kind->contacts},
                        {"amps_a", amps},
                        {"drop_v", amps * kind->contact_worn_ohm * kind->contacts}};
        item.entry = kind;
        item.entry_key = "contact_worn_ohm";
        stops = stops || !dark.empty();
        loose.push_back(std::move(item));
      }
      if (kind->locks || dark.empty()) return;
      if (!open.empty() && open.back().wire == static_cast<int>(w)) {  // both ends
        open.back().names.push_back(kind->title);
        return;
      }
      Item item = work.item_of_lead(wire.lead);
      item.names = {kind->title};
      item.other = dark.front();
      item.figures = {{"dark", static_cast<double>(dark.size())}};
      item.entry = kind;
      item.entry_key = "locks";
      open.push_back(std::move(item));
    };
    end(wire.from_plug, wire.from_socket, wire.from);
    end(wire.to_plug, wire.to_socket, wire.to);
  }
  work.add(Rule::loose_plug, stops ? Severity::stops : Severity::costs, std::move(loose));
  work.add(Rule::not_locking, Severity::costs, std::move(open));
}

void worn(Work& work) {
  std::vector<Item> items;
  for (std::size_t w = 0; w < work.kit.wires.size(); ++w) {
    const kit::WireItem& wire = work.kit.wires[w];
    if (!wire.worn) continue;
    double worn_ohm = 0.0;
    double new_ohm = 0.0;
    const catalogue::ConnectorKind* worst = nullptr;
    for (const std::string& id : {wire.from_plug, wire.to_plug}) {
      const catalogue::ConnectorKind* kind = work.known.connector(id);
      if (kind == nullptr) continue;
      worn_ohm += kind->contacts * kind->contact_worn_ohm;
      new_ohm += kind->contacts * kind->contact_new_ohm;
      if (worst == nullptr || kind->contact_worn_ohm > worst->contact_worn_ohm) worst = kind;
    }
    const double amps = work.seen.most_amps(wire.lead).value;
    Item item = work.item_of_lead(wire.lead);
    item.figures = {{"worn_ohm", worn_ohm},
                    {"new_ohm", new_ohm},
                    {"amps_a", amps},
                    {"extra_v", amps * (worn_ohm - new_ohm)},
                    {"lost_wh", work.forecast.run.lead_loss_j[at(wire.lead)] / 3600.0}};
    item.entry = worst;
    item.entry_key = "contact_worn_ohm";
    items.push_back(std::move(item));
  }
  for (std::size_t h = 0; h < work.day.holders.size(); ++h) {
    const kit::HolderItem& holder = work.kit.holders[h];
    if (!holder.worn || holder.kind == nullptr) continue;
    const double amps = work.seen.most_holder_amps(static_cast<int>(h)).value;
    items.push_back({.place = holder.place,
                     .what = work.day.holders[h].name,
                     .figures = {{"worn_ohm", holder.kind->contact_worn_ohm},
                                 {"new_ohm", holder.kind->contact_ohm},
                                 {"amps_a", amps},
                                 {"extra_v", amps * (holder.kind->contact_worn_ohm - holder.kind->contact_ohm)}},
                     .holder = static_cast<int>(h),
                     .entry = holder.kind,
                     .entry_key = "contact_worn_ohm"});
  }
  work.add(Rule::worn_contacts, Severity::costs, std::move(items));
}

// The return conductor and the shield lie in parallel: the shield takes R_return / (R_return + R_shield) of the
// current, and all of it when the return breaks.
void shields(Work& work) {
  std::vector<Item> items;
  for (const kit::WireItem& wire : work.kit.wires) {
    if (!wire.shield_return) continue;
    const day::Lead& lead = work.day.leads[at(wire.lead)];
    const double return_ohm = 0.5 * (lead.cable_ohm + lead.contact_ohm);
    const double shield_ohm = kShieldOhmPerM * std::max(wire.length_m, 0.1) + kShieldContactsOhm;
    const Seen::Peak peak = work.seen.most_amps(wire.lead);
    const double share = shield_share(return_ohm, shield_ohm);
    Item item = work.item_of_lead(wire.lead);
    item.figures = {{"amps_a", peak.value},           {"share", share},
                    {"shield_a", share * peak.value}, {"return_ohm", return_ohm},
                    {"shield_ohm", shield_ohm},       {"shield_v", share * peak.value * shield_ohm}};
    items.push_back(std::move(item));
  }
  work.add(Rule::shield_return, Severity::costs, std::move(items));
}

void splitters(Work& work) {
  std::vector<Item> items;
  std::vector<char> told(work.kit.wires.size(), 0);
  for (std::size_t w = 0; w < work.kit.wires.size(); ++w) {
    const kit::WireItem& wire = work.kit.wires[w];
    if (told[w] || wire.from.find('.') == std::string::npos) continue;
    Item item = work.item_of_lead(wire.lead);
    item.what = wire.from;
    double amps = work.seen.most_amps(wire.lead).value;
    for (std::size_t v = w + 1; v < work.kit.wires.size(); ++v) {
      if (work.kit.wires[v].from != wire.from) continue;
      told[v] = 1;
      item.names.push_back(work.kit.wires[v].to);
      amps += work.seen.most_amps(work.kit.wires[v].lead).value;
    }
    if (item.names.empty()) continue;
    item.names.insert(item.names.begin(), wire.to);
    item.figures = {{"amps_a", amps}};
    const catalogue::ConnectorKind* kind = work.known.connector(wire.from_socket);
    if (kind != nullptr && kind->rating_a > 0.0) item.figures.push_back({"limit_a", kind->rating_a});
    items.push_back(std::move(item));
  }
  work.add(Rule::splitter, Severity::note, std::move(items));
}

}  // namespace

void look_at_plugs(Work& work) {
  polarity(work);
  grip(work);
  worn(work);
  shields(work);
  splitters(work);
}

}  // namespace tillwrap::findings
