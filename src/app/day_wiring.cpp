// Sources, boxes and devices of the day file.
#include <algorithm>
#include <cmath>

#include "app/day_builder.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

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
    out_.inventory.supplies.push_back(
        {.kind = &kind, .place = reader.place("name"), .stands_in = reader.text_or("in", "")});
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
      // A lead that ends in a dummy pack goes into a cup or plate too.
      const catalogue::HolderKind* holder = catalogue_.holder(kind.inputs[i]);
      points_[input] = {.port = port, .plug = holder != nullptr ? catalogue::contacts_of(*holder) : kind.inputs[i]};
      box_inputs_[name].push_back({input, holder != nullptr ? kind.inputs[i] : std::string()});
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
    kit::BoxItem item{.kind = &kind,
                      .place = reader.place("name"),
                      .device = box_device,
                      .main_fuse_a = kind.main_fuse.empty() ? 0.0 : main_a};
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
      points_[title] = {.port = port,
                        .plug = output.plug,
                        .is_source = true,
                        .fuse_a = output.fuse.empty() ? 0.0 : rated_a,
                        .fuse_kind = output.fuse};
      item.outputs.push_back(
          {.name = title, .kind = &output, .port = port, .fuse_a = output.fuse.empty() ? 0.0 : rated_a});
    }
    // The box's own electronics behind its switch.
    day::Device device{.name = name, .kind = kind.id, .port = bus, .place = place, .need = day::Need::optional};
    const double idle_w = reader.quantity_or("draw", Dimension::power, kind.idle_w, {.least = 0.0, .most = 50.0});
    device.modes = {{.name = "on", .power_w = idle_w}, {.name = "off", .off = true}};
    device.cutoff_v = 0.5 * kind.least_v;
    device.restart_v = device.cutoff_v;
    device.highest_v = kind.most_v > 0.0 ? kind.most_v : 1e9;
    out_.inventory.boxes.push_back(std::move(item));
    out_.inventory.devices.push_back({.place = reader.place("name")});
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
    kit::DeviceItem item{.kind = &kind, .place = reader.place("name")};
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
      if (kind.phantom->limit_a > 0.0 && sum_a > kind.phantom->limit_a + 1e-9) {
        warn(reader.place("phantom"),
             "the microphones ask for more phantom current than \"" + name + "\" gives to all inputs together");
      }
      item.phantom_a = sum_a;
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
    item.group = note.group;
    item.phantom_w = phantom_w;
    item.meter = note.reader.text_or("meter", "");
    if (!item.meter.empty() && catalogue_.meter(item.meter) == nullptr) {
      note.reader.fail("meter", "the catalogue has no meter profile \"" + item.meter + "\"",
                       catalogue::unknown_id_hint(catalogue_, "meters", item.meter));
    }
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
      item.inputs.push_back({.name = point_name,
                             .socket = input.plug,
                             .priority = input.priority,
                             .least_v = input.least_v,
                             .most_v = input.most_v,
                             .cutoff_v = input.cutoff_v,
                             .restart_v = input.restart_v});
    }
    note.reader.finish();
    devices_[name] = static_cast<int>(day_.devices.size());
    day_.devices.push_back(device);
    device_notes_.push_back(note);
    out_.inventory.devices.push_back(std::move(item));
  }
}

}  // namespace tillwrap::app
