#include "app/measured.hpp"

#include <algorithm>
#include <cmath>

#include "app/day_builder.hpp"
#include "decode/units.hpp"
#include "forecast/forecast.hpp"

namespace tillwrap::app {

namespace {

constexpr int kGaugeRounds = 4;
std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Power at the device inputs in one period, W; constant currents are taken at `volts`.
double summed_power_w(const day::Scenario& day, const std::vector<int>& devices, int period, double volts) {
  double sum_w = 0.0;
  for (const int d : devices) {
    const day::Device& device = day.devices[at(d)];
    const day::Mode& mode = device.modes[at(day.periods[at(period)].mode[at(d)])];
    if (mode.off) continue;
    const double steady_w = mode.power_w > 0.0 ? mode.power_w / device.efficiency + device.idle_w : 0.0;
    sum_w += device.scale * (steady_w + mode.current_a * volts + mode.siemens * volts * volts);
  }
  return sum_w;
}

}  // namespace

void DayBuilder::read_measured(Reader& root) {
  const std::vector<Reader> readers = root.tables("measured", "measured draw");
  if (readers.empty()) return;
  const forecast::Model model(day_);
  for (Reader reader : readers) {
    MeasuredDraw draw;
    draw.place = reader.place("at");
    draw.at = reader.text("at");
    double volts = 12.0;
    const auto holder = holders_.find(draw.at);
    for (std::size_t d = 0; d < day_.devices.size(); ++d) {
      const forecast::Feeding& feeding = model.feeding[d];
      bool behind = day_.devices[d].name == draw.at;
      if (holder != holders_.end()) {
        behind = behind ||
                 std::find(feeding.holders.begin(), feeding.holders.end(), holder->second) != feeding.holders.end();
      }
      for (const int lead : feeding.leads) behind = behind || day_.leads[at(lead)].name.rfind(draw.at + ".in-", 0) == 0;
      if (behind) draw.devices.push_back(static_cast<int>(d));
      for (const int h : feeding.holders) {
        if (!behind || day_.holders[at(h)].slots.empty() || volts != 12.0) continue;
        const day::Pack& pack = day_.packs[at(day_.holders[at(h)].slots.front().pack)];
        volts = pack.regulator ? pack.regulator->set_v : pack.params.series * pack.params.cell.ocv.value(0.5);
      }
    }
    if (draw.devices.empty()) {
      std::vector<std::string> known;
      for (const auto& entry : names_) known.push_back(entry.first);
      const auto near = decode::nearest(draw.at, known);
      reader.fail("at", "nothing that draws power stands behind \"" + draw.at + "\"",
                  near ? "did you mean \"" + *near + "\"?" : "name a box, holder or device");
    }
    if (reader.has("gauge")) {
      if (holder == holders_.end())
        reader.fail("at", "a gauge is read on a pack in a holder, and \"" + draw.at + "\" is none", "name the holder");
      const std::vector<decode::Reading> readings = reader.readings("gauge");
      if (readings.size() != 2 || !readings[0].fraction || !readings[1].fraction || !readings[0].at_s ||
          !readings[1].at_s) {
        reader.fail("gauge", "two gauge readings with their times are expected",
                    "write gauge = \"100 % at 07:10, 22 % at 12:40\"");
      }
      draw.holder = holder->second;
      draw.volts = volts;
      draw.from_charge = *readings[0].fraction;
      draw.to_charge = *readings[1].fraction;
      draw.from_s = clock(*readings[0].at_s);
      draw.to_s = clock(*readings[1].at_s);
      if (draw.to_s <= draw.from_s || draw.to_charge >= draw.from_charge) {
        reader.fail("gauge", "the second reading must be later and lower than the first",
                    "write gauge = \"100 % at 07:10, 22 % at 12:40\"");
      }
      if (draw.from_s < day_.periods.front().from_s || draw.to_s > day_.off_s) {
        reader.fail("gauge", "a reading lies outside the day", "give times between the first period and off");
      }
    } else {
      const decode::Draw read = reader.draw("draw");
      if (read.kind == decode::Draw::Kind::resistance)
        reader.fail("draw", "a measured draw is in watts or amps", "write draw = \"1.4 A at 14.6 V\"");
      draw.volts = read.volts_v.value_or(volts);
      draw.power_w = read.kind == decode::Draw::Kind::power ? read.value : read.value * volts;
      const std::string during = reader.text("during");
      const auto period = std::find_if(day_.periods.begin(), day_.periods.end(),
                                       [&](const day::Period& p) { return p.name == during; });
      if (period == day_.periods.end())
        reader.fail("during", "no period is named \"" + during + "\"", "name the period in which it was read");
      draw.period = static_cast<int>(period - day_.periods.begin());
      if (draw.power_w <= 0.0 || summed_power_w(day_, draw.devices, draw.period, draw.volts) <= 0.0) {
        reader.fail("draw", "a measured draw of nothing, or read while everything was off",
                    "read it with the kit running");
      }
    }
    reader.finish();
    out_.measured.push_back(std::move(draw));
  }
}

std::vector<MeasuredOutcome> apply_measured(DayFile& file) {
  std::vector<MeasuredOutcome> outcomes;
  day::Scenario& day = file.scenario;
  for (const MeasuredDraw& draw : file.measured) {
    MeasuredOutcome outcome{.draw = &draw, .measured_w = draw.power_w};
    const auto scale = [&](double factor) {
      for (const int d : draw.devices) day.devices[at(d)].scale *= factor;
      outcome.factor *= factor;
    };
    if (draw.holder < 0) {
      outcome.predicted_w = summed_power_w(day, draw.devices, draw.period, draw.volts);
      scale(draw.power_w / outcome.predicted_w);
      outcomes.push_back(outcome);
      continue;
    }
    double before_w = 0.0;
    for (std::size_t p = 0; p < day.periods.size() && before_w <= 0.0; ++p) {
      if (day.periods[p].until_s <= draw.from_s || day.periods[p].from_s >= draw.to_s) continue;
      outcome.period = static_cast<int>(p);
      before_w = summed_power_w(day, draw.devices, outcome.period, draw.volts);
    }
    for (int round = 0; round < kGaugeRounds; ++round) {
      const forecast::WholeDay whole(day);
      const forecast::DayRun run = forecast::merged(
          day, whole.pieces(),
          whole.run(whole.plan(day.off_s), {.search_until_s = day.off_s, .trace = true, .longest_step_s = 120.0}));
      const auto& times = run.trace.at_s;
      const auto& packs = run.trace.holder_pack[at(draw.holder)];
      // Charge and energy at the very moments of the readings, in straight lines between rows.
      const auto row = [&](double at_s) {
        const auto after = std::lower_bound(times.begin() + 1, times.end() - 1, at_s);
        return static_cast<std::size_t>(after - times.begin()) - 1;
      };
      const auto between = [&](const std::vector<double>& values, std::size_t k, double at_s) {
        return values[k] + (values[k + 1] - values[k]) * (at_s - times[k]) / (times[k + 1] - times[k]);
      };
      const std::size_t from = row(draw.from_s);
      const std::size_t to = row(draw.to_s);
      const auto& charge = run.trace.holder_charge[at(draw.holder)];
      const double used = between(charge, from, draw.from_s) - between(charge, to, draw.to_s);
      if (packs[from + 1] < 0 || packs[from + 1] != packs[to] || used <= 1e-4) {
        throw decode::InputError(file.source, draw.place,
                                 "the gauge readings of \"" + draw.at + "\" do not fall in one pack's turn",
                                 "both must be read on the same pack, before it is changed");
      }
      const auto h = at(draw.holder);
      const auto power_w = [&](std::size_t k) { return run.trace.holder_v[h][k] * run.trace.holder_a[h][k]; };
      double energy_j = 0.0;
      for (std::size_t i = from; i <= to; ++i) {
        const double lower_s = std::max(times[i], draw.from_s);
        const double upper_s = std::min(times[i + 1], draw.to_s);
        energy_j += 0.5 * (power_w(i) + power_w(i + 1)) * std::max(upper_s - lower_s, 0.0);
      }
      const double mean_w = energy_j / (draw.to_s - draw.from_s);
      const double factor = (draw.from_charge - draw.to_charge) / used;
      if (round == 0) {
        outcome.predicted_w = mean_w;
        outcome.measured_w = mean_w * factor;
      }
      scale(factor);
    }
    outcome.amps = before_w * outcome.factor / draw.volts;
    outcomes.push_back(outcome);
  }
  return outcomes;
}

}  // namespace tillwrap::app
