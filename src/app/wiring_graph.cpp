#include "app/wiring_graph.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "catalogue/catalogue.hpp"
#include "findings/circuit.hpp"

namespace tillwrap::app {

namespace {

using findings::Rule;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string before_dot(const std::string& name) { return name.substr(0, name.find('.')); }
std::string after_dot(const std::string& name) {
  const std::size_t dot = name.find('.');
  return dot == std::string::npos ? std::string() : name.substr(dot + 1);
}

void mark(std::vector<int>& marks, int number) {
  if (std::find(marks.begin(), marks.end(), number) == marks.end()) marks.push_back(number);
}

std::string packs_in(const day::Scenario& day, const day::Holder& holder, std::size_t most = 4) {
  std::string text;
  std::vector<int> told;
  for (const day::Slot& slot : holder.slots) {
    if (std::find(told.begin(), told.end(), slot.pack) != told.end()) continue;
    if (told.size() == most) return text + " ...";
    told.push_back(slot.pack);
    text += (text.empty() ? "" : ", ") + day.packs[at(slot.pack)].params.label;
  }
  return text;
}

// "3 A UL", "1.5 A reset", "2 A IEC F": the rating says little without its standard.
std::string fuse_words(double rated_a, const catalogue::FuseKind* kind) {
  if (rated_a <= 0.0) return "no fuse";
  std::string sort;
  if (kind != nullptr) {
    sort = kind->id.rfind("fuse-", 0) == 0 ? kind->id.substr(5) : kind->id;
    if (kind->resets) sort = "reset";
    if (kind->standard.rfind("UL", 0) == 0) sort = "UL";
    if (kind->standard.rfind("IEC", 0) == 0) sort = "IEC " + kind->standard.substr(kind->standard.rfind(' ') + 1);
  }
  return fmt::format("{:g} A{}{}", rated_a, sort.empty() ? "" : " ", sort);
}

}  // namespace

WiringGraph wiring_graph(const DayFile& file, const std::vector<findings::Finding>& found) {
  const day::Scenario& day = file.scenario;
  const kit::Inventory& kit = file.inventory;
  const catalogue::Catalogue& known = catalogue::builtin();
  const findings::Circuit circuit(day);
  WiringGraph out;
  std::map<std::string, int> boxes;  // by name
  std::vector<int> holder_box(day.holders.size(), -1), device_box(day.devices.size(), -1);
  std::vector<int> box_box(kit.boxes.size(), -1);
  std::vector<int> inside(day.holders.size(), -1);  // device it is built into

  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      if (kit.devices[d].kind != nullptr && before_dot(kit.holders[h].sits_in) == day.devices[d].name)
        inside[h] = static_cast<int>(d);
    }
  }
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const day::Holder& holder = day.holders[h];
    if (holder.charger_supply >= 0 || inside[h] >= 0) continue;
    boxes[holder.name] = holder_box[h] = static_cast<int>(out.boxes.size());
    out.boxes.push_back({.look = WiringBox::Look::pack, .title = holder.name, .details = {packs_in(day, holder)}});
  }
  for (std::size_t k = 0; k < day.supplies.size(); ++k) {
    if (day.supplies[k].port < 0 || kit.supplies[k].kind == nullptr) continue;
    const bool leads = std::any_of(day.leads.begin(), day.leads.end(),
                                   [&](const day::Lead& lead) { return lead.from == day.supplies[k].port; });
    if (!leads) continue;
    boxes[day.supplies[k].name] = static_cast<int>(out.boxes.size());
    out.boxes.push_back(
        {.look = WiringBox::Look::source,
         .title = day.supplies[k].name,
         .details = {fmt::format("{:g} V, {:g} A at most", day.supplies[k].volts, day.supplies[k].limit_a)}});
  }
  for (std::size_t b = 0; b < kit.boxes.size(); ++b) {
    const kit::BoxItem& box = kit.boxes[b];
    const std::string& name = day.devices[at(box.device)].name;
    WiringBox shown{.look = WiringBox::Look::box, .title = name};
    shown.details.push_back(box.main_fuse_a > 0.0
                                ? "main fuse " + fuse_words(box.main_fuse_a, known.fuse(box.kind->main_fuse))
                                : "no main fuse");
    shown.details.push_back(box.kind->master_switch ? "master switch" : "no switch");
    boxes[name] = box_box[b] = static_cast<int>(out.boxes.size());
    out.boxes.push_back(std::move(shown));
  }
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    if (kit.devices[d].kind == nullptr) continue;
    const day::Device& device = day.devices[d];
    const day::Mode& mode = device.modes.front();
    const double watts = (mode.power_w / device.efficiency + device.idle_w) * device.scale;
    WiringBox shown{.look = WiringBox::Look::device, .title = device.name};
    if (watts > 0.0) shown.details.push_back(fmt::format("{:.2g} W", watts));
    if (mode.current_a > 0.0) shown.details.push_back(fmt::format("{:.0f} mA", 1000.0 * mode.current_a * device.scale));
    shown.optional = device.need == day::Need::optional;
    std::string own;
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      if (inside[h] == static_cast<int>(d)) {
        shown.details.push_back(day.holders[h].name + ": " + packs_in(day, day.holders[h], 3));
        own += (own.empty() ? "" : ", ") + day.holders[h].name;
      }
    }
    const bool wired = std::any_of(kit.wires.begin(), kit.wires.end(),
                                   [&](const kit::WireItem& wire) { return before_dot(wire.to) == device.name; });
    if (!wired) {
      out.alone.push_back(device.name + (own.empty() ? "" : " (" + own + ")"));
      continue;
    }
    boxes[device.name] = device_box[d] = static_cast<int>(out.boxes.size());
    out.boxes.push_back(std::move(shown));
  }

  // Nothing else feeds something that must run behind this lead.
  const auto only = [&](int lead) {
    const std::vector<int> behind = circuit.devices_behind(day.leads[at(lead)].to);
    return std::any_of(behind.begin(), behind.end(), [&](int d) {
      return kit.devices[at(d)].kind != nullptr && circuit.must_run(d) && !circuit.fed(d, lead);
    });
  };
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    const auto target = boxes.find(before_dot(kit.holders[h].sits_in));
    if (holder_box[h] < 0 || target == boxes.end()) continue;
    int joint = -1;
    for (std::size_t k = 0; k < day.leads.size(); ++k) {
      if (day.leads[k].from == day.holders[h].port &&
          day.leads[k].name == day.holders[h].name + " in " + after_dot(kit.holders[h].sits_in))
        joint = static_cast<int>(k);
      if (joint < 0 && day.leads[k].from == day.holders[h].port) joint = static_cast<int>(k);
    }
    out.leads.push_back(
        {.from = holder_box[h], .to = target->second, .built_in = true, .only = joint >= 0 && only(joint)});
  }
  for (std::size_t k = 0; k < day.supplies.size(); ++k) {
    const auto from = boxes.find(day.supplies[k].name);
    if (from == boxes.end() || kit.supplies[k].stands_in.empty()) continue;
    const auto to = boxes.find(kit.supplies[k].stands_in);
    if (to == boxes.end()) continue;
    out.leads.push_back({.from = from->second, .to = to->second, .above = "dummy pack", .sometimes = true});
  }
  std::vector<int> wire_lead(kit.wires.size(), -1);
  for (std::size_t w = 0; w < kit.wires.size(); ++w) {
    const kit::WireItem& wire = kit.wires[w];
    const auto from = boxes.find(before_dot(wire.from));
    const auto to = boxes.find(before_dot(wire.to));
    if (from == boxes.end() || to == boxes.end()) continue;
    WiringLead lead{.from = from->second, .to = to->second};
    const std::string output = after_dot(wire.from);
    lead.row = output;
    for (const kit::BoxItem& box : kit.boxes) {
      for (const kit::OutputItem& item : box.outputs) {
        if (item.name != wire.from) continue;
        lead.row = output + "  " + fuse_words(item.fuse_a, known.fuse(item.kind->fuse));
      }
    }
    if (wire.length_m > 0.0) {
      lead.above = fmt::format("{:g} m ", wire.length_m) +
                   (wire.awg >= 0 ? fmt::format("AWG {}", wire.awg) : fmt::format("{:g} mm\u00b2", wire.area_mm2));
    } else {
      lead.above = "its own lead";
    }
    if (wire.fuse_a > 0.0) lead.above += ", fuse " + fuse_words(wire.fuse_a, known.fuse(wire.fuse_kind));
    lead.below = wire.length_m <= 0.0 || wire.from_plug.empty() ? wire.to_plug
                 : wire.from_plug == wire.to_plug               ? wire.from_plug
                                                                : wire.from_plug + " > " + wire.to_plug;
    const catalogue::ConnectorKind* first = wire.length_m > 0.0 ? known.connector(wire.from_plug) : nullptr;
    const catalogue::ConnectorKind* last = known.connector(wire.to_plug);
    lead.plug_from = first != nullptr;
    lead.plug_to = last != nullptr;
    lead.locks_from = first != nullptr && first->locks;
    lead.locks_to = last != nullptr && last->locks;
    lead.only = only(wire.lead);
    for (const day::Supply& supply : day.supplies)
      lead.sometimes = lead.sometimes || supply.port == day.leads[at(wire.lead)].from;
    wire_lead[w] = static_cast<int>(out.leads.size());
    out.leads.push_back(std::move(lead));
  }

  for (std::size_t n = 0; n < found.size(); ++n) {
    // Heavy lines already tell of single points.
    if (found[n].rule == Rule::single_point) continue;
    for (const findings::Item& item : found[n].items) {
      const int number = static_cast<int>(n) + 1;
      if (item.wire >= 0 && wire_lead[at(item.wire)] >= 0) {
        mark(out.leads[at(wire_lead[at(item.wire)])].marks, number);
      } else if (item.box >= 0 && box_box[at(item.box)] >= 0) {
        mark(out.boxes[at(box_box[at(item.box)])].marks, number);
      } else if (item.device >= 0 && device_box[at(item.device)] >= 0) {
        mark(out.boxes[at(device_box[at(item.device)])].marks, number);
      } else if (item.holder >= 0) {
        const int box =
            inside[at(item.holder)] >= 0 ? device_box[at(inside[at(item.holder)])] : holder_box[at(item.holder)];
        if (box >= 0) mark(out.boxes[at(box)].marks, number);
      }
    }
  }
  return out;
}

}  // namespace tillwrap::app
