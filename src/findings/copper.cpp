// Volts lost on the way, amps against ratings, and how far constant power is from collapse.
#include <algorithm>
#include <cmath>

#include "findings/rules.hpp"
#include "quantity/order.hpp"

namespace tillwrap::findings {

namespace {

// The feed that carries a device at a row: the one whose nearest lead (or own current) flows.
struct PathDrop {
  double drop_v = 0.0, cable_v = 0.0, contact_v = 0.0, fuse_v = 0.0;
};

PathDrop drop_along(const Work& work, const Feed& feed, std::size_t row) {
  PathDrop sum;
  for (const int k : feed.leads) {
    const day::Lead& lead = work.day.leads[at(k)];
    const double amps = work.seen.amps(k, row);
    if (amps <= 0.0) return {};  // not the way the current takes
    const double fuse = lead.fuse ? lead.fuse->ohm : 0.0;
    sum.cable_v += amps * (work.seen.lead_ohm(k, row) - lead.contact_ohm - fuse);
    sum.contact_v += amps * lead.contact_ohm + (lead.one_way ? lead.drop_v : 0.0);
    sum.fuse_v += amps * fuse;
  }
  if (feed.kind == Feed::Kind::holder) {
    const day::Holder& holder = work.day.holders[at(feed.index)];
    const int pack = work.forecast.run.trace.holder_pack[at(feed.index)][row];
    const bool bank = pack >= 0 && work.day.packs[at(pack)].regulator.has_value();
    if (!bank)
      sum.contact_v += std::max(0.0, work.forecast.run.trace.holder_a[at(feed.index)][row]) * holder.contact_ohm;
  }
  sum.drop_v = sum.cable_v + sum.contact_v + sum.fuse_v;
  return sum;
}

void drops(Work& work) {
  std::vector<Item> notes;
  std::vector<Item> costs;
  for (std::size_t d = 0; d < work.day.devices.size(); ++d) {
    const int device = static_cast<int>(d);
    if (!work.listed(device)) continue;
    PathDrop worst;
    double worst_share = 0.0;
    double nominal_v = 0.0;
    std::size_t worst_row = 0;
    const Feed* by = nullptr;
    const std::vector<Feed> feeds = work.circuit.feeds(work.day.devices[d].port);
    for (const Feed& feed : feeds) {
      const double nominal = work.nominal_v(feed);
      if (feed.leads.empty() || nominal <= 0.0) continue;
      for (std::size_t row = 0; row < work.seen.rows(); ++row) {
        const PathDrop now = drop_along(work, feed, row);
        if (now.drop_v / nominal <= worst_share) continue;
        worst_share = now.drop_v / nominal;
        worst = now;
        nominal_v = nominal;
        worst_row = row;
        by = &feed;
      }
    }
    if (by == nullptr || worst_share < kDropNote) continue;
    // The lead that loses most names the remedy.
    int lead = by->leads.front();
    for (const int k : by->leads) {
      if (work.seen.amps(k, worst_row) * work.seen.lead_ohm(k, worst_row) >
          work.seen.amps(lead, worst_row) * work.seen.lead_ohm(lead, worst_row))
        lead = k;
    }
    Item item = work.item_of_lead(lead);
    item.device = device;
    item.other = item.what;
    item.what = work.day.devices[d].name;
    const day::Lead& worst_lead = work.day.leads[at(lead)];
    item.figures = {{"drop_v", worst.drop_v},
                    {"share", worst_share},
                    {"nominal_v", nominal_v},
                    {"cable_v", worst.cable_v},
                    {"contact_v", worst.contact_v},
                    {"fuse_v", worst.fuse_v},
                    {"at_s", work.seen.at_s(worst_row)},
                    {"device_v", work.forecast.run.trace.device_v[d][worst_row]},
                    {"lead_a", work.seen.amps(lead, worst_row)},
                    {"lead_ohm", work.seen.lead_ohm(lead, worst_row)},
                    {"cable_ohm", worst_lead.cable_ohm},
                    {"contact_ohm", worst_lead.contact_ohm},
                    {"temperature_k", work.seen.place_k(worst_lead.place, worst_row)}};
    if (const kit::WireItem* wire = work.wire_of(lead); wire != nullptr && wire->length_m > 0.0) {
      item.figures.push_back({"length_m", wire->length_m});
      item.figures.push_back({"area_mm2", wire->area_mm2});
    }
    const bool warn = worst_share >= kDropMost || (worst_share >= kDropWarn && work.circuit.must_run(device));
    (warn ? costs : notes).push_back(std::move(item));
  }
  // One finding, the worst first; small ones only where there are no others.
  const bool warn = !costs.empty();
  std::vector<Item>& items = warn ? costs : notes;
  sort_stably(items, [](const Item& a, const Item& b) { return a["share"] > b["share"]; });
  work.add(Rule::drop, warn ? Severity::costs : Severity::note, std::move(items));
}

// What everything that hangs on one source alone asks of it, period by period: a source that cannot give it folds back,
// the devices go dark, and the run then shows no current at all.
Seen::Peak demand(const Work& work, int port, double volts) {
  Seen::Peak most;
  for (const day::Period& period : work.day.periods) {
    if (period.until_s <= work.day.call_s || period.from_s >= work.day.off_s) continue;
    double amps = 0.0;
    for (const int d : work.circuit.devices_behind(port)) {
      const day::Device& device = work.day.devices[at(d)];
      const Circuit::Sources sources = work.circuit.sources(device.port);
      if (sources.holders.size() + sources.supplies.size() > 1) continue;
      const day::Mode& mode = device.modes[at(period.mode[at(d)])];
      if (mode.off) continue;
      const double watts = mode.power_w > 0.0 ? mode.power_w / device.efficiency + device.idle_w : 0.0;
      amps += (watts / volts + mode.current_a + mode.siemens * volts) * device.scale;
    }
    if (amps > most.value) most = {amps, std::max(period.from_s, work.day.call_s), 0};
  }
  return most;
}

void loads(Work& work) {
  struct Hit {
    Item item;
    double ratio;
    Severity severity;
  };
  std::vector<Hit> hits;
  const auto check = [&](Item item, double amps, double limit_a, double at_s, Severity severity,
                         const catalogue::Entry* entry, std::string_view key, double reached) {
    if (limit_a <= 0.0 || limit_a > 1e6 || amps <= 0.0) return;
    const double ratio = amps / limit_a;
    if (ratio < kNear) return;
    item.figures = {{"amps_a", amps}, {"limit_a", limit_a}, {"ratio", ratio}, {"at_s", at_s}};
    item.entry = entry;
    item.entry_key = key;
    hits.push_back({std::move(item), ratio >= reached ? std::max(ratio, 1.0) : ratio, severity});
  };
  for (std::size_t w = 0; w < work.kit.wires.size(); ++w) {
    const kit::WireItem& wire = work.kit.wires[w];
    const Seen::Peak peak = work.seen.most_amps(wire.lead);
    const catalogue::ConnectorKind* from = work.known.connector(wire.from_plug);
    const catalogue::ConnectorKind* to = work.known.connector(wire.to_plug);
    const catalogue::ConnectorKind* weak = from;
    if (to != nullptr && to->rating_a > 0.0 &&
        (weak == nullptr || weak->rating_a <= 0.0 || to->rating_a < weak->rating_a))
      weak = to;
    Item item = work.item_of_lead(wire.lead);
    item.other = "plug";
    if (weak != nullptr) {
      item.names = {weak->title};
      check(item, peak.value, weak->rating_a, peak.at_s, Severity::harms, weak, "rating_a", 1.0001);
    }
    item.other = "wire";
    item.names.clear();
    check(item, peak.value, work.day.leads[at(wire.lead)].ampacity_a, peak.at_s, Severity::harms, nullptr, "ampacity_a",
          1.0001);
  }
  for (std::size_t k = 0; k < work.day.regulators.size(); ++k) {
    const day::Regulator& regulator = work.day.regulators[k];
    const Seen::Peak seen = work.seen.most_out_amps(regulator.out_port);
    const Seen::Peak asked = demand(work, regulator.out_port, regulator.law.set_v);
    const Seen::Peak& peak = asked.value > seen.value ? asked : seen;
    Item item{.what = regulator.name, .other = "regulated output"};
    const catalogue::BoxKind* kind = nullptr;
    for (std::size_t b = 0; b < work.kit.boxes.size(); ++b) {
      for (const kit::OutputItem& output : work.kit.boxes[b].outputs) {
        if (output.name != regulator.name) continue;
        item.box = static_cast<int>(b);
        item.place = work.kit.boxes[b].place;
        kind = work.kit.boxes[b].kind;
      }
    }
    // Folded back, it gives its limit and no more.
    check(item, peak.value, regulator.law.limit_a, peak.at_s, Severity::stops, kind, "output", 0.999);
  }
  for (std::size_t k = 0; k < work.day.supplies.size(); ++k) {
    const day::Supply& supply = work.day.supplies[k];
    if (supply.port < 0) continue;
    const Seen::Peak seen = work.seen.most_out_amps(supply.port);
    const Seen::Peak asked = demand(work, supply.port, supply.volts);
    const Seen::Peak& peak = asked.value > seen.value ? asked : seen;
    check({.place = work.kit.supplies[k].place, .what = supply.name, .other = "source"}, peak.value, supply.limit_a,
          peak.at_s, Severity::stops, work.kit.supplies[k].kind, "most_a", 0.999);
  }
  for (std::size_t h = 0; h < work.day.holders.size(); ++h) {
    const day::Holder& holder = work.day.holders[h];
    if (holder.charger_supply >= 0 || holder.slots.empty()) continue;
    const Seen::Peak peak = work.seen.most_holder_amps(static_cast<int>(h));
    Item item{.place = work.kit.holders[h].place, .what = holder.name, .holder = static_cast<int>(h)};
    item.other = "holder";
    if (work.kit.holders[h].kind != nullptr)
      check(item, peak.value, work.kit.holders[h].kind->rating_a, peak.at_s, Severity::harms, work.kit.holders[h].kind,
            "rating_a", 1.0001);
    const day::Pack& pack = work.day.packs[at(holder.slots.front().pack)];
    const catalogue::PackKind* kind = work.kit.packs[at(holder.slots.front().pack)].kind;
    item.names = {pack.params.label};
    if (pack.regulator) {
      item.other = "bank";
      const Seen::Peak seen = work.seen.most_out_amps(holder.port);
      const Seen::Peak asked = demand(work, holder.port, pack.regulator->set_v);
      const Seen::Peak& out = asked.value > seen.value ? asked : seen;
      check(item, out.value, pack.regulator->limit_a, out.at_s, Severity::stops, kind, "regulator", 0.999);
    }
    item.other = "pack";
    check(item, peak.value, pack.params.protection.over_current_a, peak.at_s, Severity::stops, kind, "protection",
          0.9999);
  }
  std::vector<Item> over;
  std::vector<Item> near;
  Severity severity = Severity::note;
  for (Hit& hit : hits) {
    if (hit.ratio >= 1.0) severity = std::min(severity, hit.severity);
    (hit.ratio >= 1.0 ? over : near).push_back(std::move(hit.item));
  }
  work.add(Rule::overload, severity, std::move(over));
  work.add(Rule::near_limit, Severity::note, std::move(near));
}

// A constant-power load on V behind R settles at v with v/V = r = (1 + sqrt(1 - x))/2, x = P / (V²/4R): so x = 4 r (1 -
// r) tells from the volts alone how much of what the line can give is asked of it. V is the pack's rested volts, so
// that everything the cells lose counts as R. Nearly empty packs always end so and are left out.
void collapse(Work& work) {
  constexpr double kLeastCharge = 0.2;
  std::vector<Item> items;
  bool stops = false;
  const forecast::Trace& trace = work.forecast.run.trace;
  for (std::size_t d = 0; d < work.day.devices.size(); ++d) {
    const int device = static_cast<int>(d);
    if (!work.listed(device)) continue;
    double worst = 0.0;
    Item item;
    for (const Feed& feed : work.circuit.feeds(work.day.devices[d].port)) {
      if (feed.kind != Feed::Kind::holder) continue;
      for (std::size_t row = 0; row < work.seen.rows(); ++row) {
        const int pack = trace.holder_pack[at(feed.index)][row];
        if (pack < 0 || trace.holder_charge[at(feed.index)][row] < kLeastCharge) continue;
        if (trace.holder_a[at(feed.index)][row] < 0.02) continue;
        if (!feed.leads.empty() && work.seen.amps(feed.leads.front(), row) <= 0.0) continue;
        const day::Pack& p = work.day.packs[at(pack)];
        const double device_v = trace.device_v[d][row];
        if (p.regulator || device_v <= 0.0) continue;
        int mode = 0;
        for (const day::Period& period : work.day.periods) {
          if (period.from_s <= work.seen.at_s(row)) mode = period.mode[d];
        }
        if (work.day.devices[d].modes[at(mode)].power_w <= 0.0) continue;
        const double open_v = p.params.series * p.params.cell.ocv.value(trace.holder_charge[at(feed.index)][row]);
        const double r = std::clamp(device_v / open_v, 0.5, 1.0);
        const double x = 4.0 * r * (1.0 - r);
        if (x <= worst) continue;
        worst = x;
        item = {.place = work.kit.devices[d].place,
                .what = work.day.devices[d].name,
                .other = p.params.label,
                .figures = {{"ratio", x},
                            {"open_v", open_v},
                            {"device_v", device_v},
                            {"at_s", work.seen.at_s(row)},
                            {"charge", trace.holder_charge[at(feed.index)][row]},
                            {"temperature_k", trace.holder_k[at(feed.index)][row]}},
                .device = device};
      }
    }
    // It goes down on volts while the pack holds plenty.
    for (const forecast::Event& event : work.forecast.run.events) {
      const bool down = event.kind == forecast::EventKind::device_down && event.index == device;
      if (!down || event.at_s < work.day.call_s || event.at_s > work.day.off_s) continue;
      const bool collapsed = event.why.cause == forecast::Cause::collapse;
      const bool sagged =
          (event.why.cause == forecast::Cause::low_volts || event.why.cause == forecast::Cause::pack_flat) &&
          event.why.charge >= kLeastCharge && worst >= kCollapseNote;
      if (!collapsed && !sagged) continue;
      item.place = work.kit.devices[d].place;
      item.what = work.day.devices[d].name;
      item.device = device;
      item.figures.push_back({"down_at_s", event.at_s});
      stops = stops || work.circuit.must_run(device);
      worst = 1.0;
      break;
    }
    if (worst >= kCollapseNote) items.push_back(std::move(item));
  }
  work.add(Rule::collapse, stops ? Severity::stops : Severity::costs, std::move(items));
}

}  // namespace

void look_at_copper(Work& work) {
  drops(work);
  loads(work);
  collapse(work);
}

}  // namespace tillwrap::findings
