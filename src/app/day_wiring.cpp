// Sources, boxes, devices and wires of the day file.
#include <algorithm>
#include <cmath>

#include "app/day_builder.hpp"
#include "decode/units.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Two contacts carry the current there and back.
double plug_ohm(const catalogue::ConnectorKind* kind, bool worn) {
  return kind == nullptr ? 0.0 : kind->contacts * (worn ? kind->contact_worn_ohm : kind->contact_new_ohm);
}

std::string volts_words(double v) { return decode::quantity_words(std::round(v * 100.0) / 100.0, Dimension::voltage); }

}  // namespace

day::Fuse DayBuilder::fuse(Reader& reader, const std::string& key, const std::string& kind_id, double rated_a) const {
  const catalogue::FuseKind* kind = catalogue_.fuse(kind_id);
  if (kind == nullptr) {
    reader.fail(key, "the catalogue has no fuse \"" + kind_id + "\"",
                catalogue::unknown_id_hint(catalogue_, "fuses", kind_id));
  }
  day::Fuse made;
  made.rated_a = rated_a;
  made.ohm = kind->drop_v.typical / rated_a;
  made.law.standard = kind->standard;
  made.law.resettable = kind->resets;
  made.law.long_load_ratio = kind->long_fraction;
  for (const catalogue::FusePoint& point : kind->points) {
    if (std::isfinite(point.opens_s) && point.opens_s > 0.0) made.law.points.push_back({point.ratio, point.opens_s});
    if (!std::isfinite(point.holds_s)) made.law.holds_ratio = std::max(1.0, point.ratio);
  }
  if (made.law.points.empty()) made.law.points.push_back({2.0, 120.0});
  if (kind->derating.size() >= 2) {
    std::vector<double> k;
    std::vector<double> factor;
    for (const auto& [temperature_k, value] : kind->derating) {
      k.push_back(temperature_k);
      factor.push_back(value);
    }
    made.law.derating = Curve(k, factor);
  }
  return made;
}

void DayBuilder::read_sources(Reader& root) {
  for (Reader& reader : root.tables("source", "source")) {
    const std::string name = reader.text("name");
    name_once(reader, "name", name, "source");
    const catalogue::SourceKind& kind = kind_of(reader, &catalogue::Catalogue::source, "sources");
    const int place = place_index(reader, "place", "open");
    day::Supply supply{
        .name = name, .volts = kind.open_v.typical, .ohm = std::max(kind.series_ohm, 1e-3), .limit_a = kind.most_a};
    if (!kind.profiles.empty()) {
      const double asked_v =
          reader.quantity_or("pd", Dimension::voltage, kind.open_v.typical, {.least = 5.0, .most = 48.0});
      for (const catalogue::PowerProfile& profile : kind.profiles) {
        if (profile.volts <= asked_v + 1e-6) {
          supply.volts = profile.volts;
          supply.limit_a = profile.most_a;
        }
      }
    }
    supply.volts = reader.quantity_or("volts", Dimension::voltage, supply.volts, {.least = 3.0, .most = 60.0});
    supply.limit_a = reader.quantity_or("amps", Dimension::current, supply.limit_a, {.most = 100.0, .above = 0.0});
    supply.vehicle = kind.dead_with_ignition;
    supply.port = new_port(name, place);
    points_[name] = {.port = supply.port, .plug = kind.plug, .is_source = true};
    reader.allow("in");  // a dummy pack in a holder: holders are read later, see join_holders
    supplies_[name] = static_cast<int>(day_.supplies.size());
    day_.supplies.push_back(supply);
    source_notes_.push_back(reader);
    source_notes_.back().finish();
  }
}

void DayBuilder::read_boxes(Reader& root) {
  for (Reader& reader : root.tables("box", "box")) {
    const std::string name = reader.text("name");
    name_once(reader, "name", name, "box");
    const catalogue::BoxKind& kind = kind_of(reader, &catalogue::Catalogue::box, "boxes");
    const int place = place_index(reader, "place", "bag");
    const int box_device = static_cast<int>(day_.devices.size());
    const int joined = new_port(name + ".joined", place);
    const int live = new_port(name + ".live", place);
    const int bus = new_port(name + ".bus", place);
    for (std::size_t i = 0; i < kind.inputs.size(); ++i) {
      const std::string input = name + ".in-" + std::to_string(i + 1);
      const int port = new_port(input, place);
      const bool holder = catalogue_.holder(kind.inputs[i]) != nullptr;
      points_[input] = {.port = port, .plug = kind.inputs[i]};
      box_inputs_[name].push_back({input, holder ? kind.inputs[i] : std::string()});
      const bool several = kind.inputs.size() > 1;
      day_.leads.push_back({.name = input,
                            .from = port,
                            .to = joined,
                            .place = place,
                            .one_way = several,
                            .drop_v = several ? kind.or_drop_v : 0.0});
    }
    const double main_a =
        reader.quantity_or("main_fuse", Dimension::current, kind.main_fuse_a, {.most = 60.0, .above = 0.0});
    day::Lead main{
        .name = name + " main fuse", .from = joined, .to = live, .place = place, .contact_ohm = kind.internal_ohm};
    if (!kind.main_fuse.empty()) main.fuse = fuse(reader, "main_fuse", kind.main_fuse, main_a);
    day_.leads.push_back(main);
    day_.leads.push_back({.name = name + " switch",
                          .from = live,
                          .to = bus,
                          .place = place,
                          .switched_by = kind.master_switch ? box_device : -1});
    std::map<std::string, double> own_fuses;
    if (auto fuses = reader.maybe_table("fuses", "fuses of box \"" + name + "\"")) {
      for (const catalogue::BoxOutput& output : kind.outputs) {
        fuses->allow(output.name);
        if (fuses->has(output.name))
          own_fuses[output.name] = fuses->quantity(output.name, Dimension::current, {.most = 60.0, .above = 0.0});
      }
      fuses->finish();
    }
    for (const catalogue::BoxOutput& output : kind.outputs) {
      const std::string title = name + "." + output.name;
      const int port = new_port(title, place);
      int from = output.always_on ? live : bus;
      if (output.regulator) {
        const int made = new_port(title + " regulator", place);
        const catalogue::Regulator& law = *output.regulator;
        day_.regulators.push_back({.name = title,
                                   .in_port = from,
                                   .out_port = made,
                                   .place = place,
                                   .law = {.set_v = law.output_v,
                                           .limit_a = law.most_w > 0.0 ? law.most_w / law.output_v : 1e9,
                                           .idle_w = law.idle_w,
                                           .slope = law.gain,
                                           .square_ohm = law.loss_ohm,
                                           .min_in_v = law.input_least_v,
                                           .restart_in_v = law.input_least_v + 0.5,
                                           .max_in_v = law.input_most_v > 0.0 ? law.input_most_v : 1e9}});
        from = made;
      }
      const auto own = own_fuses.find(output.name);
      const double rated_a = own != own_fuses.end() ? own->second : output.fuse_a;
      day::Lead lead{.name = title, .from = from, .to = port, .place = place};
      if (!output.fuse.empty()) lead.fuse = fuse(reader, "fuses", output.fuse, rated_a);
      day_.leads.push_back(lead);
      points_[title] = {
          .port = port, .plug = output.plug, .is_source = true, .fuse_a = output.fuse.empty() ? 0.0 : rated_a};
    }
    // The box's own electronics behind its switch.
    day::Device device{.name = name, .kind = kind.id, .port = bus, .place = place, .need = day::Need::optional};
    const double idle_w = reader.quantity_or("draw", Dimension::power, kind.idle_w, {.least = 0.0, .most = 50.0});
    device.modes = {{.name = "on", .power_w = idle_w}, {.name = "off", .off = true}};
    device.cutoff_v = 0.5 * kind.least_v;
    device.restart_v = device.cutoff_v;
    device.highest_v = kind.most_v > 0.0 ? kind.most_v : 1e9;
    devices_[name] = box_device;
    day_.devices.push_back(device);
    device_notes_.push_back(
        {.reader = reader, .kind = nullptr, .inputs = {}, .input_lead = {}, .input_names = {}, .group = ""});
    device_notes_.back().reader.finish();
  }
}

void DayBuilder::read_devices(Reader& root) {
  for (Reader& reader : root.tables("device", "device")) {
    const std::string name = reader.text("name");
    name_once(reader, "name", name, "device");
    const catalogue::DeviceKind& kind = kind_of(reader, &catalogue::Catalogue::device, "devices");
    day::Device device{.name = name, .kind = kind.id};
    device.place =
        place_index(reader, "place", kind.family == "body-pack" || kind.family == "cue receiver" ? "cast" : "bag");
    reader.allow("need");
    const std::string need =
        reader.has("need") ? reader.one_of("need", {"unbroken", "rolling", "optional"}) : "rolling";
    device.need = need == "unbroken"   ? day::Need::unbroken
                  : need == "optional" ? day::Need::optional
                                       : day::Need::rolling;
    device.efficiency = kind.converter_efficiency > 0.0 ? kind.converter_efficiency : 1.0;
    device.idle_w = kind.converter_idle_w;
    device.restart_s =
        reader.quantity_or("restart", Dimension::duration, kind.restart_s, {.least = 0.0, .most = 3600.0});
    device.hold_up_f =
        reader.quantity_or("hold_up", Dimension::capacitance, kind.hold_up_f, {.least = 0.0, .most = 10.0});
    device.restarts_itself = reader.boolean_or("restarts_itself", true);
    // Phantom powering: P = V ΣI / efficiency + idle, feed resistors included (IEC 61938; docs/model.md).
    double phantom_w = 0.0;
    if (const decode::Node* list = reader.take("phantom")) {
      if (!kind.phantom)
        reader.fail("phantom", "\"" + kind.id + "\" gives no phantom power", "leave phantom out, or pick another kind");
      if (list->kind != decode::Kind::array)
        reader.fail("phantom", "a list of microphone currents is expected", "write phantom = [\"2 mA\", \"4 mA\"]");
      double sum_a = 0.0;
      for (const decode::Node& node : list->children) {
        if (node.kind != decode::Kind::text)
          reader.fail("phantom", "a microphone current is expected", "write phantom = [\"2 mA\", \"4 mA\"]");
        try {
          const double amps = decode::parse_quantity(node.text, Dimension::current);
          if (amps < 0.0 || amps > 0.010 + 1e-9) {
            throw decode::QuantityError("a microphone takes " + node.text, "IEC 61938 allows 0 to 10 mA at P48");
          }
          sum_a += amps;
        } catch (const decode::QuantityError& error) {
          throw decode::InputError(document_.source, node.place, reader.what() + ": phantom: " + error.what(),
                                   error.hint);
        }
      }
      if (kind.phantom->inputs > 0 && list->children.size() > at(kind.phantom->inputs)) {
        reader.fail("phantom",
                    "\"" + kind.id + "\" has " + std::to_string(kind.phantom->inputs) + " phantom inputs, not " +
                        std::to_string(list->children.size()),
                    "list at most that many");
      }
      if (kind.phantom->limit_a > 0.0 && sum_a > kind.phantom->limit_a) {
        warn(reader.place("phantom"),
             "the microphones ask for more phantom current than \"" + name + "\" gives to all inputs together");
      }
      if (sum_a > 0.0) phantom_w = kind.phantom->supply_v * sum_a / kind.phantom->efficiency + kind.phantom->idle_w;
    }
    const auto add_mode = [&](const std::string& mode_name, const decode::Draw& draw) {
      day::Mode mode{.name = mode_name};
      switch (draw.kind) {
        case decode::Draw::Kind::power:
          mode.power_w = draw.value + phantom_w * device.efficiency;
          break;
        case decode::Draw::Kind::current:
          mode.current_a = draw.value;
          mode.power_w = phantom_w * device.efficiency;
          break;
        case decode::Draw::Kind::resistance:
          mode.siemens = 1.0 / draw.value;
          mode.power_w = phantom_w * device.efficiency;
          break;
      }
      device.modes.push_back(mode);
    };
    const auto own_draw = reader.maybe_draw("draw");
    for (const catalogue::Mode& mode : kind.modes) {
      if (device.modes.empty() && own_draw) {
        add_mode(mode.name, *own_draw);
      } else {
        decode::Draw draw;
        draw.value = mode.draw_w.typical;
        if (mode.constant_current)
          draw = {.kind = decode::Draw::Kind::current, .value = mode.draw_a.typical, .amps_a = {}, .volts_v = {}};
        // The other modes follow a measured usual draw in proportion.
        if (own_draw && own_draw->kind == draw.kind && !kind.modes.empty()) {
          const double usual =
              mode.constant_current ? kind.modes.front().draw_a.typical : kind.modes.front().draw_w.typical;
          if (usual > 0.0) draw.value *= own_draw->value / usual;
        }
        add_mode(mode.name, draw);
      }
    }
    if (auto modes = reader.maybe_table("modes", "modes of device \"" + name + "\"")) {
      for (const decode::Node& node : modes->node().children) {
        const decode::Draw draw = modes->draw(node.key);
        std::erase_if(device.modes,
                      [&](const day::Mode& mode) { return mode.name == node.key && &mode != &device.modes.front(); });
        if (!device.modes.empty() && device.modes.front().name == node.key) {
          const std::vector<day::Mode> rest(device.modes.begin() + 1, device.modes.end());
          device.modes.clear();
          add_mode(node.key, draw);
          device.modes.insert(device.modes.end(), rest.begin(), rest.end());
        } else {
          add_mode(node.key, draw);
        }
      }
      modes->finish();
    }
    device.modes.push_back({.name = "off", .off = true});
    DeviceNote note{
        .reader = reader, .kind = &kind, .inputs = kind.inputs, .input_lead = {}, .input_names = {}, .group = ""};
    note.group = note.reader.text_or("group", "");
    note.reader.allow("usually");
    note.usually_off = note.reader.has("usually") && note.reader.one_of("usually", {"on", "off"}) == "off";
    for (catalogue::DeviceInput& input : note.inputs) {
      const bool main = &input == &note.inputs.front();
      if (main) {
        input.cutoff_v =
            note.reader.quantity_or("cutoff", Dimension::voltage, input.cutoff_v, {.least = 0.0, .most = 60.0});
        const double usual_v = std::max(input.restart_v, input.cutoff_v);
        input.restart_v =
            note.reader.quantity_or("restart_volts", Dimension::voltage, usual_v, {.least = 0.0, .most = 60.0});
        if (input.restart_v < input.cutoff_v) {
          note.reader.fail("restart_volts", "\"" + name + "\" would start again below its cut-off",
                           "give at least " + volts_words(input.cutoff_v));
        }
        if (const auto most_v =
                note.reader.maybe_quantity("most_volts", Dimension::voltage, {.most = 80.0, .above = 0.0}))
          input.most_v = *most_v;
      }
      const std::string point_name = name + "." + input.name;
      const int port = new_port(point_name, device.place);
      points_[point_name] = {.port = port, .plug = input.plug};
      note.input_names.push_back(point_name);
      note.input_lead.push_back(-1);
    }
    note.reader.finish();
    devices_[name] = static_cast<int>(day_.devices.size());
    day_.devices.push_back(device);
    device_notes_.push_back(note);
  }
}

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
    reader.allow("contacts");
    const bool worn = reader.has("contacts") && reader.one_of("contacts", {"new", "worn"}) == "worn";
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
      mate("from", plugs.empty() ? from.plug : plugs[0], from.plug, reader.text("from"));
      mate("to", plugs.empty() ? to.plug : plugs[1], to.plug, reader.text("to"));
    } else if (from.plug.empty()) {
      reader.fail("length", "this wire has no length", "write length = \"0.5 m\" and wire = \"AWG 22\"");
    } else {
      mate("to", from.plug, to.plug, reader.text("to"));  // the pack's or adapter's own lead
    }
    reader.allow("fuse");
    if (reader.has("fuse")) {
      const double rated_a = reader.quantity("fuse", Dimension::current, {.most = 60.0, .above = 0.0});
      lead.fuse = fuse(reader, "fuse_kind", reader.text_or("fuse_kind", "fuse-ul"), rated_a);
    } else {
      reader.allow("fuse_kind");
    }
    const double guard_a = lead.fuse ? lead.fuse->rated_a : from.fuse_a;
    if (guard_a > 0.0 && lead.ampacity_a > 0.0 && guard_a > lead.ampacity_a) {
      warn(reader.place("wire"), "the " + decode::number_words(guard_a) + " A fuse of " + title +
                                     " is more than its wire carries (" +
                                     decode::number_words(std::round(lead.ampacity_a * 10.0) / 10.0) + " A)");
    }
    reader.finish();
    wire_notes_.push_back({reader, static_cast<int>(day_.leads.size())});
    day_.leads.push_back(lead);
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
      if (points_[note.input_names[i]].taken) used.push_back(i);
    }
    if (used.empty())
      note.reader.fail("name", "nothing feeds \"" + device.name + "\"", "run a [[wire]] to it, or put a holder in it");
    std::stable_sort(used.begin(), used.end(),
                     [&](std::size_t a, std::size_t b) { return note.inputs[a].priority < note.inputs[b].priority; });
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
                                 .restart_v = input.restart_v});
      }
    }
  }
}

}  // namespace tillwrap::app
