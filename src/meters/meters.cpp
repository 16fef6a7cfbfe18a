#include "meters/meters.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::meters {

namespace {

constexpr double kFine_s = 30.0;     // rows of the discharge as given
constexpr double kCoarse_s = 300.0;  // of drawn ones
constexpr double kWarn_s = 1800.0;   // common practice: half an hour, or a fifth of what is usable
constexpr double kWarnShare = 0.2;
constexpr double kStep_v = 0.1;                               // as one types it
constexpr double kDisplayHigh_v = 0.1, kDisplayLow_v = 0.05;  // step of the display, common practice
constexpr double kLowVolts_v = 4.5;
constexpr double kShortest_s = 300.0;  // less is no discharge
constexpr double kSimilar = 0.4;       // generic lists hold profiles whose full volts lie within this of the right one

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double rounded_up(double volts) { return std::floor(volts / kStep_v + 1.0 - 1e-6) * kStep_v; }

std::vector<Profile> candidates(const catalogue::Catalogue& catalogue, const kit::DeviceItem& item,
                                const day::Pack& pack, bool& known) {
  const UsualLoad load = usual_load(*item.kind);
  std::vector<Profile> list;
  for (const std::string& id : item.kind->meters) {
    if (const catalogue::MeterProfile* profile = catalogue.meter(id))
      list.push_back(on_device(catalogue, *profile, load));
  }
  known = !list.empty();
  if (!known) {
    const catalogue::MeterProfile right =
        generic(catalogue.meters, family_of(pack.params.cell.chemistry), pack.params.series);
    if (!right.id.empty()) list.push_back(on_device(catalogue, right, load));
    for (const catalogue::MeterProfile& other : catalogue.meters) {
      if (list.empty() || other.id == right.id) continue;
      Profile profile = on_device(catalogue, other, load);
      const double right_v = list.front().scale.full_v();
      if (std::fabs(profile.scale.full_v() - right_v) <= kSimilar * right_v) list.push_back(std::move(profile));
    }
  }
  const auto same = [&](const Profile& profile) { return profile.id == item.meter; };
  if (!item.meter.empty() && std::none_of(list.begin(), list.end(), same)) {
    if (const catalogue::MeterProfile* profile = catalogue.meter(item.meter))
      list.push_back(on_device(catalogue, *profile, load));
  }
  return list;
}

}  // namespace

VoltsToSet volts_to_set(const Discharge& discharge, const std::vector<double>& trips_v, double own_cutoff_v,
                        double reserve_s) {
  VoltsToSet out{.cutoff_v = rounded_up(own_cutoff_v), .own_cutoff_v = own_cutoff_v, .trip_v = discharge.trip_v};
  const Curve& curve = discharge.curve;
  if (curve.empty()) return out;
  const double half_s = 0.5 * curve.end_s();
  const double warn_s = std::max(half_s, std::min(curve.end_s() - kWarn_s, curve.time_when_left(kWarnShare)));
  out.warn_left = curve.left_at(warn_s);
  out.warn_left_s = curve.end_s() - warn_s;
  out.warn_v = rounded_up(curve.volts_at(warn_s));
  const double change_s = std::max(half_s, std::min(curve.end_s() - reserve_s, curve.time_when_left(kNearEnd)));
  out.change_v = std::min(out.warn_v, rounded_up(curve.volts_at(change_s)));
  // Where the device goes off before the pack there is nothing to guard against.
  const double trip_v = std::max(discharge.trip_v, quantile(trips_v, 0.9));
  if (trip_v > own_cutoff_v) {
    const double above_v = rounded_up(trip_v + 1e-3);
    // Not when that gives away more than a profile may.
    if (curve.left_at(curve.falls_below_s(above_v)) <= kNearEnd) {
      out.cutoff_v = std::max(out.cutoff_v, above_v);
      out.guards = true;
    }
  }
  return out;
}

Answer meters(const day::Scenario& scenario, const kit::Inventory& inventory, const catalogue::Catalogue& catalogue,
              const Options& options) {
  Answer answer;
  const PlannedDay planned(scenario);
  const odds::Draw draw(scenario, options.spread, options.seed);
  for (Feed& feed : feeds(scenario, inventory, planned)) {
    const kit::DeviceItem& item = inventory.devices[at(feed.device)];
    if (item.kind == nullptr) continue;
    const bool has_meter = !item.kind->meters.empty() || !item.meter.empty();
    if (options.device >= 0 ? feed.device != options.device : !has_meter) continue;
    DeviceMeter meter;
    InPlace place(planned, feed);
    meter.discharge = place.run(kFine_s);
    meter.set = item.meter;
    meter.feed = std::move(feed);
    meter.display_v = place.cutoff_v() < kLowVolts_v ? kDisplayLow_v : kDisplayHigh_v;
    meter.volts.own_cutoff_v = meter.volts.cutoff_v = place.cutoff_v();
    const Curve& curve = meter.discharge.curve;
    if (curve.end_s() >= kShortest_s) {
      std::vector<Curve> drawn;
      std::vector<double> trips, ends;
      for (std::uint32_t day = 0; day < options.days; ++day) {
        Discharge one = place.run(std::max(kCoarse_s, curve.end_s() / 200.0), draw, day);
        if (one.trip_v > 0.0) trips.push_back(one.trip_v);
        ends.push_back(one.curve.end_s());
        drawn.push_back(std::move(one.curve));
      }
      std::sort(trips.begin(), trips.end());
      std::sort(ends.begin(), ends.end());
      meter.low_end_s = std::min(curve.end_s(), quantile(ends, 0.1));
      meter.high_end_s = std::max(curve.end_s(), quantile(ends, 0.9));
      meter.volts = volts_to_set(meter.discharge, trips, place.cutoff_v(), scenario.reserve_s);
      meter.guidance = guidance(curve, drawn, meter.display_v, meter.volts.warn_left);
      meter.volts.warns = meter.guidance.guide != Guide::clock;
      meter.flat = curve.volts_at(kJustIn_s) - curve.volts_at(curve.time_when_left(kNearEnd)) < meter.display_v;
      for (const Profile& profile :
           candidates(catalogue, item, scenario.packs[at(meter.feed.pack)], meter.list_known)) {
        meter.profiles.push_back(judge(profile, curve, scenario.reserve_s));
      }
      const cell::PackParams& params = scenario.packs[at(meter.feed.pack)].params;
      meter.own_index = rank(meter.profiles, family_of(params.cell.chemistry), params.series);
      for (std::size_t k = 0; k < meter.profiles.size(); ++k) {
        if (meter.profiles[k].profile.id == meter.set) meter.set_index = static_cast<int>(k);
      }
    }
    answer.meters.push_back(std::move(meter));
  }
  std::vector<const Feed*> main;
  for (const DeviceMeter& meter : answer.meters) {
    const auto same =
        std::find_if(main.begin(), main.end(), [&](const Feed* feed) { return feed->device == meter.feed.device; });
    if (same == main.end()) {
      main.push_back(&meter.feed);
    } else if (meter.feed.delivered_j > (*same)->delivered_j) {
      *same = &meter.feed;
    }
  }
  answer.readings = expected_readings(scenario, planned, main, options.spread, options.days, options.seed);
  // Where volts tell less than the clock they are no reason to change.
  for (std::size_t k = 0; k < main.size(); ++k) {
    const auto meter = std::find_if(answer.meters.begin(), answer.meters.end(),
                                    [&](const DeviceMeter& one) { return &one.feed == main[k]; });
    if (meter->guidance.guide == Guide::volts) continue;
    const Curve& curve = meter->discharge.curve;
    const bool ever = meter->guidance.guide == Guide::clock_then_volts;
    const double below_v = ever ? curve.volts_at(curve.time_when_left(meter->guidance.volts_below)) : 0.0;
    for (Reading& row : answer.readings[k].rows) {
      if (row.volts.expected > below_v) row.early_v.reset();
    }
  }
  return answer;
}

}  // namespace tillwrap::meters
