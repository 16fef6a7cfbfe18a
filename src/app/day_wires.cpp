// Wires of the day file, and what is joined without one.
#include <algorithm>
#include <cmath>

#include "app/day_builder.hpp"
#include "decode/units.hpp"
#include "quantity/order.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Two contacts carry the current there and back.
double plug_ohm(const catalogue::ConnectorKind* kind, bool worn) {
  return kind == nullptr ? 0.0 : kind->contacts * (worn ? kind->contact_worn_ohm : kind->contact_new_ohm);
}

}  // namespace

std::vector<std::string> DayBuilder::point_names(bool source_side) const {
  std::vector<std::string> names;
  for (const auto& [name, point] : points_) {
    if (point.is_source == source_side) names.push_back(name);
  }
  return names;
}

DayBuilder::Point& DayBuilder::point(Reader& reader, const std::string& key, bool source_side) {
  std::string name = reader.text(key);
  if (!source_side) {  // a device's name alone means its first free socket for a plug
    const auto device = devices_.find(name);
    if (device != devices_.end()) {
      for (const std::string& input : device_notes_[at(device->second)].input_names) {
        const Point& candidate = points_[input];
        if (candidate.taken || candidate.plug.ends_with("contacts")) continue;
        name = input;
        break;
      }
    }
  }
  const auto found = points_.find(name);
  if (found == points_.end() || found->second.is_source != source_side) {
    const auto device = source_side ? devices_.end() : devices_.find(name);
    if (device != devices_.end() && !device_notes_[at(device->second)].input_names.empty()) {
      const auto& inputs = device_notes_[at(device->second)].input_names;
      const bool fed =
          std::any_of(inputs.begin(), inputs.end(), [&](const std::string& input) { return points_[input].taken; });
      if (fed)
        reader.fail(key, "\"" + name + "\" is fed twice: it has no other free socket",
                    "one input takes one plug; take one wire out");
    }
    const std::vector<std::string> known = point_names(source_side);
    const auto near = decode::nearest(name, known);
    std::string hint =
        source_side ? "power comes from box outputs, holders and sources" : "power goes to device and box inputs";
    if (near) hint = "did you mean \"" + *near + "\"?";
    std::string of_thing;
    for (const std::string& candidate : known) {
      if (candidate.rfind(name + ".", 0) == 0) of_thing += (of_thing.empty() ? "" : ", ") + candidate;
    }
    if (!of_thing.empty()) hint = "name the socket: " + of_thing;
    reader.fail(key, "there is no " + std::string(source_side ? "output" : "input") + " \"" + name + "\"", hint);
  }
  return found->second;
}

void DayBuilder::read_wires(Reader& root) {
  for (Reader& reader : root.tables("wire", "wire")) {
    Point& from = point(reader, "from", true);
    Point& to = point(reader, "to", false);
    const std::string title = reader.text("from") + " to " + reader.text("to");
    if (from.leads_away && from.is_source && reader.text("from").find('.') != std::string::npos) {
      warn(reader.place("from"),
           "two leads start at \"" + reader.text("from") + "\", which has one socket: a splitter is taken for granted");
    }
    from.leads_away = true;
    if (to.taken)
      reader.fail("to", "\"" + reader.text("to") + "\" is fed twice",
                  "one input takes one plug; use the other input or a box");
    to.taken = true;
    day::Lead lead{.name = title, .from = from.port, .to = to.port, .place = day_.ports[at(to.port)].place};
    lead.place = place_index(reader, "place", day_.places[at(lead.place)].name);
    reader.allow("return");
    const bool shield =
        reader.has("return") && reader.one_of("return", {"own conductor", "audio shield"}) == "audio shield";
    reader.allow("centre");
    const bool centre_negative =
        reader.has("centre") && reader.one_of("centre", {"positive", "negative"}) == "negative";
    reader.allow("contacts");
    const bool worn = reader.has("contacts") && reader.one_of("contacts", {"new", "worn"}) == "worn";
    kit::WireItem item{.lead = static_cast<int>(day_.leads.size()),
                       .place = reader.place("from"),
                       .from = reader.text("from"),
                       .to = reader.text("to"),
                       .from_plug = from.plug,
                       .from_socket = from.plug,
                       .to_plug = to.plug,
                       .to_socket = to.plug,
                       .worn = worn,
                       .shield_return = shield,
                       .centre_negative = centre_negative};
    const auto mate = [&](const std::string& key, const std::string& plug, const std::string& socket,
                          const std::string& where) {
      if (plug.empty() || socket.empty()) return;
      const catalogue::Fit fit = catalogue_.fit(plug, socket);
      if (fit == catalogue::Fit::no) {
        reader.fail(key, "a " + plug + " plug does not mate with the " + socket + " socket of \"" + where + "\"",
                    "use a lead with the right plug: plugs = [\"" + (from.plug.empty() ? plug : from.plug) + "\", \"" +
                        to.plug + "\"]");
      }
      const catalogue::ConnectorKind* kind = catalogue_.connector(plug);
      if (fit == catalogue::Fit::loose) {
        warn(reader.place(key),
             "the " + plug + " plug goes into the " + socket + " socket of \"" + where + "\" but makes poor contact");
      }
      if (kind != nullptr && !kind->locks)
        warn(reader.place(key), "the plug at \"" + where + "\" does not lock: " + plug);
      lead.contact_ohm += plug_ohm(kind, worn || fit == catalogue::Fit::loose);
      if (kind != nullptr && kind->rating_a > 0.0)
        lead.plug_rating_a = lead.plug_rating_a > 0.0 ? std::min(lead.plug_rating_a, kind->rating_a) : kind->rating_a;
    };
    std::vector<std::string> plugs = reader.texts_or_none("plugs");
    if (!plugs.empty() && plugs.size() != 2)
      reader.fail("plugs", "a lead has two plugs", "write plugs = [\"round-lock-4\", \"xlr-4\"]: source end first");
    for (const std::string& plug : plugs) {
      if (catalogue_.connector(plug) == nullptr) {
        reader.fail("plugs", "the catalogue has no connector \"" + plug + "\"",
                    catalogue::unknown_id_hint(catalogue_, "connectors", plug));
      }
    }
    if (plugs.size() == 2) {
      item.from_plug = plugs[0];
      item.to_plug = plugs[1];
    }
    if (reader.has("length") || reader.has("wire") || !plugs.empty()) {
      const double length_m = reader.quantity("length", Dimension::length, {.most = 100.0, .above = 0.0});
      const decode::WireSize size = reader.has("wire") ? reader.wire_size("wire") : decode::WireSize{.awg = 22};
      double area_mm2 = size.area_mm2;
      double ohm_per_m = 0.0;
      if (size.awg) {
        if (*size.awg < 8 || *size.awg > 30)
          reader.fail("wire", "AWG " + std::to_string(*size.awg) + " is no size for a bag", "use AWG 8 to 30");
        area_mm2 = wiring::awg_area_mm2(*size.awg);
        ohm_per_m = wiring::awg_ohm_per_m(*size.awg);
      } else {
        if (area_mm2 < 0.05 || area_mm2 > 10.0)
          reader.fail("wire", decode::number_words(area_mm2) + " mm2 is no size for a bag", "use 0.05 to 10 mm2");
        ohm_per_m = wiring::area_ohm_per_m(area_mm2);
      }
      lead.cable_ohm = wiring::pair_ohm(ohm_per_m, length_m);
      lead.ampacity_a = wiring::ampacity_a(area_mm2);
      item.length_m = length_m;
      item.awg = size.awg ? *size.awg : -1;
      item.area_mm2 = area_mm2;
      mate("from", plugs.empty() ? from.plug : plugs[0], from.plug, reader.text("from"));
      mate("to", plugs.empty() ? to.plug : plugs[1], to.plug, reader.text("to"));
    } else if (from.plug.empty()) {
      reader.fail("length", "this wire has no length", "write length = \"0.5 m\" and wire = \"AWG 22\"");
    } else {
      item.to_plug = from.plug;
      mate("to", from.plug, to.plug, reader.text("to"));  // the pack's or adapter's own lead
    }
    reader.allow("fuse");
    if (reader.has("fuse")) {
      const double rated_a = reader.quantity("fuse", Dimension::current, {.most = 60.0, .above = 0.0});
      item.fuse_a = rated_a;
      item.fuse_kind = reader.text_or("fuse_kind", "fuse-ul");
      lead.fuse = fuse(reader, "fuse_kind", item.fuse_kind, rated_a);
    } else {
      reader.allow("fuse_kind");
    }
    const double guard_a = lead.fuse ? lead.fuse->rated_a : from.fuse_a;
    item.guard_a = guard_a;
    item.guard_kind = lead.fuse ? item.fuse_kind : from.fuse_kind;
    if (guard_a > 0.0 && lead.ampacity_a > 0.0 && guard_a > lead.ampacity_a) {
      warn(reader.place("wire"), "the " + decode::number_words(guard_a) + " A fuse of " + title +
                                     " is more than its wire carries (" +
                                     decode::number_words(std::round(lead.ampacity_a * 10.0) / 10.0) + " A)");
    }
    reader.finish();
    wire_notes_.push_back({reader, static_cast<int>(day_.leads.size())});
    day_.leads.push_back(lead);
    out_.inventory.wires.push_back(std::move(item));
  }
}

// Holders built into a box or a device, and adapters standing in a cup: joined without a lead.
void DayBuilder::join_holders() {
  const auto join = [&](Reader& reader, const std::string& name, int port, const std::string& kind_id,
                        const std::string& where) {
    std::string target = where;
    const auto boxes = box_inputs_.find(where);
    if (boxes != box_inputs_.end()) {
      for (const auto& [input, holder_kind] : boxes->second) {
        if (!points_[input].taken && (holder_kind == kind_id || kind_id.empty())) {
          target = input;
          break;
        }
      }
    } else if (const auto device = devices_.find(where);
               device != devices_.end() && device_notes_[at(device->second)].kind != nullptr) {
      const DeviceNote& note = device_notes_[at(device->second)];
      for (std::size_t i = 0; i < note.inputs.size(); ++i) {
        if (!points_[note.input_names[i]].taken && kind_id.find(note.inputs[i].name) != std::string::npos)
          target = note.input_names[i];
      }
      for (std::size_t i = 0; i < note.inputs.size() && target == where; ++i) {
        if (!points_[note.input_names[i]].taken && note.inputs[i].plug.ends_with("contacts"))
          target = note.input_names[i];
      }
    }
    const auto found = points_.find(target);
    if (found == points_.end() || found->second.is_source) {
      std::vector<std::string> known = point_names(false);
      for (const auto& entry : box_inputs_) known.push_back(entry.first);
      const auto near = decode::nearest(where, known);
      reader.fail("in", "\"" + name + "\" cannot be in \"" + where + "\": there is no free input for it",
                  near ? "did you mean \"" + *near + "\"?" : "name a box or a device input, such as \"recorder.tray\"");
    }
    if (found->second.taken) reader.fail("in", "\"" + target + "\" is fed twice", "one input takes one holder or plug");
    found->second.taken = true;
    day_.leads.push_back(
        {.name = name + " in " + target, .from = port, .to = found->second.port, .place = day_.ports[at(port)].place});
  };
  std::vector<char> wired(day_.ports.size(), 0);
  for (const day::Lead& lead : day_.leads) wired[at(lead.from)] = 1;
  for (std::size_t i = 0; i < holder_notes_.size(); ++i) {
    HolderNote& note = holder_notes_[i];
    const std::string name = note.reader.text("name");
    const day::Holder& holder = day_.holders[at(holders_[name])];
    if (const auto in = note.reader.maybe_text("in")) {
      join(note.reader, name, holder.port, note.kind->id, *in);
      out_.inventory.holders[at(holders_[name])].sits_in = *in;
    } else if (!wired[at(holder.port)]) {
      note.reader.fail("name", "holder \"" + name + "\" feeds nothing",
                       "say where it sits, in = \"box\", or run a [[wire]] from it");
    }
    note.reader.finish();
  }
  for (Reader& reader : source_notes_) {
    const auto in = reader.maybe_text("in");
    const std::string name = reader.text("name");
    if (!in) {
      if (!points_[name].leads_away)
        reader.fail(
            "name", "source \"" + name + "\" feeds nothing",
            "say which holder it stands in, in = \"cup\", run a [[wire]] from it, or name it as a charger's source");
      continue;
    }
    const auto holder = holders_.find(*in);
    if (holder == holders_.end())
      reader.fail("in", "no holder is named \"" + *in + "\"",
                  "an adapter with a dummy pack stands in a holder; otherwise run a [[wire]] from it");
    day_.leads.push_back({.name = name + " in " + *in,
                          .from = day_.supplies[at(supplies_[name])].port,
                          .to = day_.holders[at(holder->second)].port,
                          .place = day_.holders[at(holder->second)].place});
  }
}

void DayBuilder::finish_devices() {
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    DeviceNote& note = device_notes_[d];
    if (note.kind == nullptr) continue;  // a box
    day::Device& device = day_.devices[d];
    std::vector<std::size_t> used;
    for (std::size_t i = 0; i < note.inputs.size(); ++i) {
      if (!points_[note.input_names[i]].taken) continue;
      used.push_back(i);
      out_.inventory.devices[d].inputs[i].port = points_[note.input_names[i]].port;
    }
    if (used.empty())
      note.reader.fail("name", "nothing feeds \"" + device.name + "\"", "run a [[wire]] to it, or put a holder in it");
    sort_stably(used, [&](std::size_t a, std::size_t b) { return note.inputs[a].priority < note.inputs[b].priority; });
    device.highest_v = note.inputs[used.front()].most_v > 0.0 ? note.inputs[used.front()].most_v : 1e9;
    device.cutoff_v = note.inputs[used.front()].cutoff_v;
    device.restart_v = note.inputs[used.front()].restart_v;
    if (used.size() == 1) {
      device.port = points_[note.input_names[used.front()]].port;
      continue;
    }
    device.port = new_port(device.name, device.place);
    bool ranked = false;
    for (const std::size_t i : used) ranked = ranked || note.inputs[i].priority != note.inputs[used.front()].priority;
    for (const std::size_t i : used) {
      const catalogue::DeviceInput& input = note.inputs[i];
      const int lead = static_cast<int>(day_.leads.size());
      day_.leads.push_back({.name = note.input_names[i] + " inside",
                            .from = points_[note.input_names[i]].port,
                            .to = device.port,
                            .place = device.place,
                            .one_way = !ranked,
                            .drop_v = ranked ? 0.0 : 0.05});
      device.cutoff_v = std::min(device.cutoff_v, input.cutoff_v);
      device.restart_v = std::min(device.restart_v, input.restart_v);
      if (ranked) {
        device.inputs.push_back({.lead = lead,
                                 .least_v = input.cutoff_v,
                                 .return_v = input.restart_v,
                                 .cutoff_v = input.cutoff_v,
                                 .restart_v = input.restart_v,
                                 .highest_v = input.most_v > 0.0 ? input.most_v : 1e9});
      }
    }
  }
}

}  // namespace tillwrap::app
