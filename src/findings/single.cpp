// One cable, cup, box or switch whose loss ends the day.
#include <algorithm>
#include <cmath>

#include "findings/rules.hpp"

namespace tillwrap::findings {

namespace {

// The first loss among `looked_at` on the day with those leads dead from the start, changes where the plan has them;
// must-run devices may drop out in a planned change, as when one pack is dead.
forecast::Loss loss_without(const Work& work, const std::vector<int>& leads, const std::vector<int>& looked_at) {
  day::Scenario day = work.day;
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    const bool counts = std::find(looked_at.begin(), looked_at.end(), static_cast<int>(d)) != looked_at.end();
    day.devices[d].need = counts ? day::Need::rolling : day::Need::optional;
  }
  std::vector<std::size_t> next(day.holders.size(), 0);
  for (const forecast::PlannedChange& change : work.forecast.plan) {
    std::vector<day::Slot>& slots = day.holders[at(change.holder)].slots;
    std::size_t& k = next[at(change.holder)];
    if (k >= slots.size()) continue;
    if (std::isnan(slots[k].at_s)) slots[k].at_s = change.at_s;
    ++k;
  }
  if (!leads.empty()) {  // a broken lead is one behind a switch that stays off
    const int breaker = static_cast<int>(day.devices.size());
    day.devices.push_back({.name = "broken",
                           .port = day.leads[at(leads.front())].to,
                           .place = day.leads[at(leads.front())].place,
                           .need = day::Need::optional,
                           .modes = {{.name = "off", .off = true}}});
    for (day::Period& period : day.periods) period.mode.push_back(0);
    for (const int lead : leads) day.leads[at(lead)].switched_by = breaker;
  }
  const forecast::Forecast without = forecast::forecast(day, {.with_one_loss = false, .search_beyond_s = 0.0});
  return without.reaches_wrap ? forecast::Loss{} : without.run.first_loss;
}

// Must-run things behind a port, and which of them nothing else feeds once a lead (or a switch) is out.
struct Behind {
  std::vector<std::string> dark, bridged;
  std::vector<int> bridged_device;
};

Behind behind(const Work& work, int port, int without, int around) {
  Behind found;
  for (const int d : work.circuit.devices_behind(port)) {
    if (!work.listed(d) || !work.circuit.must_run(d)) continue;
    (work.circuit.fed(d, without, around) ? found.bridged : found.dark).push_back(work.day.devices[at(d)].name);
  }
  return found;
}

void switches(Work& work) {
  std::vector<Item> items;
  for (std::size_t b = 0; b < work.kit.boxes.size(); ++b) {
    const kit::BoxItem& box = work.kit.boxes[b];
    if (!box.kind->master_switch) continue;
    const Behind found = behind(work, work.day.devices[at(box.device)].port, -1, box.device);
    if (found.dark.empty()) continue;
    std::string bridged;
    for (const std::string& name : found.bridged) bridged += (bridged.empty() ? "" : ", ") + name;
    items.push_back({.place = box.place,
                     .what = work.day.devices[at(box.device)].name,
                     .other = bridged,
                     .names = found.dark,
                     .figures = {{"dark", static_cast<double>(found.dark.size())}},
                     .box = static_cast<int>(b),
                     .entry = box.kind,
                     .entry_key = "note"});
  }
  work.add(Rule::knocked_switch, Severity::costs, std::move(items));
}

void single(Work& work, bool simulate) {
  struct Candidate {
    Item item;
    std::vector<int> leads;
    Behind behind;
  };
  std::vector<Candidate> candidates;
  const auto add = [&](Item item, std::vector<int> leads) {
    Behind found;
    for (const int d : work.circuit.devices_behind(work.day.leads[at(leads.front())].to)) {
      if (!work.listed(d) || !work.circuit.must_run(d)) continue;
      const bool fed = std::any_of(leads.begin(), leads.end(), [&](int lead) { return work.circuit.fed(d, lead); });
      (fed ? found.bridged : found.dark).push_back(work.day.devices[at(d)].name);
      if (fed) found.bridged_device.push_back(d);
    }
    if (found.dark.empty() && found.bridged.empty()) return;
    candidates.push_back({std::move(item), std::move(leads), std::move(found)});
  };
  for (const kit::WireItem& wire : work.kit.wires) {
    Item item = work.item_of_lead(wire.lead);
    item.other = "cable";
    add(std::move(item), {wire.lead});
  }
  for (std::size_t h = 0; h < work.day.holders.size(); ++h) {
    const day::Holder& holder = work.day.holders[h];
    if (holder.charger_supply >= 0 || holder.slots.empty() || holder.built_in) continue;
    if (work.box_index(work.kit.holders[h].sits_in.substr(0, work.kit.holders[h].sits_in.find('.'))) < 0) continue;
    std::vector<int> leads;
    for (std::size_t k = 0; k < work.day.leads.size(); ++k) {
      if (work.day.leads[k].from == holder.port) leads.push_back(static_cast<int>(k));
    }
    if (leads.empty()) continue;
    add({.place = work.kit.holders[h].place, .what = holder.name, .other = "cup", .holder = static_cast<int>(h)},
        leads);
  }
  for (std::size_t b = 0; b < work.kit.boxes.size(); ++b) {
    const std::string& name = work.day.devices[at(work.kit.boxes[b].device)].name;
    for (std::size_t k = 0; k < work.day.leads.size(); ++k) {
      if (work.day.leads[k].name != name + " main fuse") continue;
      add({.place = work.kit.boxes[b].place, .what = name, .other = "box", .box = static_cast<int>(b)},
          {static_cast<int>(k)});
    }
  }
  // What is lost without it: at once where nothing else feeds a device, else as the simulated day says.
  std::vector<Item> items;
  bool any = false;
  for (Candidate& candidate : candidates) {
    candidate.item.names = candidate.behind.dark;
    candidate.item.figures = {{"dark", static_cast<double>(candidate.behind.dark.size())}};
    bool ends = !candidate.behind.dark.empty();
    if (!ends && simulate) {
      constexpr double kSooner_s = 60.0;
      const std::vector<int>& bridged = candidate.behind.bridged_device;
      const forecast::Loss whole = work.forecast.reaches_wrap ? forecast::Loss{} : loss_without(work, {}, bridged);
      const forecast::Loss without = loss_without(work, candidate.leads, bridged);
      ends = without.at_s < whole.at_s - kSooner_s;
      if (ends) {
        candidate.item.names = {work.day.devices[at(without.device)].name};
        candidate.item.figures = {{"dark", 1.0}, {"loss_at_s", without.at_s}};
      } else {
        candidate.item.names = candidate.behind.bridged;
        if (without.device >= 0) candidate.item.figures.push_back({"same_loss_at_s", without.at_s});
      }
    }
    candidate.item.figures.push_back({"ends", ends ? 1.0 : 0.0});
    any = any || ends;
    if (ends || simulate) items.push_back(std::move(candidate.item));
  }
  if (any) work.add(Rule::single_point, Severity::note, std::move(items));
}

}  // namespace

void look_at_single_points(Work& work, bool simulate) {
  switches(work);
  single(work, simulate);
}

}  // namespace tillwrap::findings
