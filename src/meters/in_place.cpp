#include "meters/in_place.hpp"

#include <algorithm>

#include "forecast/simulator.hpp"

namespace tillwrap::meters {

namespace {

constexpr double kFirstMoment_s = 1.0;        // at the warmth of the day's moment, then the period's air
constexpr double kLongest_s = 96.0 * 3600.0;  // a device that runs for days is not followed further
constexpr double kDeep = 0.6;  // of the cut-off: followed down to here, to see where the pack itself ends

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int mapped(const std::vector<int>& whole, int index) {
  const auto found = std::find(whole.begin(), whole.end(), index);
  return found == whole.end() ? -1 : static_cast<int>(found - whole.begin());
}

}  // namespace

InPlace::InPlace(const PlannedDay& planned, const Feed& feed) {
  for (std::size_t part = 0; part < planned.whole.pieces().size(); ++part) {
    if (mapped(planned.whole.pieces()[part].devices, feed.device) < 0) continue;
    piece_ = planned.whole.pieces()[part];
    const std::vector<int> feeding = planned.whole.model(part).feeding[at(mapped(piece_.devices, feed.device))].holders;
    device_ = mapped(piece_.devices, feed.device);
    day::Scenario& day = piece_.day;
    for (day::Holder& holder : day.holders) {
      if (holder.slots.size() > 1) holder.slots.resize(1);
      if (holder.charger_supply >= 0) holder.slots.clear();
    }
    for (const int h : feeding) day.holders[at(h)].slots.clear();
    const int pack = mapped(piece_.packs, feed.pack);
    const auto put = [&](int whole_holder, bool first) {
      int own = pack;
      if (!first) {
        day.packs.push_back(day.packs[at(pack)]);
        piece_.packs.push_back(feed.pack);
        own = static_cast<int>(day.packs.size()) - 1;
      }
      day.packs[at(own)].start_charge = 1.0;
      const int h = mapped(piece_.holders, whole_holder);
      day.holders[at(h)].slots = {day::Slot{.pack = own, .at_s = 0.0}};
      holders_.push_back(h);
    };
    put(feed.holder, true);
    for (const int holder : feed.companions) put(holder, false);
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      const bool ours = std::find(holders_.begin(), holders_.end(), static_cast<int>(h)) != holders_.end();
      if (ours || day.holders[h].slots.empty()) continue;
      if (day.holders[h].slots.front().pack == pack)
        day.holders[h].slots.clear();
      else
        day.holders[h].slots.front() = {.pack = day.holders[h].slots.front().pack, .at_s = 0.0};
    }
    day::Period load = day.periods[at(feed.period)];
    load.from_s = kFirstMoment_s;
    load.until_s = kLongest_s;
    std::fill(load.supply_live.begin(), load.supply_live.end(), char{0});
    day::Period first = load;
    first.from_s = 0.0;
    first.until_s = kFirstMoment_s;
    first.air_k = feed.around_k;
    day.periods = {first, load};
    day.no_hands.clear();
    day.call_s = 0.0;
    day.wrap_s = day.off_s = kLongest_s;
    day.overrun_s = 0.0;
    for (day::Device& device : day.devices) device.need = day::Need::optional;
    day::Device& device = day.devices[at(device_)];
    device.need = day::Need::unbroken;
    device.hold_up_f = 0.0;
    if (feed.input >= 0) {
      day::DeviceInput& input = device.inputs[at(feed.input)];
      cutoff_v_ = input.cutoff_v;
      input.least_v = std::min(input.least_v, kDeep * cutoff_v_);
      input.cutoff_v = kDeep * cutoff_v_;
    } else {
      cutoff_v_ = device.cutoff_v;
    }
    device.cutoff_v = std::min(device.cutoff_v, kDeep * cutoff_v_);
    fresh_ = day;
    break;
  }
}

Discharge InPlace::run_as_is(double row_s) const {
  const day::Scenario& day = piece_.day;
  const forecast::Model model(day);
  forecast::ChangePlan plan;
  for (std::size_t h = 0; h < day.holders.size(); ++h) {
    for (const day::Slot& slot : day.holders[h].slots) {
      plan.push_back({.holder = static_cast<int>(h), .pack = slot.pack, .at_s = 0.0});
    }
  }
  const forecast::DayRun run = forecast::run_day(
      model, plan,
      {.search_until_s = kLongest_s, .trace = true, .longest_step_s = row_s, .tolerance = 1.0, .stop_at_loss = true});
  const double lost_s = std::min(run.first_loss.at_s, run.searched_until_s);
  const forecast::Trace& trace = run.trace;

  // Rows up to the one just before the device is switched off; with each the energy given so far.
  std::vector<double> at_s, volts, given_j, source_v;
  const auto source_w = [&](std::size_t row) {
    double watts = 0.0;
    for (const int h : holders_) watts += trace.holder_v[at(h)][row] * trace.holder_a[at(h)][row];
    return watts;
  };
  double sum_j = 0.0;
  for (std::size_t k = 0; k < trace.at_s.size(); ++k) {
    if (trace.at_s[k] < kFirstMoment_s) continue;
    if (!at_s.empty()) {
      const double step_s = trace.at_s[k] - at_s.back();
      if (step_s <= 0.0 && trace.at_s[k] >= lost_s - 1e-6) break;
      sum_j += 0.5 * (source_w(k) + source_w(k - 1)) * step_s;
    }
    if (trace.at_s[k] > lost_s + 1e-6) break;
    at_s.push_back(trace.at_s[k]);
    volts.push_back(trace.device_v[at(device_)][k]);
    source_v.push_back(trace.holder_v[at(holders_.front())][k]);
    given_j.push_back(sum_j);
  }
  Discharge out;
  if (at_s.size() < 2) return out;
  out.ended = run.first_loss.why.cause;
  const bool pack_ended = out.ended == forecast::Cause::pack_flat || out.ended == forecast::Cause::pack_temperature ||
                          out.ended == forecast::Cause::pack_tripped;
  if (pack_ended) out.trip_v = volts.back();

  // The device's own cut-off comes first when its volts fall below it for good before the end.
  Curve deep{.at_s = at_s, .volts = volts, .left = {}, .usable_j = given_j.back()};
  const double off_s = volts.back() < cutoff_v_ ? deep.falls_below_s(cutoff_v_) : at_s.back();
  Curve& curve = out.curve;
  double usable_j = 0.0;
  std::size_t rows = 0;
  while (rows < at_s.size() && at_s[rows] < off_s - 1e-9) ++rows;
  if (rows == at_s.size()) {
    usable_j = given_j.back();
  } else {
    const double span_s = rows > 0 ? at_s[rows] - at_s[rows - 1] : 0.0;
    const double part = span_s > 0.0 ? (off_s - at_s[rows - 1]) / span_s : 0.0;
    usable_j = rows > 0 ? given_j[rows - 1] + part * (given_j[rows] - given_j[rows - 1]) : 0.0;
  }
  if (rows < at_s.size()) {
    out.wasted_j = given_j.back() - usable_j;
    if (volts.back() < cutoff_v_) out.ended = forecast::Cause::low_volts;
    at_s.resize(rows);
    volts.resize(rows);
    given_j.resize(rows);
    source_v.resize(rows);
    at_s.push_back(off_s);
    volts.push_back(deep.volts_at(off_s));
    given_j.push_back(usable_j);
    source_v.push_back(source_v.empty() ? volts.back() : source_v.back());
  }
  curve.at_s = at_s;
  curve.volts = volts;
  curve.usable_j = usable_j;
  for (const double joules : given_j) curve.left.push_back(usable_j > 0.0 ? 1.0 - joules / usable_j : 0.0);
  const double length_s = at_s.back() - at_s.front();
  if (length_s > 0.0) {
    out.source_w = usable_j / length_s;
    for (std::size_t k = 1; k < at_s.size(); ++k) {
      out.drop_v +=
          0.5 * (source_v[k] - volts[k] + source_v[k - 1] - volts[k - 1]) * (at_s[k] - at_s[k - 1]) / length_s;
    }
  }
  // A cell driven round in a pack that has no protection of its own ends its use as well.
  for (const forecast::Event& event : run.events) {
    if (event.kind != forecast::EventKind::cell_reversed || out.trip_v > 0.0) continue;
    if (std::find(holders_.begin(), holders_.end(), event.index) == holders_.end()) continue;
    out.trip_v = deep.volts_at(event.at_s);
  }
  return out;
}

Discharge InPlace::run(double row_s) const { return run_as_is(row_s); }

Discharge InPlace::run(double row_s, const odds::Draw& draw, std::uint32_t day) {
  draw.apply(piece_, fresh_, draw.luck_of(day), piece_.day);
  Discharge out = run_as_is(row_s);
  piece_.day = fresh_;
  return out;
}

}  // namespace tillwrap::meters
