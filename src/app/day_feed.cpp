#include "app/day_feed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace tillwrap::app {

using decode::Node;

namespace {

constexpr const char* kAdapterLength = "0.3 m";
constexpr const char* kAdapterWire = "AWG 18";

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string before_dot(const std::string& point) { return point.substr(0, point.find('.')); }

const kit::BoxItem* box_named(const DayFile& file, const std::string& name) {
  for (const kit::BoxItem& box : file.inventory.boxes) {
    if (file.scenario.devices[at(box.device)].name == name) return &box;
  }
  return nullptr;
}

// Connector of an input: a box's or a device's.
std::string plug_of(const DayFile& file, const catalogue::Catalogue& catalogue, const std::string& point) {
  for (const kit::DeviceItem& device : file.inventory.devices) {
    for (const kit::InputItem& input : device.inputs) {
      if (input.name == point) return input.socket;
    }
  }
  const kit::BoxItem* box = box_named(file, before_dot(point));
  const std::size_t number = point.rfind('-');
  if (box == nullptr || number == std::string::npos) return {};
  const auto k = static_cast<std::size_t>(std::stoi(point.substr(number + 1)) - 1);
  if (k >= box->kind->inputs.size()) return {};
  const catalogue::HolderKind* holder = catalogue.holder(box->kind->inputs[k]);
  return holder == nullptr ? box->kind->inputs[k] : dummy_plug(*holder);
}

// The device input a lead can go to instead of a battery compartment's contacts.
std::string free_socket(const DayFile& file, const std::string& point) {
  for (const kit::DeviceItem& device : file.inventory.devices) {
    const bool this_one = std::any_of(device.inputs.begin(), device.inputs.end(),
                                      [&](const kit::InputItem& input) { return input.name == point; });
    if (!this_one) continue;
    for (const kit::InputItem& input : device.inputs) {
      if (input.port < 0 && !input.socket.ends_with("contacts")) return input.name;
    }
  }
  return {};
}

}  // namespace

std::string dummy_plug(const catalogue::HolderKind& kind) { return catalogue::contacts_of(kind); }

std::vector<const catalogue::HolderKind*> holders_of(const catalogue::Catalogue& catalogue,
                                                     const std::string& pack_kind) {
  std::vector<const catalogue::HolderKind*> found;
  for (const catalogue::HolderKind& holder : catalogue.holders) {
    if (std::find(holder.fits.begin(), holder.fits.end(), pack_kind) != holder.fits.end()) found.push_back(&holder);
  }
  return found;
}

std::vector<FeedTarget> feed_targets(const DayFile& file, const catalogue::Catalogue& catalogue, int holder) {
  const day::Scenario& day = file.scenario;
  const std::string& name = day.holders[at(holder)].name;
  std::vector<FeedTarget> targets;
  const auto add = [&](const std::string& point, bool by_wire) {
    const std::string owner = before_dot(point);
    targets.push_back({.point = point,
                       .plug = plug_of(file, catalogue, point),
                       .by_wire = by_wire,
                       .box = box_named(file, owner) == nullptr ? "" : owner});
  };
  const std::string joined = name + " in ";
  for (const day::Lead& lead : day.leads) {
    if (lead.from == day.holders[at(holder)].port && lead.name.starts_with(joined))
      add(lead.name.substr(joined.size()), false);
  }
  for (const kit::WireItem& wire : file.inventory.wires) {
    if (day.leads[at(wire.lead)].from != day.holders[at(holder)].port) continue;
    const std::string point = wire.to.find('.') != std::string::npos ? wire.to : [&] {
      for (const kit::DeviceItem& device : file.inventory.devices) {
        for (const kit::InputItem& input : device.inputs) {
          if (input.port == day.leads[at(wire.lead)].to) return input.name;
        }
      }
      return wire.to;
    }();
    add(point, true);
    if (!wire.to_socket.empty()) targets.back().plug = wire.to_socket;
    targets.back().from_socket = wire.from_socket;
    targets.back().to = wire.to;
  }
  return targets;
}

FeedChange feed_change(const DayFile& file, const catalogue::Catalogue& catalogue, const Feed& feed) {
  const day::Scenario& day = file.scenario;
  const auto found = std::find_if(day.holders.begin(), day.holders.end(),
                                  [&](const day::Holder& holder) { return holder.name == feed.holder; });
  if (found == day.holders.end()) throw NotPossible("there is no holder \"" + feed.holder + "\"");
  const int h = static_cast<int>(found - day.holders.begin());
  const kit::HolderItem& item = file.inventory.holders[at(h)];
  if (item.kind == nullptr || found->built_in) throw NotPossible("\"" + feed.holder + "\" takes no other pack");
  std::vector<FeedTarget> targets = feed_targets(file, catalogue, h);
  if (targets.empty()) throw NotPossible("\"" + feed.holder + "\" feeds nothing");

  // Packs only this holder uses, and spares that fit it and nothing else that is used, make room.
  std::set<std::string> gone;
  std::set<int> elsewhere;
  for (std::size_t k = 0; k < day.holders.size(); ++k) {
    if (static_cast<int>(k) == h || day.holders[k].charger_supply >= 0) continue;
    for (const day::Slot& slot : day.holders[k].slots) elsewhere.insert(slot.pack);
  }
  for (std::size_t p = 0; p < day.packs.size(); ++p) {
    const bool fits =
        std::find(found->accepts.begin(), found->accepts.end(), day.packs[p].mount) != found->accepts.end();
    if (fits && !elsewhere.contains(static_cast<int>(p))) gone.insert(day.packs[p].params.label);
  }

  FeedChange made;
  struct Lead {
    std::string to, from_plug, to_plug;
  };
  std::vector<Lead> fresh;
  const bool same_holder = feed.holder_kind == item.kind;
  std::string plug = feed.holder_kind->plug.empty() ? feed.pack_kind->plug : feed.holder_kind->plug;
  std::vector<Lead> changed;
  for (FeedTarget& target : targets) {
    if (target.by_wire) {
      if (!same_holder || plug != target.from_socket)
        changed.push_back({target.to, plug.empty() ? target.plug : plug, target.plug});
      made.how = same_holder ? "as now" : fmt::format("{} with a lead to {}", feed.holder_kind->id, target.plug);
      made.adapter = made.adapter || !same_holder;
      continue;
    }
    // What it sits in takes it, or a lead takes the holder's place.
    const kit::BoxItem* box = target.box.empty() ? nullptr : box_named(file, target.box);
    const catalogue::BoxKind* box_kind = feed.box != nullptr ? feed.box : box != nullptr ? box->kind : nullptr;
    if (box_kind != nullptr &&
        std::find(box_kind->inputs.begin(), box_kind->inputs.end(), feed.holder_kind->id) != box_kind->inputs.end()) {
      made.how = "in the box's own holder";
      continue;
    }
    if (box_kind == nullptr && same_holder) {
      made.how = "in its own place";
      continue;
    }
    if (box_kind != nullptr && box_kind != (box == nullptr ? nullptr : box->kind)) {
      const catalogue::HolderKind* cup = catalogue.holder(box_kind->inputs.front());
      target.plug = cup == nullptr ? box_kind->inputs.front() : dummy_plug(*cup);
      target.point = target.box + ".in-1";
    }
    if (target.box.empty()) {
      // The same contacts with another holder (a tray's AA and a sled's) would need a device made for it: use a socket.
      const std::string socket = free_socket(file, target.point);
      if (socket.empty())
        throw NotPossible("\"" + target.point + "\" takes nothing else and the device has no free socket");
      target.point = socket;
      target.plug = plug_of(file, catalogue, socket);
    }
    if (target.plug.empty()) throw NotPossible("no lead goes into \"" + target.point + "\"");
    fresh.push_back({target.point, plug.empty() ? target.plug : plug, target.plug});
    made.adapter = true;
    made.how = fmt::format("{}, lead to {}", feed.holder_kind->id, target.plug);
  }

  const std::string old_place = day.places[at(found->place)].name;
  made.change = [feed, gone, fresh, changed, same_holder, old_place](decode::Document& document) {
    for (const std::string& label : gone) edit::remove_pack(document, label);
    Node pack = edit::table("");
    edit::set(pack, edit::texts("labels", feed.labels));
    edit::set(pack, edit::text("kind", feed.pack_kind->id));
    edit::set(pack, edit::text("spare", feed.spare));
    edit::set(pack, edit::text("health", fmt::format("{:.6g} %", 100.0 * feed.health)));
    if (feed.price >= 0.0) edit::set(pack, edit::number("price", feed.price));
    edit::things(document, "pack").children.push_back(pack);
    Node& holder = edit::thing(document, "holder", "name", feed.holder);
    edit::set(holder, edit::texts("packs", feed.labels));
    if (!same_holder) {
      edit::set(holder, edit::text("kind", feed.holder_kind->id));
      edit::set(holder, edit::text("place", old_place));
      edit::drop(holder, "contacts");
      edit::drop(holder, "change");
    }
    if (!fresh.empty()) edit::drop(holder, "in");
    for (const Lead& lead : fresh) {
      Node wire = edit::table("");
      edit::set(wire, edit::text("from", feed.holder));
      edit::set(wire, edit::text("to", lead.to));
      edit::set(wire, edit::text("length", kAdapterLength));
      edit::set(wire, edit::text("wire", kAdapterWire));
      edit::set(wire, edit::texts("plugs", {lead.from_plug, lead.to_plug}));
      edit::things(document, "wire").children.push_back(wire);
    }
    for (const Lead& lead : changed) {
      for (Node& wire : edit::things(document, "wire").children) {
        Node* from = edit::child(wire, "from");
        const Node* to = wire.find("to");
        if (from == nullptr || (from->text != feed.holder && from->text != feed.holder + ".tap")) continue;
        if (to == nullptr || to->text != lead.to) continue;
        from->text = feed.holder;
        edit::set(wire, edit::texts("plugs", {lead.from_plug, lead.to_plug}));
        if (edit::child(wire, "length") == nullptr) {
          edit::set(wire, edit::text("length", kAdapterLength));
          edit::set(wire, edit::text("wire", kAdapterWire));
        }
      }
    }
  };
  return made;
}

DayChange box_change(const DayFile& file, const std::string& box, const catalogue::BoxKind& kind) {
  const kit::BoxItem* now = box_named(file, box);
  if (now == nullptr) throw NotPossible("there is no box \"" + box + "\"");
  struct Moved {
    std::string from, to, output, plug, to_plug;
  };
  std::vector<Moved> moved;
  std::set<std::string> used;
  std::vector<const kit::WireItem*> wires;
  for (const kit::WireItem& wire : file.inventory.wires) {
    if (wire.from.starts_with(box + ".")) wires.push_back(&wire);
  }
  const auto output_now = [&](const kit::WireItem& wire) -> const catalogue::BoxOutput* {
    for (const kit::OutputItem& output : now->outputs) {
      if (output.name == wire.from) return output.kind;
    }
    return nullptr;
  };
  // First those that find their like, then the rest.
  for (int round = 0; round < 3; ++round) {
    for (const kit::WireItem* wire : wires) {
      if (std::any_of(moved.begin(), moved.end(),
                      [&](const Moved& m) { return m.from == wire->from && m.to == wire->to; }))
        continue;
      const catalogue::BoxOutput* old = output_now(*wire);
      if (old == nullptr) throw NotPossible("an output of \"" + box + "\" is not known");
      for (const catalogue::BoxOutput& output : kind.outputs) {
        const bool same_volts = output.regulator.has_value() == old->regulator.has_value() &&
                                (!output.regulator || output.regulator->output_v == old->regulator->output_v);
        if (used.contains(output.name) || !same_volts || output.always_on != old->always_on) continue;
        if (round < 2 && output.plug != old->plug) continue;
        if (round < 1 && output.name != old->name) continue;
        used.insert(output.name);
        moved.push_back({wire->from, wire->to, box + "." + output.name, output.plug, wire->to_plug});
        break;
      }
    }
  }
  if (moved.size() != wires.size())
    throw NotPossible("\"" + kind.id + "\" has too few outputs for what hangs on \"" + box + "\"");
  return [box, id = kind.id, moved](decode::Document& document) {
    Node& entry = edit::thing(document, "box", "name", box);
    edit::set(entry, edit::text("kind", id));
    edit::drop(entry, "fuses");
    edit::drop(entry, "main_fuse");
    for (Node& wire : edit::things(document, "wire").children) {
      Node* from = edit::child(wire, "from");
      const Node* to = wire.find("to");
      if (from == nullptr || to == nullptr) continue;
      for (const Moved& one : moved) {
        if (from->text != one.from || to->text != one.to) continue;
        from->text = one.output;
        if (edit::child(wire, "length") != nullptr) edit::set(wire, edit::texts("plugs", {one.plug, one.to_plug}));
        break;
      }
    }
  };
}

}  // namespace tillwrap::app
