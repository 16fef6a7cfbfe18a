// A box with two cups on one bus, a recorder on a lead, and a day of it with truths of its own: packs, load from moment
// to moment, air, lead, meter, and a model that is off.
#pragma once

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "app/health_bands.hpp"
#include "forecast/kit.hpp"
#include "health/trend.hpp"
#include "learn/packs_of_day.hpp"

namespace tillwrap::test {

inline constexpr double kLead_ohm = 0.05;

struct Cups {
  double watts = 24.0;
  double hours = 6.0;
  int cups = 2;
  bool diodes = true;
};

// Packs 0 (and 1) from the start; device 0.
inline Kit cups(const Cups& how) {
  Kit kit(how.hours);
  const int bus = kit.port("bus");
  for (int c = 0; c < how.cups; ++c) {
    const int h =
        kit.holder("cup " + std::to_string(c + 1), bus, kit.pack(catalogue_pack("smart-pack-14v4-98wh")), 0.02);
    kit.day.holders[at(h)].one_way = how.diodes;
    kit.day.holders[at(h)].drop_v = how.diodes ? 0.03 : 0.0;
  }
  const int input = kit.port("input");
  kit.lead(bus, input, kLead_ohm);
  kit.device("recorder", input, how.watts, 10.0, 11.0);
  return kit;
}

// What is read; all probes of one finely stepped run.
inline std::vector<double> computed(const day::Scenario& day, const std::vector<track::Reading>& readings) {
  std::vector<double> times;
  for (const auto& reading : readings) times.push_back(reading.at_s);
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
  const forecast::Model model(day);
  forecast::RunOptions options{.search_until_s = day.off_s, .tolerance = 0.1};
  options.probe_s = times;
  const forecast::DayRun run = forecast::run_day(model, forecast::plan_changes(model, day.off_s), options);
  std::vector<double> out;
  for (const auto& reading : readings) {
    const auto k = static_cast<std::size_t>(std::lower_bound(times.begin(), times.end(), reading.at_s) - times.begin());
    out.push_back(track::value_of(day, run.probes.at(k), reading, reading.index));
  }
  return out;
}

inline track::Reading volts_read(double at_s, double noise = 0.05, double model = 0.08) {
  return {.where = track::Where::device_v, .index = 0, .at_s = at_s, .noise = noise, .model = model, .width = 30.0};
}
inline track::Reading amps_read(double at_s, int cup) {
  return {.where = track::Where::holder_a, .index = cup, .at_s = at_s, .noise = 0.02, .model = 0.0, .width = 30.0};
}

struct DrawnDay {
  Kit as_known;
  std::vector<track::Reading> readings;
  std::vector<learn::Told> told;
  learn::Options options;
  std::vector<double> capacity, resistance;  // true, over new
};

struct Habits {
  int cups = 2;
  bool diodes = true;
  bool amps = true;       // of each cup, with the volts
  bool told_left = true;  // the charge each came out with
  int pairs = 0;          // times at which volts are read at two loads a minute apart
  double step_v = 0.1;    // of the meter's display
  double air_c = 20.0;
};

inline DrawnDay drawn_day(std::uint32_t seed, const Habits& habits) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  const double watts = habits.cups * (12.0 + 10.0 * uniform(random));
  DrawnDay out{
      .as_known =
          cups({.watts = watts, .hours = 3.0 + 1.5 * uniform(random), .cups = habits.cups, .diodes = habits.diodes}),
      .readings = {},
      .told = {},
      .options = {},
      .capacity = {},
      .resistance = {}};
  out.as_known.day.places[0].fixed_k = celsius(habits.air_c).si;
  Kit truth = out.as_known;
  const double end_s = truth.day.off_s;
  out.options.until_s = end_s;
  const odds::Spread& spread = out.options.spread;
  const double air_k = spread.air_k * normal(random);
  const double model_v = 0.02 * normal(random);
  for (int c = 0; c < habits.cups; ++c) {
    out.capacity.push_back(0.7 + 0.35 * uniform(random));
    out.resistance.push_back(1.0 + 8.0 * std::max(0.0, 1.0 - out.capacity.back()) * uniform(random));
    day::Pack& pack = truth.day.packs[at(c)];
    cell::CellParams& cell = pack.params.cell;
    cell = cell::aged(cell, {out.capacity.back() * std::exp(0.03 * normal(random)),
                             out.resistance.back() * std::exp(0.3 * normal(random))});
    cell.electrolyte_ohm *= std::exp(0.2 * normal(random));
    std::vector<double> off_v = cell.ocv.knots_y();
    const double own_v = model_v + 0.004 * normal(random);
    for (double& v : off_v) v += own_v;
    cell.ocv = Curve(cell.ocv.knots_x(), off_v);
    pack.start_charge = std::min(1.0, 1.0 + 0.02 * normal(random));
  }
  truth.day.places[0].fixed_k += air_k;
  truth.day.leads[0].cable_ohm *= std::exp(0.4 * normal(random));
  truth.day.devices[0].scale *= std::exp(std::hypot(spread.load, spread.load_each) * normal(random));
  // Blocks of load of 4 to 30 minutes, and the moments at which somebody switches something off for a minute and a
  // half.
  const double scatter = 0.06 + 0.12 * uniform(random);
  std::vector<std::pair<double, double>> blocks;  // from, factor
  std::vector<double> pair_s;
  for (double t = 0.0; t < end_s; t += 60.0 * (4.0 + 26.0 * uniform(random)))
    blocks.emplace_back(t, std::exp(scatter * normal(random)));
  for (int k = 0; k < habits.pairs; ++k) pair_s.push_back(end_s * (k + 0.2 + 0.6 * uniform(random)) / habits.pairs);
  day::Device& device = truth.day.devices[0];
  const day::Mode usual = device.modes[0];
  const day::Period whole = truth.day.periods[0];
  truth.day.periods.clear();
  const auto factor_at = [&](double t) {
    double factor = 1.0;
    for (const auto& [from_s, f] : blocks) factor = from_s <= t ? f : factor;
    return factor;
  };
  std::vector<double> cuts{0.0};
  for (const auto& [from_s, f] : blocks) cuts.push_back(from_s);
  for (const double t : pair_s) cuts.insert(cuts.end(), {t, t + 90.0});
  std::sort(cuts.begin(), cuts.end());
  cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
  for (std::size_t k = 0; k < cuts.size(); ++k) {
    day::Period period = whole;
    period.from_s = cuts[k];
    period.until_s = k + 1 < cuts.size() ? cuts[k + 1] : end_s;
    double factor = factor_at(cuts[k]);
    for (const double t : pair_s) factor *= cuts[k] >= t && cuts[k] < t + 90.0 ? 0.35 : 1.0;
    day::Mode mode = usual;
    mode.power_w *= factor;
    period.mode = {static_cast<int>(device.modes.size())};
    device.modes.push_back(mode);
    truth.day.periods.push_back(period);
  }
  const auto look = [&](double t) {
    out.readings.push_back(volts_read(t, habits.step_v >= 0.1 ? 0.05 : 0.02));
    if (habits.amps) {
      for (int c = 0; c < habits.cups; ++c) out.readings.push_back(amps_read(t + 20.0, c));
    }
  };
  for (double t = 60.0 * (5.0 + 20.0 * uniform(random)); t < end_s - 60.0;
       t += 60.0 * (20.0 + 40.0 * uniform(random))) {
    const bool near = std::any_of(pair_s.begin(), pair_s.end(), [&](double p) { return std::fabs(p - t) < 300.0; });
    if (!near) look(t);
  }
  for (const double t : pair_s) {
    look(t - 40.0);
    look(t + 50.0);
  }
  std::vector<double> values = computed(truth.day, out.readings);
  const double clamp = std::exp(0.03 * normal(random));
  for (std::size_t k = 0; k < values.size(); ++k) {
    track::Reading& reading = out.readings[k];
    if (reading.where == track::Where::device_v) {
      reading.value = habits.step_v * std::round((values[k] + 0.015 * normal(random)) / habits.step_v);
    } else {
      reading.value = clamp * values[k] + 0.02 * normal(random);
      reading.noise = 0.02 + 0.03 * std::fabs(reading.value);
      reading.model = 0.03 * std::fabs(reading.value);
    }
  }
  if (habits.told_left) {
    const forecast::Model model(truth.day);
    forecast::RunOptions options{.search_until_s = end_s, .tolerance = 0.1};
    options.probe_s = {end_s - 1.0};
    const forecast::DayRun run = forecast::run_day(model, forecast::plan_changes(model, end_s), options);
    for (int c = 0; c < habits.cups; ++c)
      out.told.push_back(
          {c, end_s - 1.0, std::clamp(run.probes.at(0).charge[at(c)] + 0.06 * normal(random), 0.0, 1.0), 0.06});
  }
  return out;
}

struct Tally {
  int told = 0, inside80 = 0, inside90 = 0, all = 0;
  double spread = 0.0, bias = 0.0;
  void add(const std::optional<fit::Factor>& found, double truth, double more_sd) {
    ++all;
    if (!found) return;
    const double sd = std::hypot(found->ln_sd, more_sd);
    count(std::log(found->value / truth) / sd, sd);
  }
  void add(const std::optional<fit::Times>& found, double truth) {
    ++all;
    if (!found) return;
    ++told;
    spread += found->sd;
    const auto within = [&](double z) {
      const health::Band band = app::band_of(*found, z);
      return truth >= band.low && truth <= band.high ? 1 : 0;
    };
    inside80 += within(1.2815515655446004);
    inside90 += within(health::kBand);
    bias += (found->value - truth) / std::hypot(found->sd, 0.3 * truth);
  }
  void count(double off, double sd) {
    ++told;
    spread += sd;
    bias += off;
    off = std::fabs(off);
    inside80 += off <= 1.2815515655446004 ? 1 : 0;
    inside90 += off <= health::kBand ? 1 : 0;
  }
  [[nodiscard]] double share80() const { return static_cast<double>(inside80) / std::max(1, told); }
  [[nodiscard]] std::string words(const std::string& what) const {
    char text[200];
    std::snprintf(text, sizeof text,
                  "[ learn    ] %-40s told %4d of %4d, 80 %% band %.3f, 90 %% %.3f, mean sd %.3f, bias %+.2f\n",
                  what.c_str(), told, all, share80(), static_cast<double>(inside90) / std::max(1, told),
                  spread / std::max(1, told), bias / std::max(1, told));
    return text;
  }
};

}  // namespace tillwrap::test
