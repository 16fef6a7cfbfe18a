// From packs and chargers to tasks with curves.
#include <algorithm>
#include <cmath>
#include <map>

#include "recharge/law.hpp"
#include "recharge/recharge.hpp"

namespace tillwrap::recharge {

namespace {

constexpr double kRow_s = 60.0;
constexpr double kFullEnough = 0.985;  // not worth a turn on the charger: common practice, no source

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool takes(const Charger& charger, const day::Pack& pack) {
  return std::find(charger.fits.begin(), charger.fits.end(), pack.mount) != charger.fits.end();
}

// In stored energy, J, of the whole pack.
double missing_j(const cell::PackParams& pack, double charge) {
  return cell::energy_left_j(pack, 1.0) - cell::energy_left_j(pack, std::min(charge, 1.0));
}

}  // namespace

day::Pack part_of(const day::Pack& pack, int cells) {
  if (cells <= 0) return pack;
  day::Pack part = pack;
  const double share = static_cast<double>(cells) / (pack.params.series * pack.params.parallel);
  part.params.series = cells;  // all get the same current, each in its own bay
  part.params.parallel = 1;
  part.params.weak_fraction = 1.0;
  part.params.electronics_ohm = 0.0;
  part.params.heat_capacity_j_k *= share;
  part.params.cooling_w_k *= share;
  part.charge_v *= share * pack.params.parallel;
  return part;
}

double amps_with(const Charger& charger, const day::Pack& pack, std::size_t sharing) {
  double amps = charger.bay_a;
  const auto n = static_cast<double>(sharing);
  if (charger.together_a > 0.0) amps = std::min(amps, charger.together_a / n);
  if (charger.together_w > 0.0) amps = std::min(amps, charger.together_w / n / end_volts(pack));
  return amps;
}

double end_volts(const day::Pack& pack) {
  return pack.charge_v > 0.0 ? pack.charge_v : kNickelEndCell_v * pack.params.series;
}

cell::ChargeLaw law_on(const Charger& charger, const day::Pack& pack, std::size_t sharing) {
  cell::ChargeLaw law = day::law_in_bay(pack, amps_with(charger, pack, sharing), charger.end_fraction, charger.put_in);
  law.end_a = charger.end_fraction * charger.bay_a;
  law.coldest_k = std::max(law.coldest_k, charger.coldest_k);
  law.hottest_k = std::min(law.hottest_k, charger.hottest_k);
  return law;
}

double resting_k(const Night& night, const Battery& battery) {
  for (const Charger& charger : night.chargers) {
    if (takes(charger, battery.pack)) return charger.surround_k;
  }
  return battery.temperature_k;
}

Posed pose(const Night& night) {
  Posed posed;
  Problem& problem = posed.problem;
  problem.from_s = night.from_s;
  problem.until_s = night.until_s;
  problem.there = night.there;
  problem.asleep = night.asleep;
  problem.most_get_ups = night.asleep.empty() ? 0 : night.most_get_ups;
  for (const Supply& supply : night.supplies) problem.supply_w.push_back(supply.watts);
  for (const Charger& charger : night.chargers) {
    problem.stations.push_back({.name = charger.name,
                                .bays = charger.bays,
                                .in_turn = charger.in_turn,
                                .supply = charger.supply,
                                .live = charger.live});
  }
  for (int b = 0; b < static_cast<int>(night.batteries.size()); ++b) {
    const Battery& battery = night.batteries[at(b)];
    Outcome outcome{.charge = battery.charge};
    const bool enough = battery.charge >= std::min(battery.wanted, kFullEnough);
    if (enough) {
      outcome.ready = outcome.was_ready = true;
      outcome.ready_s = night.from_s;
    }
    if (!day::rechargeable(battery.pack) || !cell::can_charge(battery.pack.params.cell.chemistry)) {
      outcome.why = enough ? Why::ready : Why::not_chargeable;
      posed.outcomes.push_back(outcome);
      continue;
    }
    if (battery.charge >= kFullEnough || (enough && battery.wanted < 1.0)) {
      posed.outcomes.push_back(outcome);
      continue;
    }
    const int cells = battery.pack.params.series * battery.pack.params.parallel;
    int fewest_bays = cells;
    bool loose = false;
    for (const Charger& charger : night.chargers) {
      if (!takes(charger, battery.pack) || !charger.cell_a_bay) continue;
      loose = true;
      fewest_bays = std::min(fewest_bays, charger.bays);
    }
    const int parts = loose ? (cells + fewest_bays - 1) / fewest_bays : 1;
    outcome.why = Why::no_charger;
    for (int part = 0; part < parts; ++part) {
      const int own_cells = loose ? (cells + parts - 1 - part) / parts : 0;
      const day::Pack pack = part_of(battery.pack, own_cells);
      Task task{.name = battery.pack.params.label,
                .rank = battery.rank,
                .missing_wh = missing_j(pack.params, battery.charge) / 3600.0,
                .ages_full = cell::is_lithium_ion(pack.params.cell.chemistry)};
      for (const Charger& charger : night.chargers) {
        Fit fit;
        if (takes(charger, battery.pack) && charger.cell_a_bay == loose) {
          const cell::ChargeLaw law = law_on(charger, pack, 1);
          const double k = battery.temperature_k;
          const double wait_s = k < law.coldest_k ? cell::seconds_to(pack.params, k, charger.surround_k, law.coldest_k)
                                : k > law.hottest_k
                                    ? cell::seconds_to(pack.params, k, charger.surround_k, law.hottest_k)
                                    : 0.0;
          if (!(wait_s < kNoLimit) || charger.surround_k < law.coldest_k || charger.surround_k > law.hottest_k) {
            if (outcome.why == Why::no_charger)
              outcome.why = charger.surround_k < law.coldest_k ? Why::too_cold : Why::too_hot;
          } else {
            task.not_before_s = std::max(task.not_before_s, night.from_s + wait_s);
            fit.bays = loose ? own_cells : 1;
            const std::size_t levels = charger.in_turn ? 1 : at(std::max(1, charger.bays / fit.bays));
            for (std::size_t n = 1; n <= levels; ++n) {
              const cell::ChargeLaw shared = law_on(charger, pack, n);
              fit.watts.push_back(shared.current_a * end_volts(pack) / charger.efficiency);
              if (n > 1 && shared.current_a == law.current_a) {
                fit.with.push_back(fit.with.front());
                continue;
              }
              cell::PackState start =
                  cell::rested_after_use(pack.params, battery.charge, std::clamp(k, law.coldest_k, law.hottest_k));
              const cell::ChargeRun run =
                  cell::charge(pack.params, shared, start, {.surround_k = charger.surround_k, .row_s = kRow_s});
              if (!run.full) {
                fit.with.clear();
                break;
              }
              Curve curve;
              for (const cell::ChargeMoment& row : run.curve) {
                const double share = row.put_in_as / run.put_in_as;
                if (!curve.at_s.empty() && (row.at_s <= curve.at_s.back() || share <= curve.share.back())) continue;
                curve.at_s.push_back(row.at_s);
                curve.share.push_back(share);
              }
              if (curve.at_s.size() < 2) curve = {.at_s = {0.0, std::max(1.0, run.duration_s)}, .share = {0.0, 1.0}};
              curve.share.back() = 1.0;
              if (n == 1 && battery.wanted < 1.0) {
                for (const cell::ChargeMoment& row : run.curve) {
                  if (row.charge < battery.wanted) continue;
                  task.ready_share = std::min(1.0, row.put_in_as / run.put_in_as);
                  break;
                }
              }
              if (n == 1) outcome.alone_s = std::min(outcome.alone_s, curve.length_s());
              fit.with.push_back(std::move(curve));
            }
            if (!fit.with.empty()) outcome.why = Why::time;
          }
        }
        task.on.push_back(std::move(fit));
      }
      outcome.warm_s = task.not_before_s;
      problem.tasks.push_back(std::move(task));
      posed.task_of.push_back({.battery = b, .part = part, .parts = parts, .cells = own_cells});
    }
    posed.outcomes.push_back(outcome);
  }
  return posed;
}

}  // namespace tillwrap::recharge
