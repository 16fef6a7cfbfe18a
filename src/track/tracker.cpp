#include "track/tracker.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/maths.hpp"

namespace tillwrap::track {

namespace {

constexpr double kMistakes = 0.02;                 // share of readings that are typed or taken wrong: from memory
constexpr double kBeyondChanges_s = 2.0 * 3600.0;  // past the overrun a pack is not followed
constexpr std::size_t kMostHeld = 2048;            // days; ten thousand bytes each, roughly

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

odds::Luck DrawnDay::luck() const {
  return {.load = point[odds::kLoad],
          .capacity = point[odds::kCapacity],
          .resistance = point[odds::kResistance],
          .start_charge = point[odds::kStartCharge],
          .air = point[odds::kAir],
          .bag = point[odds::kBag],
          .day = number};
}

double normal_density(double off, double variance) {
  return maths::exp(-0.5 * off * off / variance) / std::sqrt(6.283185307179586477 * variance);
}

double log_density(const Reading& reading, double off, double variance) {
  return maths::log((1.0 - kMistakes) * normal_density(off, variance) + kMistakes / reading.width);
}

double doubt(const Reading& reading, double off, double variance) {
  const double good = (1.0 - kMistakes) * normal_density(off, variance);
  const double wrong = kMistakes / reading.width;
  return wrong / (good + wrong);
}

Tracker::Tracker(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options)
    : readings_(readings),
      at_s_(options.at_s),
      replay_(scenario,
              {.spread = options.spread,
               .seed = options.seed,
               .search_beyond_s = options.search_beyond_s,
               .tolerance = options.tolerance,
               .several_runs = true},
              [&](const forecast::Piece& piece) {
                return std::any_of(readings.begin(), readings.end(),
                                   [&](const Reading& r) { return inside(piece, r, r.index) >= 0; });
              }) {
  for (const odds::Part& part : replay_.parts()) watch(part);
  for (const Reading& reading : readings) ++same_[{static_cast<int>(reading.where), reading.index}];
}

void Tracker::watch(const odds::Part& part) {
  Watched watched;
  for (std::size_t r = 0; r < readings_.size(); ++r) {
    if (inside(*part.piece, readings_[r], readings_[r].index) >= 0) watched.taken.emplace_back(r, 0);
  }
  std::vector<double>& times = watched.probe_s;
  for (const auto& [r, probe] : watched.taken) times.push_back(readings_[r].at_s);
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
  for (auto& [r, probe] : watched.taken)
    probe = static_cast<std::size_t>(std::lower_bound(times.begin(), times.end(), readings_[r].at_s) - times.begin());
  for (const forecast::PlannedChange& change : part.plan) {
    if (change.at_s <= at_s_) watched.plan_so_far.push_back(change);
  }
  find_next(part, at_s_, watched);
  watched_.push_back(std::move(watched));
}

void Tracker::find_next(const odds::Part& part, double now_s, Watched& watched) {
  const std::vector<day::Holder>& holders = part.piece->day.holders;
  for (int h = 0; h < static_cast<int>(holders.size()); ++h) {
    if (holders[at(h)].charger_supply >= 0) continue;
    const forecast::PlannedChange* inside = nullptr;
    const forecast::PlannedChange* next = nullptr;
    for (const forecast::PlannedChange& change : part.plan) {  // in order of time
      if (change.holder != h) continue;
      if (change.at_s <= now_s) inside = &change;
      if (change.at_s > now_s && next == nullptr) next = &change;
    }
    if (inside != nullptr && next != nullptr && inside->out_s > now_s)
      watched.next.push_back({.holder = h,
                              .out_pack = inside->pack,
                              .in_pack = next->pack,
                              .in_s = inside->at_s,
                              .planned_s = next->at_s});
  }
}

double Tracker::variance(const Reading& reading) const {
  const double times = same_.at({static_cast<int>(reading.where), reading.index});
  return reading.noise * reading.noise + times * reading.model * reading.model;
}

double Tracker::log_likelihood(const DrawnDay& day, std::vector<double>& values) {
  values.assign(readings_.size(), 0.0);
  double sum = 0.0;
  for (std::size_t k = 0; k < watched_.size(); ++k) {
    Watched& watched = watched_[k];
    odds::Part& part = replay_.parts()[k];
    if (watched.taken.empty()) continue;
    forecast::Marks at_last(watched.probe_s.back());
    look_at(part, day.luck(), watched.probe_s, at_last);
    for (const auto& [r, probe] : watched.taken) {
      const Reading& reading = readings_[r];
      values[r] = value_at(part, probe, reading, reading.index);
      sum += log_density(reading, reading.value - values[r], variance(reading));
    }
    if (watched.held.size() < kMostHeld) watched.held.insert_or_assign(day.number, std::move(at_last));
  }
  return sum;
}

std::vector<Tracker::End> Tracker::ends_of(const std::vector<DrawnDay>& days, std::size_t carried) {
  const double never_s = replay_.until_s();
  std::vector<End> all(days.size(), End{.planned_s = never_s, .untouched_s = never_s});
  std::vector<odds::Luck> luck;
  for (const DrawnDay& day : days) luck.push_back(day.luck());
  const std::vector<odds::Luck> carried_luck(luck.begin(), luck.begin() + static_cast<std::ptrdiff_t>(carried));
  const auto until_s = [&](double End::*of, std::size_t count) {
    std::vector<double> found;
    for (std::size_t day = 0; day < count; ++day) found.push_back(all[day].*of);
    return found;
  };
  for (std::size_t k = 0; k < watched_.size(); ++k) {
    odds::Part& part = replay_.parts()[k];
    const bool must_run = part.piece->must_run;
    const bool packs = !watched_[k].next.empty();
    std::vector<char> as_planned(days.size(), 0), left_alone(days.size(), 0);
    if (must_run) {
      for (const std::size_t day : replay_.may_lose(part, luck, until_s(&End::planned_s, days.size())))
        as_planned[day] = 1;
    }
    if (must_run && !packs) {
      for (const std::size_t day : replay_.may_lose(part, carried_luck, until_s(&End::untouched_s, carried),
                                                    watched_[k].plan_so_far, watched_[k].untouched))
        left_alone[day] = 1;
    }
    // Runs of one day go on from where they part.
    for (std::size_t day = 0; day < days.size(); ++day) {
      const bool packs_too = packs && day < carried;
      if (!as_planned[day] && !left_alone[day] && !packs_too) continue;
      End& end = all[day];
      begin(k, days[day]);
      if (as_planned[day]) {
        const double lost_s = replay_.planned_loss_s(part, end.planned_s);
        if (lost_s < end.planned_s) end.goes_first = replay_.lost_device(part);
        end.planned_s = lost_s;
      }
      if (packs_too) end.untouched_s = untouched_with_packs(k, end.untouched_s, end.packs_s);
      if (left_alone[day]) end.untouched_s = untouched_loss_s(k, end.untouched_s);
    }
  }
  return all;
}

// Puts that day on a part, as it stood at the last reading: looked at again, if it is not held.
void Tracker::begin(std::size_t k, const DrawnDay& day) {
  odds::Part& part = replay_.parts()[k];
  replay_.apply(part, day.luck());
  if (watched_[k].taken.empty()) return;
  const auto held = watched_[k].held.find(day.number);
  if (held != watched_[k].held.end()) {
    part.marks.begin_with(held->second);
    return;
  }
  forecast::Marks at_last(watched_[k].probe_s.back());
  look_at(part, day.luck(), watched_[k].probe_s, at_last);
  part.marks.begin_with(at_last);
}

std::vector<odds::ChangeOdds> Tracker::changes() {
  std::vector<odds::ChangeOdds> all;
  for (std::size_t k = 0; k < watched_.size(); ++k) {
    const forecast::Piece& piece = *replay_.parts()[k].piece;
    for (const Watched::Next& next : watched_[k].next)
      all.push_back({.holder = piece.holders[at(next.holder)],
                     .out_pack = piece.packs[at(next.out_pack)],
                     .in_pack = piece.packs[at(next.in_pack)],
                     .in_s = next.in_s,
                     .planned_s = next.planned_s});
  }
  return all;
}

std::optional<double> Tracker::other_value(const DrawnDay& day, const Reading& reading, int index) {
  for (odds::Part& part : replay_.parts()) {
    if (inside(*part.piece, reading, index) < 0) continue;
    forecast::Marks unused(forecast::kNever);
    look_at(part, day.luck(), {reading.at_s}, unused);
    return value_at(part, 0, reading, index);
  }
  return std::nullopt;
}

bool Tracker::shows(Where where, int index) const {
  return where != Where::gauge || replay_.day().packs[at(index)].params.gauge.present;
}

// Of the day that was put on that part.
double Tracker::untouched_loss_s(std::size_t k, double until_s) {
  return with_hands_so_far(k, until_s, replay_.run_on_to_loss_s(replay_.parts()[k], until_s, watched_[k].plan_so_far));
}

// The same where packs are waited for too: one run tells both.
double Tracker::untouched_with_packs(std::size_t k, double loss_until_s, std::vector<double>& packs_s) {
  odds::Part& part = replay_.parts()[k];
  const double until_s = replay_.day().off_s + replay_.day().overrun_s + kBeyondChanges_s;
  forecast::RunOptions run = replay_.run_options(std::max(loss_until_s, replay_.day().off_s));
  run.stop_s = std::max(until_s, loss_until_s);
  run.stop_at_loss = part.piece->must_run;
  for (const Watched::Next& next : watched_[k].next)
    run.stop_served.push_back({.holder = next.holder, .pack = next.out_pack, .in_s = next.in_s});
  part.simulator->run(watched_[k].plan_so_far, run, result_, part.marks);
  for (const forecast::Served& pack : run.stop_served) {
    const forecast::Stint* stint = forecast::stint_of(result_, pack);
    packs_s.push_back(stint == nullptr ? until_s : std::min(until_s, stint->ended_s));
  }
  if (!part.piece->must_run) return loss_until_s;
  const double lost_s = result_.first_loss.device >= 0 ? result_.first_loss.at_s : loss_until_s;
  return with_hands_so_far(k, loss_until_s, std::min(lost_s, loss_until_s));
}

// Until now there were hands: a pack that would have ended before its planned change was changed sooner.
double Tracker::with_hands_so_far(std::size_t k, double until_s, double lost_s) {
  odds::Part& part = replay_.parts()[k];
  if (lost_s >= at_s_ || !part.plans_anew) return lost_s;
  forecast::ChangePlan plan = replay_.plan_of_the_day(part, at_s_);
  std::erase_if(plan, [this](const forecast::PlannedChange& change) { return change.at_s > at_s_; });
  return replay_.run_on_to_loss_s(part, until_s, plan);
}

void Tracker::look_at(odds::Part& part, const odds::Luck& luck, const std::vector<double>& probe_s,
                      forecast::Marks& marks) {
  replay_.apply(part, luck);
  forecast::RunOptions run = replay_.run_options(replay_.until_s());
  run.probe_s = probe_s;
  run.stop_s = probe_s.back();
  part.simulator->run(part.plan, run, result_, marks);
}

// 0 where the run did not get so far.
double Tracker::value_at(const odds::Part& part, std::size_t probe, const Reading& reading, int index) const {
  if (probe >= result_.probes.size()) return 0.0;
  return value_of(part.piece->day, result_.probes[probe], reading, inside(*part.piece, reading, index));
}

}  // namespace tillwrap::track
