// What the sources do: too many volts, draining while stored, charging each other, falling asleep, going dark.
#include <algorithm>
#include <cmath>

#include "findings/rules.hpp"

namespace tillwrap::findings {

namespace {

constexpr double kOverVolts = 1.001;
// A pack left in its holder should keep for a month (common practice: the next job).
constexpr double kStored_h = 720.0;
constexpr double kBackFeed_a = 0.05;
// One of two packs carries alone when the other gives less than this share, for longer than this.
constexpr double kIdleShare = 0.05;
constexpr double kIdle_s = 600.0;
// A bank's load this close above its switch-off is a matter of luck.
constexpr double kNearSleep = 1.5;

std::string device_name(const Work& work, int d) { return work.day.devices[at(d)].name; }

void over_volts(Work& work) {
  std::vector<Item> items;
  const auto check = [&](int d, int port, double most_v, const std::string& where, const catalogue::Entry* entry) {
    if (port < 0 || most_v <= 0.0 || most_v > 1e6) return;
    for (const Feed& feed : work.circuit.feeds(port)) {
      std::string source;
      const double full_v = work.full_v(feed, &source);
      if (full_v <= most_v * kOverVolts) continue;
      Item item{.place = work.kit.devices[at(d)].place, .what = where, .other = source};
      item.device = d;
      item.box = work.kit.devices[at(d)].kind == nullptr ? work.box_index(device_name(work, d)) : -1;
      item.figures = {{"full_v", full_v}, {"most_v", most_v}};
      double seen_v = 0.0;
      double last_s = -1.0;
      const auto& volts = work.forecast.run.trace.device_v[at(d)];
      for (std::size_t row = 0; row < work.seen.rows(); ++row) {
        seen_v = std::max(seen_v, volts[row]);
        if (volts[row] > most_v) last_s = work.seen.at_s(row);
      }
      item.figures.push_back({"highest_v", seen_v});
      if (last_s >= 0.0) item.figures.push_back({"last_at_s", last_s});
      item.entry = entry;
      item.entry_key = "input";
      items.push_back(std::move(item));
      return;
    }
  };
  for (std::size_t d = 0; d < work.day.devices.size(); ++d) {
    const kit::DeviceItem& device = work.kit.devices[d];
    for (const kit::InputItem& input : device.inputs)
      check(static_cast<int>(d), input.port, input.most_v, input.name, device.kind);
  }
  for (const kit::BoxItem& box : work.kit.boxes)
    check(box.device, work.day.devices[at(box.device)].port, box.kind->most_v, device_name(work, box.device), box.kind);
  work.add(Rule::over_volts, Severity::harms, std::move(items));
}

void phantom(Work& work) {
  std::vector<Item> items;
  for (std::size_t d = 0; d < work.day.devices.size(); ++d) {
    const kit::DeviceItem& device = work.kit.devices[d];
    if (device.kind == nullptr || !device.kind->phantom || device.kind->phantom->limit_a <= 0.0) continue;
    if (device.phantom_a <= device.kind->phantom->limit_a + 1e-9) continue;  // six times 10 mA is 60 mA
    items.push_back({.place = device.place,
                     .what = work.day.devices[d].name,
                     .figures = {{"amps_a", device.phantom_a}, {"limit_a", device.kind->phantom->limit_a}},
                     .device = static_cast<int>(d),
                     .entry = device.kind,
                     .entry_key = "phantom"});
  }
  work.add(Rule::phantom_limit, Severity::costs, std::move(items));
}

// Everything a box draws with its master switch off, or for want of one.
void drain(Work& work) {
  std::vector<Item> items;
  for (std::size_t b = 0; b < work.kit.boxes.size(); ++b) {
    const kit::BoxItem& box = work.kit.boxes[b];
    const std::string& name = device_name(work, box.device);
    double load_w = 0.0;
    std::vector<std::string> names;
    const bool switched = box.kind->master_switch;
    const day::Device& own = work.day.devices[at(box.device)];
    if (!switched && !own.modes.empty()) load_w += own.modes.front().power_w;
    for (const kit::OutputItem& output : box.outputs) {
      if (switched && !output.kind->always_on) continue;
      for (const day::Regulator& regulator : work.day.regulators) {
        if (regulator.name == output.name) load_w += regulator.law.idle_w;
      }
      if (!output.kind->always_on) continue;  // what hangs there has a switch of its own
      for (const int d : work.circuit.devices_behind(output.port)) {
        const day::Device& device = work.day.devices[at(d)];
        if (!work.listed(d)) continue;
        double least_w = 1e9;
        for (const day::Mode& mode : device.modes) {
          if (mode.off) continue;
          const double volts = 12.0;  // for what draws a constant current
          least_w = std::min(
              least_w, ((mode.power_w + mode.current_a * volts) / device.efficiency + device.idle_w) * device.scale);
        }
        if (least_w < 1e9) load_w += least_w;
        names.push_back(device.name);
      }
    }
    if (load_w <= 0.0) continue;
    for (const int h : work.circuit.sources(own.port).holders) {
      const day::Holder& holder = work.day.holders[at(h)];
      const int p = holder.slots.back().pack;  // the one left in at wrap
      const double wh = work.kit.packs[at(p)].rated_wh * work.kit.packs[at(p)].health;
      const double hours = wh / load_w;
      if (hours > kStored_h) continue;
      items.push_back(
          {.place = box.place,
           .what = name,
           .other = work.day.packs[at(p)].params.label,
           .names = names,
           .figures = {{"load_w", load_w}, {"pack_wh", wh}, {"hours_h", hours}, {"switched", switched ? 1.0 : 0.0}},
           .box = static_cast<int>(b),
           .entry = box.kind,
           .entry_key = "idle_w"});
    }
  }
  work.add(Rule::stored_drain, Severity::costs, std::move(items));
}

// Ports that hang together over leads which carry both ways.
std::vector<int> both_ways(const day::Scenario& day, int port) {
  std::vector<char> seen(day.ports.size(), 0);
  std::vector<char> selected(day.leads.size(), 0);  // a device takes one of these at a time
  for (const day::Device& device : day.devices) {
    for (const day::DeviceInput& input : device.inputs) selected[at(input.lead)] = 1;
  }
  std::vector<int> queue{port};
  seen[at(port)] = 1;
  for (std::size_t head = 0; head < queue.size(); ++head) {
    for (std::size_t k = 0; k < day.leads.size(); ++k) {
      const day::Lead& lead = day.leads[k];
      if (lead.one_way || selected[k] || (lead.from != queue[head] && lead.to != queue[head])) continue;
      const int next = lead.from == queue[head] ? lead.to : lead.from;
      if (seen[at(next)]) continue;
      seen[at(next)] = 1;
      queue.push_back(next);
    }
  }
  return queue;
}

void back_feed(Work& work) {
  std::vector<Item> items;
  const forecast::Trace& trace = work.forecast.run.trace;
  for (std::size_t h = 0; h < work.day.holders.size(); ++h) {
    const day::Holder& holder = work.day.holders[h];
    if (holder.charger_supply >= 0 || holder.one_way || holder.slots.empty()) continue;
    if (work.day.packs[at(holder.slots.front().pack)].regulator) continue;
    double back_a = 0.0;
    double back_at_s = 0.0;
    for (std::size_t row = 0; row < work.seen.rows(); ++row) {
      if (trace.holder_a[h][row] >= back_a) continue;
      back_a = trace.holder_a[h][row];
      back_at_s = work.seen.at_s(row);
    }
    std::string partner;
    bool at_once = false;
    for (const int port : both_ways(work.day, holder.port)) {
      for (std::size_t other = h + 1; other < work.day.holders.size(); ++other) {
        const day::Holder& second = work.day.holders[other];
        if (second.port != port || second.charger_supply >= 0 || second.one_way || second.slots.empty() ||
            work.day.packs[at(second.slots.front().pack)].regulator)
          continue;
        for (std::size_t row = 0; row < work.seen.rows(); ++row)
          at_once = at_once || (trace.holder_pack[h][row] >= 0 && trace.holder_pack[other][row] >= 0);
        if (at_once) partner = second.name;
      }
      for (std::size_t k = 0; k < work.day.supplies.size(); ++k) {
        if (work.day.supplies[k].port != port) continue;
        for (const day::Period& period : work.day.periods) {
          if (!period.supply_live[k]) continue;
          for (std::size_t row = 0; row < work.seen.rows(); ++row) {
            // Rows on the very edge belong to the change itself.
            if (work.seen.at_s(row) <= period.from_s + 1.0 || work.seen.at_s(row) >= period.until_s - 1.0) continue;
            if (trace.holder_pack[h][row] < 0) continue;
            partner = work.day.supplies[k].name;
            at_once = true;
          }
        }
      }
    }
    if (!at_once) continue;
    Item item{.place = work.kit.holders[h].place, .what = holder.name, .other = partner};
    item.holder = static_cast<int>(h);
    if (back_a < -kBackFeed_a) item.figures = {{"back_a", -back_a}, {"at_s", back_at_s}};
    items.push_back(std::move(item));
  }
  work.add(Rule::back_feed, Severity::harms, std::move(items));
}

void unequal(Work& work) {
  std::vector<Item> items;
  const forecast::Trace& trace = work.forecast.run.trace;
  for (std::size_t port = 0; port < work.day.ports.size(); ++port) {
    std::vector<int> holders;
    for (const day::Lead& lead : work.day.leads) {
      if (!lead.one_way || lead.to != static_cast<int>(port)) continue;
      for (const Feed& feed : work.circuit.feeds(lead.from)) {
        if (feed.kind == Feed::Kind::holder) holders.push_back(feed.index);
      }
    }
    for (std::size_t i = 0; i < holders.size(); ++i) {
      for (std::size_t j = i + 1; j < holders.size(); ++j) {
        const std::size_t a = at(holders[i]);
        const std::size_t b = at(holders[j]);
        // Longest stretch with both packs in and one carrying alone.
        double best_s = 0.0;
        double from_s = 0.0;
        double start_s = -1.0;
        int alone = -1;
        int best = -1;
        std::size_t best_row = 0;
        for (std::size_t row = 0; row < work.seen.rows(); ++row) {
          const double amps_a = std::max(0.0, trace.holder_a[a][row]);
          const double amps_b = std::max(0.0, trace.holder_a[b][row]);
          const double sum = amps_a + amps_b;
          int now = -1;
          if (trace.holder_pack[a][row] >= 0 && trace.holder_pack[b][row] >= 0 && sum > 0.02) {
            if (amps_b < kIdleShare * sum) now = static_cast<int>(a);
            if (amps_a < kIdleShare * sum) now = static_cast<int>(b);
          }
          if (now != alone) {
            start_s = work.seen.at_s(row);
            alone = now;
          }
          if (now >= 0 && work.seen.at_s(row) - start_s > best_s) {
            best_s = work.seen.at_s(row) - start_s;
            from_s = start_s;
            best = now;
            best_row = row;
          }
        }
        if (best < 0 || best_s < kIdle_s) continue;
        const std::size_t idle = at(best) == a ? b : a;
        const int carrying = trace.holder_pack[at(best)][best_row];
        const int resting = trace.holder_pack[idle][best_row];
        items.push_back({.place = work.kit.holders[at(best)].place,
                         .what = work.day.packs[at(carrying)].params.label,
                         .other = work.day.packs[at(resting)].params.label,
                         .figures = {{"from_s", from_s},
                                     {"until_s", from_s + best_s},
                                     {"carrying_v", trace.holder_v[at(best)][best_row]},
                                     {"resting_v", trace.holder_v[idle][best_row]}},
                         .holder = best});
      }
    }
  }
  work.add(Rule::unequal_packs, Severity::note, std::move(items));
}

void pd_outage(Work& work) {
  std::vector<Item> items;
  bool stops = false;
  const auto check = [&](const std::string& name, int port, double dark_s, decode::Place place, int holder,
                         const catalogue::Entry* entry) {
    if (dark_s <= 0.0 || port < 0) return;
    long leads = 0;
    for (const day::Lead& lead : work.day.leads) leads += lead.from == port ? 1 : 0;
    for (const int d : work.circuit.devices_behind(port)) {
      if (!work.listed(d) || !work.circuit.must_run(d)) continue;
      const Circuit::Sources sources = work.circuit.sources(work.day.devices[at(d)].port);
      if (sources.holders.size() + sources.supplies.size() > 1) continue;  // another one carries it
      const day::Device& device = work.day.devices[at(d)];
      const double volts = work.forecast.run.devices[at(d)].lowest_v;
      if (!(volts < 1e6)) continue;
      const day::Mode& mode = device.modes.front();
      const double watts = ((mode.power_w + mode.current_a * volts) / device.efficiency + device.idle_w) * device.scale;
      const double held_s = hold_up_s(device.hold_up_f, volts, device.cutoff_v, watts);
      if (held_s >= dark_s) continue;
      stops = stops || device.need == day::Need::unbroken;
      items.push_back({.place = place,
                       .what = name,
                       .other = device.name,
                       .figures = {{"dark_s", dark_s},
                                   {"held_s", held_s},
                                   {"restart_s", device.restart_s},
                                   {"leads", static_cast<double>(leads)}},
                       .device = d,
                       .holder = holder,
                       .entry = entry,
                       .entry_key = "renegotiation_s"});
    }
  };
  for (std::size_t h = 0; h < work.day.holders.size(); ++h) {
    const day::Holder& holder = work.day.holders[h];
    const catalogue::Entry* entry = holder.slots.empty() ? nullptr : work.kit.packs[at(holder.slots.front().pack)].kind;
    check(holder.name, holder.port, holder.renegotiation_s, work.kit.holders[h].place, static_cast<int>(h), entry);
  }
  for (std::size_t k = 0; k < work.day.supplies.size(); ++k) {
    const catalogue::SourceKind* kind = work.kit.supplies[k].kind;
    if (kind != nullptr)
      check(work.day.supplies[k].name, work.day.supplies[k].port, kind->renegotiation_s, work.kit.supplies[k].place, -1,
            kind);
  }
  work.add(Rule::pd_outage, stops ? Severity::stops : Severity::costs, std::move(items));
}

void vehicle(Work& work) {
  std::vector<Item> items;
  bool stops = false;
  for (std::size_t k = 0; k < work.day.supplies.size(); ++k) {
    const day::Supply& supply = work.day.supplies[k];
    if (!supply.vehicle) continue;
    Item item{.place = work.kit.supplies[k].place, .what = supply.name};
    double dark_s = 0.0;
    double live_s = 0.0;
    for (const day::Period& period : work.day.periods) {
      const double span_s = std::max(0.0, std::min(period.until_s, work.day.off_s) - period.from_s);
      (period.supply_live[k] ? live_s : dark_s) += span_s;
    }
    double amps = supply.port >= 0 ? work.seen.most_out_amps(supply.port).value : 0.0;
    bool only = false;
    if (supply.port >= 0) {
      for (const int d : work.circuit.devices_behind(supply.port)) {
        if (!work.listed(d)) continue;
        item.names.push_back(device_name(work, d));
        only = only || (work.circuit.must_run(d) && work.circuit.sources(work.day.devices[at(d)].port).holders.empty());
      }
    }
    for (const kit::ChargerItem& charger : work.kit.chargers) {
      if (charger.supply != static_cast<int>(k)) continue;
      item.names.push_back(charger.name);
      for (const int h : charger.holders) {
        if (work.day.holders[at(h)].slots.empty()) continue;
        const day::Pack& pack = work.day.packs[at(work.day.holders[at(h)].slots.front().pack)];
        const double efficiency = charger.kind->efficiency > 0.0 ? charger.kind->efficiency : 1.0;
        amps += charger.amps_per_bay * pack.charge_v / (efficiency * supply.volts);
      }
    }
    item.figures = {{"live_s", live_s},
                    {"dark_s", dark_s},
                    {"amps_a", amps},
                    {"limit_a", supply.limit_a},
                    {"only", only ? 1.0 : 0.0}};
    item.entry = work.kit.supplies[k].kind;
    item.entry_key = "most_a";
    stops = stops || (only && dark_s > 0.0);
    items.push_back(std::move(item));
  }
  work.add(Rule::vehicle, stops ? Severity::stops : Severity::note, std::move(items));
}

void sleep(Work& work) {
  std::vector<Item> items;
  bool stops = false;
  bool asleep = false;
  const forecast::Trace& trace = work.forecast.run.trace;
  for (std::size_t h = 0; h < work.day.holders.size(); ++h) {
    const day::Holder& holder = work.day.holders[h];
    if (holder.charger_supply >= 0 || holder.slots.empty()) continue;
    const cell::Protection& guard = work.day.packs[at(holder.slots.front().pack)].params.protection;
    if (guard.low_load_a <= 0.0 || guard.low_load_s <= 0.0) continue;
    double slept_at_s = -1.0;
    for (const forecast::Event& event : work.forecast.run.events) {
      if (event.kind == forecast::EventKind::pack_off && event.why.cause == forecast::Cause::pack_asleep &&
          event.index == static_cast<int>(h) && event.at_s <= work.day.off_s && slept_at_s < 0.0)
        slept_at_s = event.at_s;
    }
    double least_a = 1e9;
    for (std::size_t row = 0; row < work.seen.rows(); ++row) {
      const double amps = work.seen.out_amps(holder.port, row);
      if (trace.holder_pack[h][row] < 0 || work.seen.at_s(row) < work.day.call_s || amps <= 0.0) continue;
      least_a = std::min(least_a, amps);
    }
    if (slept_at_s < 0.0 && !(least_a < kNearSleep * guard.low_load_a)) continue;
    Item item{.place = work.kit.holders[h].place, .what = holder.name};
    item.other = work.day.packs[at(holder.slots.front().pack)].params.label;
    item.holder = static_cast<int>(h);
    item.figures = {{"limit_a", guard.low_load_a}, {"after_s", guard.low_load_s}};
    if (least_a < 1e9) item.figures.push_back({"least_a", least_a});
    if (slept_at_s >= 0.0) item.figures.push_back({"slept_at_s", slept_at_s});
    for (const int d : work.circuit.devices_behind(holder.port)) {
      if (!work.listed(d)) continue;
      item.names.push_back(device_name(work, d));
      const bool alone = work.circuit.sources(work.day.devices[at(d)].port).holders.size() == 1;
      stops = stops || (slept_at_s >= 0.0 && alone && work.circuit.must_run(d));
    }
    item.entry = work.kit.packs[at(holder.slots.front().pack)].kind;
    item.entry_key = "regulator";
    asleep = asleep || slept_at_s >= 0.0;
    items.push_back(std::move(item));
  }
  work.add(Rule::bank_sleep, stops ? Severity::stops : asleep ? Severity::costs : Severity::note, std::move(items));
}

}  // namespace

void look_at_sources(Work& work) {
  over_volts(work);
  phantom(work);
  drain(work);
  back_feed(work);
  unequal(work);
  pd_outage(work);
  vehicle(work);
  sleep(work);
}

}  // namespace tillwrap::findings
