#include "door/strip_data.hpp"

#include <algorithm>
#include <cmath>

#include "app/words.hpp"

namespace tillwrap::door {

namespace {

using app::Json;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr double kLeastStep_s = 60.0;  // a drawn day is some 800 points tall: a minute is one point
// A third of a point: of the widest wedge, 150 points, and of the volts, 110 points over 4 V or more.
constexpr double kWedgeTolerance = 0.002;
constexpr double kVoltsTolerance_v = 0.015;

// Points of a curve, in order of time; those that lie within `tolerance` of a straight line between others are left
// out. From the last one kept every later one opens a door of directions that pass it closely enough; the one before
// the first that is not seen through all doors is kept.
class Curve {
 public:
  Curve(std::vector<double>& all, double tolerance) : all_(all), tolerance_(tolerance), from_(all.size()) {}
  void add(double at_s, double value) {
    if (all_.size() == from_) {
      keep(at_s, value);
    } else {
      if (const double slope = (value - kept_value_) / (at_s - kept_s_); slope < lowest_ || slope > highest_)
        keep(last_s_, last_value_);
      const double span_s = at_s - kept_s_;
      lowest_ = std::max(lowest_, (value - tolerance_ - kept_value_) / span_s);
      highest_ = std::min(highest_, (value + tolerance_ - kept_value_) / span_s);
    }
    last_s_ = at_s;
    last_value_ = value;
  }
  // Where it lies, with the last point.
  Json end() {
    if (all_.size() > from_ && last_s_ > kept_s_) keep(last_s_, last_value_);
    return {{"from", from_}, {"pairs", (all_.size() - from_) / 2}};
  }

 private:
  void keep(double at_s, double value) {
    all_.push_back(at_s);
    all_.push_back(value);
    kept_s_ = at_s;
    kept_value_ = value;
    lowest_ = -kNoSlope;
    highest_ = kNoSlope;
  }

  static constexpr double kNoSlope = 1e300;
  std::vector<double>& all_;
  double tolerance_;
  std::size_t from_;
  double kept_s_ = 0.0, kept_value_ = 0.0;
  double last_s_ = 0.0, last_value_ = 0.0;
  double lowest_ = -kNoSlope, highest_ = kNoSlope;
};

Json spans(const day::Scenario& day, int place) {
  Json out = Json::array();
  for (const day::NoHands& stretch : day.no_hands) {
    if (stretch.place == place) out.push_back({{"from_s", stretch.from_s}, {"until_s", stretch.until_s}});
  }
  return out;
}

// The largest pack in use: all wedges are as wide as their share of it.
double largest_pack_j(const day::Scenario& day, const forecast::DayRun& run) {
  double largest_j = 1.0;
  for (const forecast::Stint& stint : run.stints)
    if (day.holders[at(stint.holder)].charger_supply < 0)
      largest_j = std::max(largest_j, cell::energy_left_j(day.packs[at(stint.pack)].params, 1.0));
  return largest_j;
}

// On the straight line from the row before to `row`.
double between(const std::vector<double>& times, const std::vector<double>& values, std::size_t row, double at_s) {
  const double share = (at_s - times[row - 1]) / (times[row] - times[row - 1]);
  return values[row - 1] + share * (values[row] - values[row - 1]);
}

Json stints(const day::Scenario& day, const forecast::DayRun& run, int holder, double end_s, double largest_j,
            std::vector<double>& curves) {
  const auto& times = run.trace.at_s;
  const auto& packs = run.trace.holder_pack[at(holder)];
  const auto& charges = run.trace.holder_charge[at(holder)];
  Json out = Json::array();
  std::size_t row = 0;
  while (row < times.size() && times[row] <= end_s) {
    if (packs[row] < 0) {
      ++row;
      continue;
    }
    const int pack = packs[row];
    const cell::PackParams& params = day.packs[at(pack)].params;
    const double full_j = cell::energy_left_j(params, 1.0);
    const std::size_t first = row;
    Curve wedge(curves, kWedgeTolerance);
    double drawn_s = -1.0;
    for (; row < times.size() && packs[row] == pack && times[row] <= end_s; ++row) {
      const bool end = row + 1 == times.size() || packs[row + 1] != pack || times[row + 1] > end_s;
      if (!end && times[row] - drawn_s < kLeastStep_s) continue;
      drawn_s = times[row];
      wedge.add(drawn_s, std::clamp(cell::energy_left_j(params, charges[row]) / largest_j, 0.0, 1.0));
    }
    const std::size_t last = row - 1;
    const bool back = row < times.size() && times[row] <= end_s;
    double out_s = times[last], end_charge = charges[last];
    if (row < times.size() && !back && packs[row] == pack) {
      out_s = end_s;
      end_charge = between(times, charges, row, end_s);
      wedge.add(end_s, std::clamp(cell::energy_left_j(params, end_charge) / largest_j, 0.0, 1.0));
    }
    out.push_back({{"pack", params.label},
                   {"index", pack},
                   {"in_s", times[first]},
                   {"out_s", out_s},
                   {"start_charge", charges[first]},
                   {"end_charge", end_charge},
                   {"full_wh", full_j / 3600.0},
                   {"left_wh", cell::energy_left_j(params, end_charge) / 3600.0},
                   {"comes_back", back},
                   {"wedge", wedge.end()}});
  }
  return out;
}

}  // namespace

Json strip_json(const app::ForecastReport& report, std::vector<double>& curves) {
  const day::Scenario& day = report.file->scenario;
  const forecast::Forecast& f = *report.forecast;
  const forecast::DayRun& run = f.run;
  const double last_s = f.margin_is_least ? day.off_s + 1800.0 : std::max(f.stated_s + 900.0, day.off_s + 900.0);
  const double end_s = std::min(last_s, day.off_s + std::max(day.overrun_s, 3600.0) + 5400.0);
  Json out = {{"start_s", day.periods.front().from_s},
              {"end_s", end_s},
              {"call_s", day.call_s},
              {"wrap_s", day.wrap_s},
              {"off_s", day.off_s},
              {"overrun_s", day.overrun_s},
              {"safe_s", f.safe_s},
              {"likely_s", f.likely_s},
              {"stated_s", f.stated_s}};
  out["periods"] = Json::array();
  for (const day::Period& period : day.periods) {
    out["periods"].push_back(
        {{"name", period.name},
         {"from_s", period.from_s},
         {"until_s", &period == &day.periods.back() ? std::min(period.until_s, end_s) : period.until_s},
         {"air_c", period.air_k - 273.15}});
  }
  const double largest_j = largest_pack_j(day, run);
  out["columns"] = Json::array();
  for (int h = 0; h < static_cast<int>(day.holders.size()); ++h) {
    const day::Holder& holder = day.holders[at(h)];
    if (holder.slots.empty()) continue;
    const bool bay = holder.charger_supply >= 0;
    const bool fails = !f.margin_is_least && run.first_loss.why.holder == h;
    out["columns"].push_back({{"holder", holder.name},
                              {"index", h},
                              {"place", day.places[at(holder.place)].name},
                              {"kind", bay               ? "bay"
                                       : holder.built_in ? "built-in"
                                                         : "holder"},
                              {"closed", spans(day, holder.place)},
                              {"fails", fails},
                              {"stints", stints(day, run, h, end_s, largest_j, curves)}});
  }
  int shown = -1;
  for (const day::Need need : {day::Need::unbroken, day::Need::rolling}) {
    for (std::size_t d = 0; d < day.devices.size() && shown < 0; ++d)
      if (day.devices[d].need == need) shown = static_cast<int>(d);
  }
  out["volts"] = nullptr;
  if (shown >= 0) {
    const day::Device& device = day.devices[at(shown)];
    const auto& values = run.trace.device_v[at(shown)];
    Json pieces = Json::array();
    double low_v = device.inputs.empty() ? device.cutoff_v : device.inputs.front().cutoff_v;
    const double cutoff_v = low_v;
    double high_v = low_v + 0.5;
    std::size_t row = 0;
    while (row < values.size() && run.trace.at_s[row] <= end_s) {
      if (values[row] <= 0.5) {
        ++row;
        continue;
      }
      Curve curve(curves, kVoltsTolerance_v);
      for (; row < values.size() && values[row] > 0.5 && run.trace.at_s[row] <= end_s; ++row) {
        curve.add(run.trace.at_s[row], values[row]);
        low_v = std::min(low_v, values[row]);
        high_v = std::max(high_v, values[row]);
      }
      if (row < values.size() && values[row] > 0.5 && run.trace.at_s[row - 1] < end_s)
        curve.add(end_s, between(run.trace.at_s, values, row, end_s));
      pieces.push_back(curve.end());
    }
    out["volts"] = {{"device", device.name},
                    {"cutoff_v", cutoff_v},
                    {"lowest_v", low_v},
                    {"highest_v", high_v},
                    {"pieces", pieces}};
  }
  return out;
}

}  // namespace tillwrap::door
