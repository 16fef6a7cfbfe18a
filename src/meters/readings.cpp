#include "meters/readings.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "meters/worth.hpp"
#include "odds/draw.hpp"
#include "quantity/order.hpp"

namespace tillwrap::meters {

namespace {

constexpr double kSettled_s = 600.0;  // after a change or a new period
constexpr double kBefore_s = 60.0;    // before a change, before off
constexpr double kFill_s = 4500.0;    // longer gaps get hourly rows
constexpr double kApart_s = 900.0;    // rows nearer than this to a more telling one are dropped
constexpr double kRow_s = 300.0;
constexpr double kBeyond_s = 6.0 * 3600.0;  // past the day a pack kept in is followed
constexpr double kLow = 0.1, kHigh = 0.9;
constexpr double kLeastExplained = 0.1;
constexpr double kLoaded_a = 1e-3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int mapped(const std::vector<int>& whole, int index) {
  const auto found = std::find(whole.begin(), whole.end(), index);
  return found == whole.end() ? -1 : static_cast<int>(found - whole.begin());
}

struct Shown {
  int pack = -1;
  double volts = 0.0, amps = 0.0, charge = 0.0;
};

// What stands at a moment, straight lines between rows.
Shown shown_at(const forecast::Trace& trace, int device, int holder, double at_s) {
  Shown out;
  if (trace.at_s.empty() || at_s < trace.at_s.front() || at_s > trace.at_s.back()) return out;
  const auto high = std::max<std::size_t>(
      1, static_cast<std::size_t>(std::lower_bound(trace.at_s.begin(), trace.at_s.end(), at_s) - trace.at_s.begin()));
  if (high >= trace.at_s.size()) return out;
  const double span_s = trace.at_s[high] - trace.at_s[high - 1];
  const double part = span_s > 0.0 ? (at_s - trace.at_s[high - 1]) / span_s : 1.0;
  const auto mix = [&](const std::vector<double>& column) {
    return column[high - 1] + part * (column[high] - column[high - 1]);
  };
  out.pack = trace.holder_pack[at(holder)][high];
  if (out.pack != trace.holder_pack[at(holder)][high - 1]) return {};
  out.volts = mix(trace.device_v[at(device)]);
  out.amps = mix(trace.holder_out_a[at(holder)]);
  out.charge = mix(trace.holder_charge[at(holder)]);
  return out;
}

double gauge_of(const cell::PackParams& params, double charge) {
  cell::PackState state;
  state.cell.charge = charge;
  return cell::gauge_fraction(params, state);
}

struct Candidate {
  double at_s = 0.0;
  Moment moment = Moment::hour;
};

int worth_keeping(Moment moment) {
  switch (moment) {
    case Moment::before_change:
    case Moment::before_off:
      return 3;
    case Moment::after_change:
      return 2;
    case Moment::period:
      return 1;
    case Moment::hour:
      return 0;
  }
  return 0;
}

// Moments worth a look at the meter, in order.
std::vector<Candidate> moments(const day::Scenario& day, const forecast::ChangePlan& plan, int holder) {
  std::vector<Candidate> all;
  const double from_s = std::min(day.call_s, day.off_s);
  for (const day::Period& period : day.periods)
    all.push_back({std::max(period.from_s + kSettled_s, from_s), Moment::period});
  for (const forecast::PlannedChange& change : plan) {
    if (change.holder != holder || change.at_s >= day.off_s) continue;
    all.push_back({change.at_s - kBefore_s, Moment::before_change});
    all.push_back({change.at_s + kSettled_s, Moment::after_change});
  }
  all.push_back({day.off_s - kBefore_s, Moment::before_off});
  std::erase_if(all, [&](const Candidate& c) { return c.at_s < from_s - 1.0 || c.at_s > day.off_s; });
  const auto by_time = [](const Candidate& a, const Candidate& b) { return a.at_s < b.at_s; };
  sort_stably(all, by_time);
  const auto thin = [&] {
    for (bool dropped = true; dropped;) {
      dropped = false;
      for (std::size_t k = 1; k < all.size() && !dropped; ++k) {
        if (all[k].at_s - all[k - 1].at_s >= kApart_s) continue;
        const int before = worth_keeping(all[k - 1].moment), after = worth_keeping(all[k].moment);
        if (before >= 2 && after >= 2) continue;  // the two sides of a change stand together
        all.erase(all.begin() + static_cast<std::ptrdiff_t>(after > before ? k - 1 : k));
        dropped = true;
      }
    }
  };
  thin();
  std::vector<Candidate> hours;
  for (std::size_t k = 1; k < all.size(); ++k) {
    if (all[k].at_s - all[k - 1].at_s <= kFill_s) continue;
    for (double hour_s = (std::floor(all[k - 1].at_s / 3600.0) + 1.0) * 3600.0; hour_s < all[k].at_s - kApart_s;
         hour_s += 3600.0) {
      if (hour_s > all[k - 1].at_s + kApart_s) hours.push_back({hour_s, Moment::hour});
    }
  }
  all.insert(all.end(), hours.begin(), hours.end());
  sort_stably(all, by_time);
  return all;
}

// The change's moment is the user's.
bool fixed(const day::Holder& holder, const forecast::PlannedChange& change) {
  return std::any_of(holder.slots.begin(), holder.slots.end(),
                     [&](const day::Slot& slot) { return slot.pack == change.pack && slot.at_s == change.at_s; });
}

// The plan with the pack that is in `holder` at `at_s` left there.
forecast::ChangePlan kept_in(const forecast::ChangePlan& plan, int holder, int pack, double at_s) {
  forecast::ChangePlan kept;
  for (const forecast::PlannedChange& change : plan) {
    if (change.at_s > at_s && (change.holder == holder || change.pack == pack)) continue;
    kept.push_back(change);
  }
  return kept;
}

Band band_of(double expected, std::vector<double>& drawn) {
  std::sort(drawn.begin(), drawn.end());
  Band band{.expected = expected, .low = expected, .high = expected};
  if (drawn.empty()) return band;
  band.low = std::min(expected, quantile(drawn, kLow));
  band.high = std::max(expected, quantile(drawn, kHigh));
  return band;
}

}  // namespace

std::optional<double> early_below(const std::vector<double>& x, const std::vector<double>& y, double need) {
  if (x.size() < 16 || x.size() != y.size()) return std::nullopt;
  const double n = static_cast<double>(x.size());
  double mean_x = 0.0, mean_y = 0.0;
  for (std::size_t k = 0; k < x.size(); ++k) {
    mean_x += x[k] / n;
    mean_y += y[k] / n;
  }
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (std::size_t k = 0; k < x.size(); ++k) {
    xx += (x[k] - mean_x) * (x[k] - mean_x);
    xy += (x[k] - mean_x) * (y[k] - mean_y);
    yy += (y[k] - mean_y) * (y[k] - mean_y);
  }
  if (xx <= 1e-12 * n || yy <= 1e-9 * n || xy <= 0.0 || xy * xy < kLeastExplained * xx * yy) return std::nullopt;
  const double slope = xy / xx;
  std::vector<double> off;
  for (std::size_t k = 0; k < x.size(); ++k) off.push_back(y[k] - mean_y - slope * (x[k] - mean_x));
  std::sort(off.begin(), off.end());
  const double limit = mean_x + (need - quantile(off, kLow) - mean_y) / slope;
  const double sigma = std::sqrt(xx / n);
  // Further out than any of some hundred days would be: not to be expected, and the line is not known there.
  if (limit < mean_x - 3.5 * sigma) return std::nullopt;
  return std::min(limit, mean_x + 3.5 * sigma);
}

std::vector<ReadingList> expected_readings(const day::Scenario& scenario, const PlannedDay& planned,
                                           const std::vector<const Feed*>& asked, const odds::Spread& spread,
                                           std::uint32_t days, std::uint64_t seed) {
  std::vector<ReadingList> lists(asked.size());
  const odds::Draw draw(scenario, spread, seed);
  for (std::size_t part = 0; part < planned.whole.pieces().size(); ++part) {
    forecast::Piece piece = planned.whole.pieces()[part];
    const day::Scenario fresh = piece.day;
    const forecast::ChangePlan& plan = planned.plans[part];
    const forecast::Trace& trace = planned.runs[part].trace;
    struct Own {
      std::size_t list = 0;
      int device = -1, holder = -1;
      std::vector<std::vector<double>> volts, amps, charge, ended;  // [row][day]; one of the day is NaN when not in use
      std::vector<double> need_s;                                   // by row
      std::vector<std::pair<int, double>> stint;                    // pack and planned end, by row
    };
    std::vector<Own> own;
    std::map<std::pair<int, double>, std::vector<double>> ended;  // (holder, planned end) -> by day
    std::map<std::pair<int, double>, forecast::ChangePlan> kept;
    for (std::size_t k = 0; k < asked.size(); ++k) {
      const int device = mapped(piece.devices, asked[k]->device);
      if (device < 0) continue;
      Own mine{.list = k, .device = device, .holder = mapped(piece.holders, asked[k]->holder)};
      lists[k].device = asked[k]->device;
      lists[k].holder = asked[k]->holder;
      for (const Candidate& moment : moments(piece.day, plan, mine.holder)) {
        const Shown now = shown_at(trace, device, mine.holder, moment.at_s);
        std::size_t period = 0;
        while (period + 1 < piece.day.periods.size() && piece.day.periods[period].until_s <= moment.at_s) ++period;
        const day::Device& d = piece.day.devices[at(device)];
        if (now.pack < 0 || now.amps < kLoaded_a || d.modes[at(piece.day.periods[period].mode[at(device)])].off)
          continue;
        Reading row{.at_s = moment.at_s,
                    .moment = moment.moment,
                    .pack = piece.packs[at(now.pack)],
                    .until_s = piece.day.off_s};
        double reserve_s = 0.0;
        for (const forecast::PlannedChange& change : plan) {
          if (change.holder != mine.holder || change.at_s <= moment.at_s || change.at_s > row.until_s) continue;
          row.until_s = change.at_s;
          reserve_s = fixed(piece.day.holders[at(mine.holder)], change) ? piece.day.reserve_s : 0.0;
        }
        row.volts.expected = now.volts;
        row.amps.expected = now.amps;
        const cell::PackParams& params = piece.day.packs[at(now.pack)].params;
        if (params.gauge.present) row.gauge = Band{.expected = gauge_of(params, now.charge)};
        kept.emplace(std::make_pair(mine.holder, row.until_s), kept_in(plan, mine.holder, now.pack, moment.at_s));
        mine.stint.emplace_back(now.pack, row.until_s);
        mine.need_s.push_back(row.until_s + reserve_s);
        lists[k].rows.push_back(row);
      }
      const std::size_t rows = lists[k].rows.size();
      mine.volts.resize(rows);
      mine.amps.resize(rows);
      mine.charge.resize(rows);
      mine.ended.resize(rows);
      own.push_back(std::move(mine));
    }
    if (own.empty()) continue;
    const forecast::Model model(piece.day);
    forecast::Simulator simulator(model);
    const double last_s = piece.day.off_s + piece.day.overrun_s;
    for (std::uint32_t day = 0; day < days; ++day) {
      draw.apply(piece, fresh, draw.luck_of(day), piece.day);
      const forecast::DayRun run = simulator.run(
          plan, {.search_until_s = piece.day.off_s, .trace = true, .longest_step_s = kRow_s, .tolerance = 8.0});
      std::map<std::pair<int, double>, double> ends;
      for (const auto& [key, changes] : kept) {
        const double until_s = last_s + kBeyond_s;
        forecast::RunOptions to_end{
            .search_until_s = until_s, .longest_step_s = 7200.0, .tolerance = 8.0, .loss_only = true};
        to_end.stop_s = until_s;
        const int holder = key.first;
        const auto stays = std::find_if(changes.rbegin(), changes.rend(),
                                        [&](const forecast::PlannedChange& one) { return one.holder == holder; });
        ends[key] = until_s;
        if (stays == changes.rend()) continue;
        to_end.stop_served = {{.holder = holder, .pack = stays->pack, .in_s = stays->at_s}};
        const forecast::DayRun on = simulator.run(changes, to_end);
        const forecast::Stint* stint = forecast::stint_of(on, to_end.stop_served.front());
        if (stint != nullptr) ends[key] = std::min(until_s, stint->ended_s);
      }
      for (Own& mine : own) {
        const std::vector<Reading>& rows = lists[mine.list].rows;
        for (std::size_t k = 0; k < rows.size(); ++k) {
          const Shown now = shown_at(run.trace, mine.device, mine.holder, rows[k].at_s);
          if (now.pack != mine.stint[k].first || now.amps < kLoaded_a) continue;  // on this day it was out by then
          mine.volts[k].push_back(now.volts);
          mine.amps[k].push_back(now.amps);
          mine.charge[k].push_back(gauge_of(piece.day.packs[at(now.pack)].params, now.charge));
          mine.ended[k].push_back(ends[{mine.holder, rows[k].until_s}]);
        }
      }
    }
    for (Own& mine : own) {
      for (std::size_t k = 0; k < lists[mine.list].rows.size(); ++k) {
        Reading& row = lists[mine.list].rows[k];
        const double need_s = mine.need_s[k];
        if (row.moment != Moment::before_change && row.moment != Moment::before_off) {
          row.early_v = early_below(mine.volts[k], mine.ended[k], need_s);
          if (row.gauge) row.early_gauge = early_below(mine.charge[k], mine.ended[k], need_s);
        }
        row.volts = band_of(row.volts.expected, mine.volts[k]);
        row.amps = band_of(row.amps.expected, mine.amps[k]);
        if (row.gauge) row.gauge = band_of(row.gauge->expected, mine.charge[k]);
      }
    }
  }
  return lists;
}

}  // namespace tillwrap::meters
