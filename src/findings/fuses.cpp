// Fuses against their load, their wire, the warmth around them and the rush of charging capacitors.
#include <algorithm>
#include <cmath>

#include "findings/rules.hpp"

namespace tillwrap::findings {

namespace {

bool opened(const Work& work, int lead, forecast::EventKind kind, double* at_s) {
  for (const forecast::Event& event : work.forecast.run.events) {
    if (event.kind != kind || event.index != lead || event.at_s > work.day.off_s) continue;
    *at_s = event.at_s;
    return true;
  }
  return false;
}

bool feeds_must_run(const Work& work, int lead) {
  const std::vector<int> behind = work.circuit.devices_behind(work.day.leads[at(lead)].to);
  return std::any_of(behind.begin(), behind.end(), [&](int d) { return work.circuit.must_run(d); });
}

// Least rating on sale that may carry `amps` for hours; 0: none.
double next_rating(const catalogue::FuseKind* kind, double amps, double long_ratio) {
  if (kind == nullptr) return 0.0;
  for (const double rating : kind->ratings_a) {
    if (rating * long_ratio >= amps) return rating;
  }
  return 0.0;
}

void against_load(Work& work) {
  std::vector<Item> items;
  std::vector<Item> warm;
  bool stops = false;
  bool warm_stops = false;
  bool warm_trips = false;
  for (std::size_t k = 0; k < work.day.leads.size(); ++k) {
    const int lead = static_cast<int>(k);
    if (!work.day.leads[k].fuse) continue;
    const day::Fuse& fuse = *work.day.leads[k].fuse;
    const Seen::Peak peak = work.seen.most_amps(lead);
    if (peak.value <= 0.0) continue;
    const catalogue::FuseKind* kind = work.fuse_kind(lead);
    Item item = work.item_of_lead(lead);
    // The mark belongs on the cable behind the output.
    for (std::size_t w = 0; w < work.kit.wires.size() && item.wire < 0; ++w) {
      if (work.day.leads[at(work.kit.wires[w].lead)].from == work.day.leads[k].to) item.wire = static_cast<int>(w);
    }
    item.entry = kind;
    item.entry_key = "points";
    item.other = fuse.law.standard;
    double open_at_s = 0.0;
    if (fuse.law.resettable) {
      double worst = 0.0;
      std::size_t worst_row = 0;
      const int place = work.day.leads[k].place;
      for (std::size_t row = 0; row < work.seen.rows(); ++row) {
        const double hold_a = wiring::hold_current_a(fuse.law, fuse.rated_a, work.seen.place_k(place, row));
        const double ratio = hold_a > 0.0 ? std::fabs(work.seen.amps(lead, row)) / hold_a : 0.0;
        if (ratio <= worst) continue;
        worst = ratio;
        worst_row = row;
      }
      const bool tripped = opened(work, lead, forecast::EventKind::protector_open, &open_at_s);
      if (worst < kNear && !tripped) continue;
      item.entry_key = "derating";
      const double k_there = work.seen.place_k(place, worst_row);
      item.figures = {{"amps_a", std::fabs(work.seen.amps(lead, worst_row))},
                      {"rated_a", fuse.rated_a},
                      {"hold_a", wiring::hold_current_a(fuse.law, fuse.rated_a, k_there)},
                      {"temperature_k", k_there},
                      {"at_s", work.seen.at_s(worst_row)},
                      {"ratio", worst}};
      if (tripped) item.figures.push_back({"opened_at_s", open_at_s});
      warm_trips = warm_trips || worst >= 1.0 || tripped;
      warm_stops = warm_stops || ((worst >= 1.0 || tripped) && feeds_must_run(work, lead));
      warm.push_back(std::move(item));
      continue;
    }
    const double sustained_a = work.seen.sustained_amps(lead);
    const bool blown = opened(work, lead, forecast::EventKind::fuse_open, &open_at_s);
    if (sustained_a <= fuse.law.long_load_ratio * fuse.rated_a && !blown) continue;
    item.entry_key = "long_fraction";
    item.figures = {{"amps_a", sustained_a},
                    {"peak_a", peak.value},
                    {"rated_a", fuse.rated_a},
                    {"share", sustained_a / fuse.rated_a},
                    {"allowed", fuse.law.long_load_ratio}};
    if (const double next_a = next_rating(kind, sustained_a, fuse.law.long_load_ratio); next_a > 0.0)
      item.figures.push_back({"next_a", next_a});
    const double opens_s = wiring::seconds_to_open(fuse.law, peak.value / fuse.rated_a);
    if (std::isfinite(opens_s)) item.figures.push_back({"opens_s", opens_s});
    if (blown) item.figures.push_back({"opened_at_s", open_at_s});
    double least_ampacity = 0.0;  // of the cables it has to save
    for (const kit::WireItem& wire : work.kit.wires) {
      const double ampacity = work.day.leads[at(wire.lead)].ampacity_a;
      if (ampacity > 0.0 && work.guard(wire.lead) == lead && (least_ampacity == 0.0 || ampacity < least_ampacity))
        least_ampacity = ampacity;
    }
    if (least_ampacity > 0.0) item.figures.push_back({"ampacity_a", least_ampacity});
    stops = stops || ((blown || std::isfinite(opens_s)) && feeds_must_run(work, lead));
    items.push_back(std::move(item));
  }
  work.add(Rule::fuse_load, stops ? Severity::stops : Severity::costs, std::move(items));
  work.add(Rule::pptc_warm,
           warm_stops   ? Severity::stops
           : warm_trips ? Severity::costs
                        : Severity::note,
           std::move(warm));
}

// Most a source can push into a short, A: a pack's own protection, or volts over its resistance.
double short_a(const Work& work, const Feed& feed, bool* protected_pack) {
  *protected_pack = false;
  if (feed.kind == Feed::Kind::supply) return work.day.supplies[at(feed.index)].limit_a;
  if (feed.kind == Feed::Kind::regulator) return work.day.regulators[at(feed.index)].law.limit_a;
  double most_a = 0.0;
  bool all = true;
  for (const day::Slot& slot : work.day.holders[at(feed.index)].slots) {
    const day::Pack& pack = work.day.packs[at(slot.pack)];
    const double limit_a = pack.regulator ? pack.regulator->limit_a : pack.params.protection.over_current_a;
    all = all && limit_a > 0.0;
    const double ohm = pulse_ohm(pack) + work.day.holders[at(feed.index)].contact_ohm;
    most_a = std::max(most_a, limit_a > 0.0 ? limit_a : work.full_v(feed) / ohm);
  }
  *protected_pack = all && most_a > 0.0;
  return most_a;
}

void against_wire(Work& work) {
  std::vector<Item> above;
  std::vector<Item> slow;
  std::vector<Item> missing;
  bool missing_harms = false;
  for (const kit::WireItem& wire : work.kit.wires) {
    const day::Lead& lead = work.day.leads[at(wire.lead)];
    Item item = work.item_of_lead(wire.lead);
    const int guard = work.guard(wire.lead);
    // The pack end of a lead: what sits between the source and it.
    const std::vector<Feed> feeds = work.circuit.feeds(lead.from);
    if (guard >= 0 && lead.ampacity_a > 0.0) {
      const day::Fuse& fuse = *work.day.leads[at(guard)].fuse;
      item.other = fuse.law.standard;
      item.entry = work.fuse_kind(guard);
      item.entry_key = "points";
      const double ratio = hour_ratio(fuse.law);
      item.figures = {{"rated_a", fuse.rated_a},
                      {"ampacity_a", lead.ampacity_a},
                      {"opens_a", ratio * fuse.rated_a},
                      {"opens_ratio", ratio},
                      {"area_mm2", wire.area_mm2}};
      if (fuse.rated_a > lead.ampacity_a) {
        above.push_back(item);
      } else if (ratio * fuse.rated_a > kOperatesBelow * kAmpacityDoubt * lead.ampacity_a) {
        slow.push_back(item);
      }
      continue;
    }
    if (guard >= 0) continue;
    double limit_a = 0.0;
    bool held = true;
    std::string name;
    for (const Feed& feed : feeds) {
      // A fuse in the holder sits at the battery end.
      if (feed.kind == Feed::Kind::holder && work.kit.holders[at(feed.index)].kind != nullptr &&
          work.kit.holders[at(feed.index)].kind->fuse_a > 0.0) {
        const double rated_a = work.kit.holders[at(feed.index)].kind->fuse_a;
        if (lead.ampacity_a <= 0.0 || rated_a <= lead.ampacity_a) continue;
        Item fused = work.item_of_lead(wire.lead);
        fused.figures = {{"rated_a", rated_a}, {"ampacity_a", lead.ampacity_a}, {"area_mm2", wire.area_mm2}};
        fused.entry = work.kit.holders[at(feed.index)].kind;
        fused.entry_key = "fuse_a";
        above.push_back(std::move(fused));
        continue;
      }
      bool protects = false;
      const double a = short_a(work, feed, &protects);
      if (a > limit_a) {
        limit_a = a;
        name = work.name_of_feed(feed);
      }
      held = held && (protects || feed.kind != Feed::Kind::holder);
    }
    // A lead that takes all its source can push needs no fuse.
    const double ampacity_a = lead.ampacity_a;
    if (limit_a <= 0.0 || (ampacity_a > 0.0 && limit_a <= kOperatesBelow * ampacity_a)) continue;
    if (ampacity_a <= 0.0 && held) continue;  // the pack's own lead, the pack's own protection
    item.other = name;
    item.figures = {{"short_a", limit_a}};
    if (ampacity_a > 0.0) item.figures.push_back({"ampacity_a", ampacity_a});
    item.figures.push_back({"protected", held ? 1.0 : 0.0});
    missing_harms = true;
    missing.push_back(std::move(item));
  }
  // A box without a main fuse: its board and its input leads hang on the pack alone.
  for (std::size_t b = 0; b < work.kit.boxes.size(); ++b) {
    const kit::BoxItem& box = work.kit.boxes[b];
    if (box.main_fuse_a > 0.0) continue;
    const std::string& name = work.day.devices[at(box.device)].name;
    double limit_a = 0.0;
    bool held = true;
    for (const Feed& feed : work.circuit.feeds(work.day.devices[at(box.device)].port)) {
      bool protects = false;
      limit_a = std::max(limit_a, short_a(work, feed, &protects));
      held = held && protects;
    }
    missing_harms = missing_harms || !held;
    missing.push_back({.place = box.place,
                       .what = name,
                       .other = name,
                       .figures = {{"short_a", limit_a}, {"protected", held ? 1.0 : 0.0}, {"main", 1.0}},
                       .box = static_cast<int>(b),
                       .entry = box.kind,
                       .entry_key = "main_fuse_a"});
  }
  work.add(Rule::fuse_wire, Severity::harms, std::move(above));
  work.add(Rule::fuse_slow, Severity::note, std::move(slow));
  work.add(Rule::fuse_missing, missing_harms ? Severity::harms : Severity::note, std::move(missing));
}

// Melting I²t a fuse is sure to stand, A²s: least of ratio² holds_s over its short points, else a usual figure; 0 for a
// resettable one, which is far too slow to notice.
double stands_a2s(const catalogue::FuseKind* kind, double rated_a) {
  if (kind == nullptr || kind->resets) return 0.0;
  double least = 0.0;
  for (const catalogue::FusePoint& point : kind->points) {
    if (!(point.holds_s > 0.0 && point.holds_s < 1.0)) continue;
    const double seconds = point.ratio * point.ratio * point.holds_s;
    if (least == 0.0 || seconds < least) least = seconds;
  }
  return (least > 0.0 ? least : kMeltingSeconds) * rated_a * rated_a;
}

void inrush(Work& work) {
  std::vector<Item> items;
  bool stops = false;
  for (std::size_t k = 0; k < work.day.leads.size(); ++k) {
    const int lead = static_cast<int>(k);
    if (!work.day.leads[k].fuse) continue;
    const day::Fuse& fuse = *work.day.leads[k].fuse;
    const catalogue::FuseKind* kind = work.fuse_kind(lead);
    const double stands = stands_a2s(kind, fuse.rated_a);
    if (stands <= 0.0) continue;
    // All capacitors behind it charge at once when the pack goes in; their lines are in parallel.
    double farad = 0.0;
    double siemens = 0.0;
    std::vector<std::string> names;
    for (const int d : work.circuit.devices_behind(work.day.leads[k].to)) {
      const catalogue::DeviceKind* device = work.kit.devices[at(d)].kind;
      if (device == nullptr || device->inrush_f <= 0.0) continue;
      for (const Feed& feed : work.circuit.feeds(work.day.devices[at(d)].port)) {
        const auto here = std::find(feed.leads.begin(), feed.leads.end(), lead);
        if (here == feed.leads.end() || feed.kind == Feed::Kind::regulator) continue;
        double ohm = kCapacitorOhm;
        for (auto step = feed.leads.begin(); step != here; ++step) {
          const day::Lead& l = work.day.leads[at(*step)];
          ohm += l.cable_ohm + l.contact_ohm + (l.fuse ? l.fuse->ohm : 0.0);
        }
        farad += device->inrush_f;
        siemens += 1.0 / ohm;
        names.push_back(work.day.devices[at(d)].name);
        break;
      }
    }
    if (farad <= 0.0) continue;
    double volts = 0.0;
    double source_ohm = 1e9;
    double limit_a = 0.0;
    double limit_s = 0.0;
    for (const Feed& feed : work.circuit.feeds(work.day.leads[k].from)) {
      if (feed.kind != Feed::Kind::holder || work.day.holders[at(feed.index)].slots.empty()) continue;
      const day::Holder& holder = work.day.holders[at(feed.index)];
      const day::Pack& pack = work.day.packs[at(holder.slots.front().pack)];
      if (pack.regulator) continue;  // starts softly
      double ohm = pulse_ohm(pack) + holder.contact_ohm;
      for (const int step : feed.leads)
        ohm += work.day.leads[at(step)].cable_ohm + work.day.leads[at(step)].contact_ohm;
      volts = std::max(volts, work.full_v(feed));
      source_ohm = std::min(source_ohm, ohm);
      limit_a = pack.params.protection.over_current_a;
      limit_s = pack.params.protection.over_current_s;
    }
    if (volts <= 0.0) continue;
    const double ohm =
        source_ohm + fuse.ohm + work.day.leads[k].cable_ohm + work.day.leads[k].contact_ohm + 1.0 / siemens;
    const double a2s = inrush_a2s(farad, volts, ohm);
    const double above_s = limit_a > 0.0 ? inrush_above_s(farad, volts, ohm, limit_a) : 0.0;
    const bool trips = limit_a > 0.0 && above_s >= limit_s;
    if (a2s <= stands && !trips) continue;
    Item item = work.item_of_lead(lead);
    item.names = std::move(names);
    item.other = fuse.law.standard;
    item.figures = {{"a2s", a2s}, {"stands_a2s", stands},  {"farad", farad},          {"volts_v", volts},
                    {"ohm", ohm}, {"peak_a", volts / ohm}, {"rated_a", fuse.rated_a}, {"above_s", above_s}};
    if (trips) item.figures.push_back({"protection_s", limit_s});
    item.entry = kind;
    item.entry_key = "points";
    stops = stops || feeds_must_run(work, lead);
    items.push_back(std::move(item));
  }
  work.add(Rule::inrush, stops ? Severity::stops : Severity::costs, std::move(items));
}

}  // namespace

void look_at_fuses(Work& work) {
  against_load(work);
  against_wire(work);
  inrush(work);
}

}  // namespace tillwrap::findings
