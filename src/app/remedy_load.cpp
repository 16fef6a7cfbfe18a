// Steps that lessen the load or the loss on the way to it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "app/remedy_steps.hpp"
#include "app/words.hpp"
#include "quantity/order.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::app {

namespace {

constexpr int kWorstLeads = 4;
constexpr double kShortest_m = 0.15;
constexpr double kReach_s = 30.0;    // hands to a switch or a menu
constexpr double kRewire_s = 120.0;  // to swap a lead

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double draw_w(const day::Mode& mode) { return mode.power_w + 12.0 * mode.current_a + 144.0 * mode.siemens; }

// Modes that stop the device doing its work: only while nobody shoots.
bool is_pause(const std::string& mode) {
  return mode == "standby" || mode == "muted" || mode == "idle" || mode == "sleep";
}

void switching(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const day::Scenario& day = base.file->scenario;
  const std::size_t periods = day.periods.size();
  const auto off_mode = [&](std::size_t d) { return static_cast<int>(day.devices[d].modes.size()) - 1; };
  const auto ever_on = [&](std::size_t d) {
    return std::any_of(day.periods.begin(), day.periods.end(),
                       [&](const day::Period& p) { return p.mode[d] != off_mode(d); });
  };
  const auto off_step = [&](const std::vector<std::string>& names, const std::string& what) {
    steps.push_back({.kind = "switch_off",
                     .words = "switch " + what + " off",
                     .change =
                         [names, periods](decode::Document& document) {
                           for (std::size_t k = 0; k < periods; ++k) {
                             for (const std::string& name : names) edit::set_mode(document, k, name, "off");
                           }
                         },
                     .cost = {.hands_s = kReach_s * static_cast<double>(names.size())}});
  };
  std::vector<std::string> optional;
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    if (base.file->inventory.devices[d].kind == nullptr || day.devices[d].need != day::Need::optional ||
        !base.device_matters[d] || !ever_on(d))
      continue;
    optional.push_back(day.devices[d].name);
    off_step({day.devices[d].name}, day.devices[d].name);
  }
  if (optional.size() > 1) off_step(optional, "all that is optional");

  // A period in which something that must run is switched off is one without a take.
  std::vector<std::size_t> pauses;
  for (std::size_t k = 0; k < periods; ++k) {
    for (std::size_t d = 0; d < day.devices.size(); ++d) {
      if (day.devices[d].need != day::Need::optional && day.periods[k].mode[d] == off_mode(d)) {
        pauses.push_back(k);
        break;
      }
    }
  }
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    const day::Device& device = day.devices[d];
    const catalogue::DeviceKind* kind = base.file->inventory.devices[d].kind;
    if (kind == nullptr || !base.device_matters[d]) continue;
    for (std::size_t m = 1; m + 1 < device.modes.size(); ++m) {
      const std::string mode = device.modes[m].name;
      const bool pause = is_pause(mode) && device.need != day::Need::optional;
      std::vector<std::size_t> where;
      for (std::size_t k = 0; k < periods; ++k) {
        const int now = day.periods[k].mode[d];
        if (now == off_mode(d) || draw_w(device.modes[m]) >= draw_w(device.modes[at(now)])) continue;
        if (!pause || std::find(pauses.begin(), pauses.end(), k) != pauses.end()) where.push_back(k);
      }
      if (where.empty()) continue;
      steps.push_back({.kind = "reduce",
                       .words = fmt::format("{}: {}{}", device.name, mode, pause ? " while nobody shoots" : ""),
                       .note = pause ? "in periods in which something that must run is off" : "",
                       .change =
                           [name = device.name, mode, where](decode::Document& document) {
                             for (const std::size_t k : where) edit::set_mode(document, k, name, mode);
                           },
                       .cost = {.hands_s = kReach_s * static_cast<double>(where.size())}});
    }
    // Lower radio power, a dimmed screen: the low end of what the class draws.
    const bool radio = kind->family == "transmitter" || kind->family == "body-pack";
    if (!radio && kind->family != "monitor") continue;
    const catalogue::Mode& usual = kind->modes.front();
    const double low = usual.constant_current ? usual.draw_a.low : usual.draw_w.low;
    const double now = usual.constant_current ? device.modes.front().current_a : device.modes.front().power_w;
    if (low <= 0.0 || low >= 0.95 * now || !ever_on(d)) continue;
    const std::string draw = fmt::format("{:.3g} {}", low, usual.constant_current ? "A" : "W");
    steps.push_back(
        {.kind = "reduce",
         .words = fmt::format("{}: {} ({})", device.name, radio ? "lower radio power" : "dim the screen", draw),
         .note = "the low end of its class; yours may have no such setting",
         .change =
             [name = device.name, draw](decode::Document& document) {
               edit::set(edit::thing(document, "device", "name", name), edit::text("draw", draw));
             },
         .cost = {.hands_s = kReach_s}});
  }
}

void phantom(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const decode::Node* devices = base.document->root.find("device");
  if (devices == nullptr) return;
  for (const decode::Node& device : devices->children) {
    const decode::Node* name = device.find("name");
    const decode::Node* list = device.find("phantom");
    if (name == nullptr || list == nullptr || list->children.empty()) continue;
    const std::size_t most = list->children.size();
    for (std::size_t k = 0; k <= most; ++k) {
      if (k == most && most < 2) continue;
      const bool all = k == most;
      steps.push_back(
          {.kind = "phantom",
           .words = all ? name->text + ": phantom off on every input"
                        : fmt::format("{}: phantom off for the {} microphone", name->text, list->children[k].text),
           .note = "only where that microphone is not needed",
           .change =
               [device_name = name->text, k, all](decode::Document& document) {
                 decode::Node& thing = edit::thing(document, "device", "name", device_name);
                 decode::Node* inputs = edit::child(thing, "phantom");
                 if (inputs == nullptr || (!all && inputs->children.size() <= k))
                   throw NotPossible("no such phantom input");
                 if (all) {
                   inputs->children.clear();
                 } else {
                   inputs->children.erase(inputs->children.begin() + static_cast<std::ptrdiff_t>(k));
                 }
               },
           .cost = {.hands_s = kReach_s}});
    }
  }
}

decode::Node& wire(decode::Document& document, const kit::WireItem& item) {
  for (decode::Node& entry : edit::things(document, "wire").children) {
    const decode::Node* from = entry.find("from");
    const decode::Node* to = entry.find("to");
    if (from != nullptr && to != nullptr && from->text == item.from && to->text == item.to) return entry;
  }
  throw NotPossible("the lead from " + item.from + " to " + item.to + " is not there any more");
}

void leads(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const kit::Inventory& kit = base.file->inventory;
  const std::vector<double>& loss_j = base.forecast->run.lead_loss_j;
  std::vector<const kit::WireItem*> worst;
  for (const kit::WireItem& item : kit.wires) worst.push_back(&item);
  sort_stably(
      worst, [&](const kit::WireItem* a, const kit::WireItem* b) { return loss_j[at(a->lead)] > loss_j[at(b->lead)]; });
  int cables = 0;
  for (const kit::WireItem* item : worst) {
    const std::string name = item->from + " to " + item->to;
    if (item->length_m > 0.0 && cables < kWorstLeads && loss_j[at(item->lead)] > 0.0) {
      ++cables;
      const double half_m = std::max(kShortest_m, 0.5 * item->length_m);
      if (half_m < 0.9 * item->length_m) {
        steps.push_back(
            {.kind = "cable",
             .words = fmt::format("shorter lead {}: {:.2g} m instead of {:.2g}", name, half_m, item->length_m),
             .change =
                 [own = *item, half_m](decode::Document& document) {
                   edit::set(wire(document, own), edit::text("length", fmt::format("{:.6g} m", half_m)));
                 },
             .cost = {.hands_s = kRewire_s, .buy = true}});
      }
      const int awg = item->awg >= 0 ? item->awg - 4 : -1;
      const double area = 2.5 * item->area_mm2;  // four gauges are a factor of 2.5
      if ((awg >= 14) || (item->awg < 0 && area <= 2.5)) {
        const std::string size = awg >= 0 ? fmt::format("AWG {}", awg) : fmt::format("{:.3g} mm2", area);
        steps.push_back(
            {.kind = "cable",
             .words = fmt::format("thicker lead {}: {}", name, size),
             .change = [own = *item,
                        size](decode::Document& document) { edit::set(wire(document, own), edit::text("wire", size)); },
             .cost = {.hands_s = kRewire_s, .buy = true}});
      }
    }
    if (item->worn) {
      steps.push_back(
          {.kind = "contacts",
           .words = "clean or replace the plugs of " + name,
           .change = [own = *item](
                         decode::Document& document) { edit::set(wire(document, own), edit::text("contacts", "new")); },
           .cost = {.hands_s = 2.0 * kRewire_s}});
    }
    const auto loose = [&](const std::string& plug, const std::string& socket) {
      return !plug.empty() && !socket.empty() && base.catalogue->fit(plug, socket) == catalogue::Fit::loose;
    };
    if (item->length_m > 0.0 && (loose(item->from_plug, item->from_socket) || loose(item->to_plug, item->to_socket))) {
      steps.push_back({.kind = "plug",
                       .words = fmt::format("the right plugs for {}: {}, {}", name, item->from_socket, item->to_socket),
                       .change =
                           [own = *item](decode::Document& document) {
                             edit::set(wire(document, own), edit::texts("plugs", {own.from_socket, own.to_socket}));
                           },
                       .cost = {.hands_s = kRewire_s, .buy = true}});
    }
  }
  for (std::size_t h = 0; h < kit.holders.size(); ++h) {
    if (!kit.holders[h].worn) continue;
    const std::string name = base.file->scenario.holders[h].name;
    steps.push_back({.kind = "contacts",
                     .words = "clean or replace the contacts of " + name,
                     .change =
                         [name](decode::Document& document) {
                           edit::set(edit::thing(document, "holder", "name", name), edit::text("contacts", "new"));
                         },
                     .cost = {.hands_s = 2.0 * kRewire_s}});
  }
}

// A cut-off set higher than the class needs wastes what is left below it.
void cutoffs(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  const kit::Inventory& kit = base.file->inventory;
  for (std::size_t d = 0; d < kit.devices.size(); ++d) {
    const kit::DeviceItem& item = kit.devices[d];
    if (item.kind == nullptr || item.kind->inputs.empty() || item.inputs.empty()) continue;
    const catalogue::DeviceInput& usual = item.kind->inputs.front();
    if (item.inputs.front().cutoff_v <= usual.cutoff_v + 0.05) continue;
    const std::string name = base.file->scenario.devices[d].name;
    steps.push_back({.kind = "cutoff",
                     .words = fmt::format("{}: set its cut-off to {:.3g} V instead of {:.3g}", name, usual.cutoff_v,
                                          item.inputs.front().cutoff_v),
                     .note = "where the pack's own protection lies higher, that ends it first, without a warning",
                     .change =
                         [name, usual](decode::Document& document) {
                           decode::Node& device = edit::thing(document, "device", "name", name);
                           edit::set(device, edit::text("cutoff", fmt::format("{:.6g} V", usual.cutoff_v)));
                           edit::set(device,
                                     edit::text("restart_volts",
                                                fmt::format("{:.6g} V", std::max(usual.cutoff_v, usual.restart_v))));
                         },
                     .cost = {.hands_s = kReach_s}});
  }
}

}  // namespace

void load_steps(const RemedyBase& base, std::vector<RemedyStep>& steps) {
  switching(base, steps);
  phantom(base, steps);
  leads(base, steps);
  cutoffs(base, steps);
}

}  // namespace tillwrap::app
