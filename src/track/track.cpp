#include "track/track.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <numeric>
#include <optional>
#include <stdexcept>
#include <utility>

#include "odds/replay.hpp"
#include "quantity/maths.hpp"
#include "quantity/order.hpp"
#include "track/cloud.hpp"

namespace tillwrap::track {

namespace {

constexpr double kMistakes = 0.02;  // share of readings that are typed or taken wrong: from memory
constexpr double kEnough = 400.0;
constexpr int kMostRounds = 8;
constexpr std::uint32_t kPilotPoints = 256;
constexpr std::uint32_t kUnread = 640;  // points where nothing was read
constexpr std::size_t kCarried = 400;   // points followed to the day's end
constexpr double kPilotEnough = 60.0;
constexpr double kBeyondChanges_s = 2.0 * 3600.0;  // past the overrun a pack is not followed
constexpr std::size_t kMostPoints = 8192;
constexpr std::size_t kBefore = 128;  // days to say how it stood before the readings
constexpr double kFits = 3.0;         // standard deviations
constexpr double kNearby = 0.1;       // a slipped point is told from other mistakes by its size, not to the last digit

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// What is read in one piece of the day, and what is left of its plan if nobody touches anything from now on.
struct Watched {
  forecast::ChangePlan plan_so_far;
  odds::Lasted untouched;  // with that plan
  std::vector<double> probe_s;
  std::vector<std::pair<std::size_t, std::size_t>> taken;  // reading, probe
  struct Next {                                            // local indices
    int holder, out_pack, in_pack;
    double in_s, planned_s;
  };
  std::vector<Next> next;  // of each holder the change to come, where there is one
};

class Tracker {
 public:
  Tracker(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options)
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
    for (odds::Part& part : replay_.parts()) {
      Watched watched;
      for (std::size_t r = 0; r < readings.size(); ++r) {
        if (inside(*part.piece, readings[r], readings[r].index) >= 0) watched.taken.emplace_back(r, 0);
      }
      std::vector<double>& times = watched.probe_s;
      for (const auto& [r, probe] : watched.taken) times.push_back(readings[r].at_s);
      std::sort(times.begin(), times.end());
      times.erase(std::unique(times.begin(), times.end()), times.end());
      for (auto& [r, probe] : watched.taken)
        probe =
            static_cast<std::size_t>(std::lower_bound(times.begin(), times.end(), readings[r].at_s) - times.begin());
      for (const forecast::PlannedChange& change : part.plan) {
        if (change.at_s <= options.at_s) watched.plan_so_far.push_back(change);
      }
      find_next(part, options.at_s, watched);
      watched_.push_back(std::move(watched));
    }
    // What the model is off by is the same each time: over n readings at one place its mean stays as doubtful as one.
    for (const Reading& reading : readings) ++same_[{static_cast<int>(reading.where), reading.index}];
  }

  [[nodiscard]] static odds::Luck luck(const Point& point, std::uint32_t day) {
    return {.load = point[odds::kLoad],
            .capacity = point[odds::kCapacity],
            .resistance = point[odds::kResistance],
            .start_charge = point[odds::kStartCharge],
            .air = point[odds::kAir],
            .bag = point[odds::kBag],
            .day = day};
  }

  [[nodiscard]] double variance(const Reading& reading) const {
    const double times = same_.at({static_cast<int>(reading.where), reading.index});
    return reading.noise * reading.noise + times * reading.model * reading.model;
  }

  [[nodiscard]] static double normal(double off, double variance) {
    return maths::exp(-0.5 * off * off / variance) / std::sqrt(6.283185307179586477 * variance);
  }

  // log of how probable the readings are at that point; fills what the model gives at each.
  double log_likelihood(const Point& point, std::uint32_t day, std::vector<double>& values) {
    values.assign(readings_.size(), 0.0);
    double sum = 0.0;
    for (std::size_t k = 0; k < watched_.size(); ++k) {
      odds::Part& part = replay_.parts()[k];
      if (watched_[k].taken.empty()) continue;
      look_at(part, luck(point, day), watched_[k].probe_s);
      for (const auto& [r, probe] : watched_[k].taken) {
        const Reading& reading = readings_[r];
        values[r] = value_at(part, probe, reading, reading.index);
        sum += maths::log((1.0 - kMistakes) * normal(reading.value - values[r], variance(reading)) +
                          kMistakes / reading.width);
      }
    }
    return sum;
  }

  // What days come to, each in its place.
  struct Ends {
    std::vector<double> planned_s;
    std::vector<int> goes_first;               // as planned; -1: nothing does
    std::vector<double> untouched_s;           // with nobody's hands on it from now on
    std::vector<std::vector<double>> packs_s;  // how long the pack in each holder would serve if it stayed in, as
                                               // `changes` has them in order
  };
  Ends ends_of(const std::vector<odds::Luck>& days, bool untouched) {
    const double never_s = replay_.until_s();
    Ends all{.planned_s = std::vector<double>(days.size(), never_s),
             .goes_first = std::vector<int>(days.size(), -1),
             .untouched_s = std::vector<double>(days.size(), never_s),
             .packs_s = std::vector<std::vector<double>>(days.size())};
    for (std::size_t k = 0; k < watched_.size(); ++k) {
      odds::Part& part = replay_.parts()[k];
      const bool must_run = part.piece->must_run;
      const bool packs = untouched && !watched_[k].next.empty();
      std::vector<char> as_planned(days.size(), 0), left_alone(days.size(), 0);
      if (must_run) {
        for (const std::size_t day : replay_.may_lose(part, days, all.planned_s)) as_planned[day] = 1;
      }
      if (untouched && must_run && !packs) {
        for (const std::size_t day :
             replay_.may_lose(part, days, all.untouched_s, watched_[k].plan_so_far, watched_[k].untouched))
          left_alone[day] = 1;
      }
      // Runs of one day go on from where they part.
      for (std::size_t day = 0; day < days.size(); ++day) {
        if (!as_planned[day] && !left_alone[day] && !packs) continue;
        replay_.apply(part, days[day]);
        if (as_planned[day]) {
          const double lost_s = replay_.planned_loss_s(part, all.planned_s[day]);
          if (lost_s < all.planned_s[day]) all.goes_first[day] = replay_.lost_device(part);
          all.planned_s[day] = lost_s;
        }
        double& untouched_s = all.untouched_s[day];
        if (packs) untouched_s = untouched_with_packs(k, untouched_s, all.packs_s[day]);
        if (left_alone[day]) untouched_s = untouched_loss_s(k, untouched_s);
      }
    }
    return all;
  }

  [[nodiscard]] std::vector<odds::ChangeOdds> changes() {
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

  // What another thing of the same kind would have read at that point, for "the wrong pack"; nothing where it is in no
  // piece that is followed.
  std::optional<double> other_value(const Point& point, const Reading& reading, int index) {
    for (odds::Part& part : replay_.parts()) {
      if (inside(*part.piece, reading, index) < 0) continue;
      look_at(part, luck(point, 0), {reading.at_s});
      return value_at(part, 0, reading, index);
    }
    return std::nullopt;
  }

  // A pack without a gauge cannot have been the one that was read.
  [[nodiscard]] bool shows(Where where, int index) const {
    return where != Where::gauge || replay_.day().packs[at(index)].params.gauge.present;
  }

  [[nodiscard]] int count_of(Where where) const {
    switch (where) {
      case Where::device_v:
      case Where::device_a:
      case Where::device_meter:
        return static_cast<int>(replay_.day().devices.size());
      case Where::holder_a:
        return static_cast<int>(replay_.day().holders.size());
      case Where::supply_a:
        return static_cast<int>(replay_.day().supplies.size());
      case Where::gauge:
        return static_cast<int>(replay_.day().packs.size());
    }
    return 0;
  }

 private:
  static void find_next(const odds::Part& part, double now_s, Watched& watched) {
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
  // Of the day that was put on that part.
  double untouched_loss_s(std::size_t k, double until_s) {
    return with_hands_so_far(k, until_s, replay_.run_on_to_loss_s(replay_.parts()[k], until_s, watched_[k].plan_so_far));
  }
  // The same where packs are waited for too: one run tells both.
  double untouched_with_packs(std::size_t k, double loss_until_s, std::vector<double>& packs_s) {
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
  double with_hands_so_far(std::size_t k, double until_s, double lost_s) {
    odds::Part& part = replay_.parts()[k];
    if (lost_s >= at_s_ || !part.plans_anew) return lost_s;
    forecast::ChangePlan plan = replay_.plan_of_the_day(part, at_s_);
    std::erase_if(plan, [this](const forecast::PlannedChange& change) { return change.at_s > at_s_; });
    return replay_.run_on_to_loss_s(part, until_s, plan);
  }
  void look_at(odds::Part& part, const odds::Luck& luck, const std::vector<double>& probe_s) {
    replay_.apply(part, luck);
    forecast::RunOptions run = replay_.run_options(replay_.until_s());
    run.probe_s = probe_s;
    run.stop_s = probe_s.back();
    part.simulator->run(part.plan, run, result_);
  }
  // 0 where the run did not get so far.
  [[nodiscard]] double value_at(const odds::Part& part, std::size_t probe, const Reading& reading, int index) const {
    if (probe >= result_.probes.size()) return 0.0;
    return value_of(part.piece->day, result_.probes[probe], reading, inside(*part.piece, reading, index));
  }

  const std::vector<Reading>& readings_;
  double at_s_;
  odds::Replay replay_;
  std::vector<Watched> watched_;  // by part
  std::map<std::pair<int, int>, int> same_;
  forecast::DayRun result_;
};

// As many trackers as the work is shared out to; each point belongs to one of them, so the answer is the same on any
// number of threads.
class Trackers {
 public:
  Trackers(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options,
           const odds::Each& each)
      : each_(each) {
    all_.resize(kShares);
    each_(kShares, [&](std::size_t k) { all_[k] = std::make_unique<Tracker>(scenario, readings, options); });
  }

  [[nodiscard]] Tracker& first() { return *all_.front(); }

  // body(tracker, of) for all of 0 ... count - 1, those that one tracker has together in `of`.
  template <typename Body>
  void work_together(std::size_t count, const Body& body) {
    each_(kShares, [&](std::size_t share) {
      std::vector<std::size_t> of;
      for (std::size_t k = share; k < count; k += kShares) of.push_back(k);
      body(*all_[share], of);
    });
  }
  // body(tracker, k) for k = 0 ... count - 1; each writes only what is its own.
  template <typename Body>
  void work(std::size_t count, const Body& body) {
    each_(kShares, [&](std::size_t share) {
      for (std::size_t k = share; k < count; k += kShares) body(*all_[share], k);
    });
  }

 private:
  static constexpr std::size_t kShares = 2;
  const odds::Each& each_;
  std::vector<std::unique_ptr<Tracker>> all_;
};

void look(Trackers& trackers, Cloud& cloud, const Proposal* proposal, std::uint32_t count, std::uint64_t seed) {
  const std::size_t first = cloud.add(proposal, count, seed);
  trackers.work(count, [&](Tracker& tracker, std::size_t k) {
    const std::size_t own = first + k;
    cloud.log_likely[own] =
        tracker.log_likelihood(cloud.points[own], static_cast<std::uint32_t>(own), cloud.values[own]);
  });
}

double deviation(const std::vector<Point>& points, const std::vector<double>& weights, int d) {
  double sum = 0.0;
  double mean = 0.0;
  double square = 0.0;
  for (std::size_t k = 0; k < points.size(); ++k) {
    sum += weights[k];
    mean += weights[k] * points[k][at(d)];
    square += weights[k] * points[k][at(d)] * points[k][at(d)];
  }
  mean /= sum;
  return std::sqrt(std::max(square / sum - mean * mean, 0.0));
}

// Why a doubted reading may be wrong: a slipped decimal point, or another thing of its kind.
void find_reason(Tracker& tracker, const Reading& reading, const Point& middle, Explained& out) {
  const double room = kFits * std::sqrt(tracker.variance(reading)) + 0.5 * (out.high - out.low);
  for (const double slip : {10.0, 0.1, 100.0, 0.01}) {
    if (std::fabs(reading.value * slip - out.expected) <= std::max(room, kNearby * std::fabs(out.expected))) {
      out.slipped = reading.value * slip;
      return;
    }
  }
  if (reading.where == Where::device_meter) return;  // another device has another scale
  double best = room;
  for (int other = 0; other < tracker.count_of(reading.where); ++other) {
    if (other == reading.index || !tracker.shows(reading.where, other)) continue;
    const std::optional<double> would = tracker.other_value(middle, reading, other);
    if (!would || std::fabs(*would - reading.value) >= best) continue;
    best = std::fabs(*would - reading.value);
    out.other = other;
  }
}

}  // namespace

double weighted_quantile(std::vector<double> values, const std::vector<double>& weights, double p) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return values[a] != values[b] ? values[a] < values[b] : a < b; });
  const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
  double so_far = 0.0;
  for (const std::size_t k : order) {
    so_far += weights[k];
    if (so_far >= p * sum) return values[k];
  }
  return values.empty() ? 0.0 : values[order.back()];
}

Answer track(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options,
             const odds::Each& each) {
  Trackers trackers(scenario, readings, options, each);
  Tracker& tracker = trackers.first();
  for (const Reading& reading : readings) {
    if (reading.index < 0 || reading.index >= tracker.count_of(reading.where))
      throw std::invalid_argument("a reading of something the day does not have");
    if (reading.where == Where::device_meter && reading.scale.empty())
      throw std::invalid_argument("a meter's reading without its scale");
  }
  Answer answer;
  // From the prior to the posterior in rounds: as much of the readings as the points so far bear, a new proposal each.
  std::unique_ptr<Proposal> proposal;
  Cloud cloud;
  std::uint64_t seed = options.seed + 1000;
  if (!readings.empty()) {
    for (answer.rounds = 1; answer.rounds <= kMostRounds; ++answer.rounds) {
      look(trackers, cloud, proposal.get(), kPilotPoints, seed++);
      const double share = cloud.bearable(kPilotEnough);
      proposal = std::make_unique<Proposal>(Proposal::fitted(cloud.points, cloud.weights(share)));
      if (share >= 1.0) break;
    }
  }
  const std::uint32_t count = readings.empty() ? std::max(options.points, kUnread) : options.points;
  for (;;) {
    look(trackers, cloud, proposal.get(), count, seed++);
    answer.weights = cloud.weights(1.0);
    answer.effective = effective(answer.weights);
    answer.settled = answer.effective >= kEnough;
    if (answer.settled || cloud.size() + count > kMostPoints) break;
    proposal = std::make_unique<Proposal>(Proposal::fitted(cloud.points, answer.weights));
  }
  // Systematic resampling: of many points of unequal weight few that count alike are carried on, each as often as the
  // comb meets it.
  if (!readings.empty()) {
    const double sum = std::accumulate(answer.weights.begin(), answer.weights.end(), 0.0);
    const double tooth = sum / static_cast<double>(kCarried);
    double so_far = 0.0;
    double next = 0.5 * tooth;
    for (double& w : answer.weights) {
      so_far += w;
      w = 0.0;
      for (; next < so_far; next += tooth) w += 1.0;
    }
  }
  std::vector<double> kept;
  std::vector<Point> points;
  std::vector<std::uint32_t> days;
  std::vector<std::vector<double>> values;
  for (std::size_t k = 0; k < cloud.points.size(); ++k) {
    const double w = answer.weights[k];
    if (w == 0.0) continue;
    const auto day = static_cast<std::uint32_t>(k);
    kept.push_back(w);
    points.push_back(cloud.points[k]);
    days.push_back(day);
    values.push_back(cloud.values[k]);
  }
  answer.weights = kept;
  answer.ends_s.resize(kept.size());
  std::vector<double> hands_s(kept.size());
  std::vector<int> goes_first(kept.size(), -1);
  answer.changes = tracker.changes();
  // Every point: each n-th of a scrambled Sobol sequence leaves out the same half of the load or the air each time.
  std::vector<std::vector<double>> of_points(answer.changes.empty() ? 0 : kept.size());
  trackers.work_together(kept.size(), [&](Tracker& tracker, const std::vector<std::size_t>& of) {
    std::vector<odds::Luck> own;
    for (const std::size_t k : of) own.push_back(Tracker::luck(points[k], days[k]));
    Tracker::Ends ends = tracker.ends_of(own, true);
    for (std::size_t i = 0; i < of.size(); ++i) {
      answer.ends_s[of[i]] = ends.planned_s[i];
      goes_first[of[i]] = ends.goes_first[i];
      hands_s[of[i]] = ends.untouched_s[i];
      if (!of_points.empty()) of_points[of[i]] = std::move(ends.packs_s[i]);
    }
  });
  const double kept_sum = std::accumulate(kept.begin(), kept.end(), 0.0);
  std::vector<double> goes(scenario.devices.size(), 0.0);
  for (std::size_t k = 0; k < kept.size(); ++k) {
    if (answer.ends_s[k] >= scenario.off_s) answer.probability += kept[k];
    if (hands_s[k] >= options.at_s + options.roll_s) answer.roll_probability += kept[k];
    if (goes_first[k] >= 0) goes[at(goes_first[k])] += kept[k];
  }
  for (std::size_t d = 0; d < goes.size(); ++d) {
    if (goes[d] > 0.0) answer.first_to_go.push_back({static_cast<int>(d), goes[d] / kept_sum});
  }
  sort_stably(answer.first_to_go, [](const FirstToGo& a, const FirstToGo& b) { return a.share > b.share; });
  // Summed in the order of `kept_sum`, so that all of them are exactly one.
  answer.probability /= kept_sum;
  answer.roll_probability /= kept_sum;
  answer.safe_s = weighted_quantile(answer.ends_s, kept, 0.1);
  answer.likely_s = weighted_quantile(answer.ends_s, kept, 0.5);
  answer.long_s = weighted_quantile(answer.ends_s, kept, 0.9);
  answer.hands_safe_s = weighted_quantile(hands_s, kept, 0.1);
  answer.hands_likely_s = weighted_quantile(hands_s, kept, 0.5);
  for (std::size_t c = 0; c < answer.changes.size(); ++c) {
    std::vector<double> ended_s;
    for (const std::vector<double>& of_point : of_points) ended_s.push_back(of_point[c]);
    answer.changes[c].safe_s = weighted_quantile(ended_s, kept, 0.1);
    answer.changes[c].likely_s = weighted_quantile(ended_s, kept, 0.5);
  }
  sort_stably(answer.changes, [](const odds::ChangeOdds& a, const odds::ChangeOdds& b) { return a.safe_s < b.safe_s; });
  // Before the readings, the day as it stands.
  if (!readings.empty()) {
    std::vector<double> before_s(kBefore);
    trackers.work_together(kBefore, [&](Tracker& tracker, const std::vector<std::size_t>& of) {
      std::vector<odds::Luck> own;
      for (const std::size_t k : of) {
        const auto index = static_cast<std::uint32_t>(k);
        own.push_back(Tracker::luck(prior_draw(index, options.seed), index));
      }
      const Tracker::Ends ends = tracker.ends_of(own, false);
      for (std::size_t i = 0; i < of.size(); ++i) before_s[of[i]] = ends.planned_s[i];
    });
    const std::vector<double> even(kBefore, 1.0);
    answer.plan_safe_s = weighted_quantile(before_s, even, 0.1);
    answer.plan_likely_s = weighted_quantile(before_s, even, 0.5);
  } else {
    answer.plan_safe_s = answer.safe_s;
    answer.plan_likely_s = answer.likely_s;
  }
  Point middle{};
  for (std::size_t k = 0; k < kept.size(); ++k) {
    for (int d = 0; d < kUnknowns; ++d) middle[at(d)] += kept[k] / kept_sum * points[k][at(d)];
  }
  for (std::size_t r = 0; r < readings.size(); ++r) {
    const Reading& reading = readings[r];
    std::vector<double> column;
    Explained explained;
    for (std::size_t k = 0; k < kept.size(); ++k) {
      column.push_back(values[k][r]);
      const double good = (1.0 - kMistakes) * Tracker::normal(reading.value - values[k][r], tracker.variance(reading));
      const double wrong = kMistakes / reading.width;
      explained.doubt += kept[k] / kept_sum * wrong / (good + wrong);
    }
    explained.expected = weighted_quantile(column, kept, 0.5);
    explained.low = weighted_quantile(column, kept, 0.05);
    explained.high = weighted_quantile(column, kept, 0.95);
    if (explained.doubt > 0.5) find_reason(tracker, reading, middle, explained);
    answer.readings.push_back(explained);
  }
  for (int d = 0; d < kUnknowns; ++d) {
    // The folded normal's standard deviation is sqrt(1 - 2/pi).
    const double prior = d == odds::kStartCharge ? 0.60281027 : 1.0;
    answer.unknowns.push_back({odds::driver_names()[at(d)], std::min(deviation(points, kept, d) / prior, 1.0)});
  }
  return answer;
}

}  // namespace tillwrap::track
