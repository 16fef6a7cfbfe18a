#include "track/track.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>
#include <optional>
#include <stdexcept>

#include "quantity/order.hpp"

namespace tillwrap::track {

namespace {

constexpr double kEnough = 400.0;
constexpr int kMostRounds = 8;
constexpr std::uint32_t kPilotPoints = 256;
constexpr std::uint32_t kUnread = 640;  // points where nothing was read
constexpr std::size_t kCarried = 400;   // points followed to the day's end
constexpr double kPilotEnough = 60.0;
constexpr std::size_t kMostPoints = 8192;
constexpr std::size_t kBefore = 128;  // days to say how it stood before the readings
constexpr double kFits = 3.0;         // standard deviations
constexpr double kNearby = 0.1;       // a slipped point is told from other mistakes by its size, not to the last digit
constexpr std::uint32_t kRounding = 64;  // points; this and the next by trial
constexpr double kAhead = 1.1;
constexpr std::size_t kEndNumbers = 3;  // of each carried point, besides its packs

std::size_t at(int i) { return static_cast<std::size_t>(i); }

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
void find_reason(Tracker& tracker, const Reading& reading, const DrawnDay& middle, Explained& out) {
  const double room = kFits * std::sqrt(tracker.variance(reading)) + 0.5 * (out.high - out.low);
  for (const double slip : {10.0, 0.1, 100.0, 0.01}) {
    if (std::fabs(reading.value * slip - out.expected) <= std::max(room, kNearby * std::fabs(out.expected))) {
      out.slipped = reading.value * slip;
      return;
    }
  }
  if (reading.where == Where::device_meter) return;  // another device has another scale
  double best = room;
  for (int other = 0; other < count_of(tracker.day(), reading.where); ++other) {
    if (other == reading.index || !tracker.shows(reading.where, other)) continue;
    const std::optional<double> would = tracker.other_value(middle, reading, other);
    if (!would || std::fabs(*would - reading.value) >= best) continue;
    best = std::fabs(*would - reading.value);
    out.other = other;
  }
}

// Systematic resampling: of many points of unequal weight few that count alike are carried on, each as often as the
// comb meets it.
void comb(std::vector<double>& weights) {
  const double tooth = std::accumulate(weights.begin(), weights.end(), 0.0) / static_cast<double>(kCarried);
  double so_far = 0.0;
  double next = 0.5 * tooth;
  for (double& w : weights) {
    so_far += w;
    w = 0.0;
    for (; next < so_far; next += tooth) w += 1.0;
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

Tracking::Tracking(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options)
    : scenario_(scenario), readings_(readings), options_(options), seed_(options.seed + 1000) {
  for (const Reading& reading : readings) {
    if (reading.index < 0 || reading.index >= count_of(scenario, reading.where))
      throw std::invalid_argument("a reading of something the day does not have");
    if (reading.where == Where::device_meter && reading.scale.empty())
      throw std::invalid_argument("a meter's reading without its scale");
  }
  if (readings.empty()) {
    look_next(Step::points, std::max(options.points, kUnread));
  } else {
    answer_.rounds = 1;
    look_next(Step::pilot, kPilotPoints);
  }
}

void Tracking::look_next(Step step, std::uint32_t count) {
  step_ = step;
  count_ = count;
  first_ = cloud_.add(proposal_.get(), count, seed_++);
}

Tracker& Tracking::tracker(std::size_t k) {
  if (!trackers_[k]) trackers_[k] = std::make_unique<Tracker>(scenario_, readings_, options_);
  return *trackers_[k];
}

// One that is there already, where there is one.
Tracker& Tracking::any_tracker() { return tracker(trackers_[0] || !trackers_[1] ? 0 : 1); }

// Each point belongs to one share from beginning to end, so the answer is the same wherever the shares are computed.
std::vector<std::size_t> Tracking::own(std::size_t k) const {
  std::vector<std::size_t> found;
  if (step_ == Step::ends) {
    std::copy_if(kept_.begin(), kept_.end(), std::back_inserter(found),
                 [k](std::size_t point) { return point % kShares == k; });
  } else {
    for (std::size_t point = first_; point < first_ + count_; ++point) {
      if (point % kShares == k) found.push_back(point);
    }
  }
  return found;
}

DrawnDay Tracking::drawn(std::size_t point) const {
  return {.point = cloud_.points[point], .number = static_cast<std::uint32_t>(point)};
}

std::vector<double> Tracking::share(std::size_t k) {
  std::vector<double> numbers;
  if (step_ != Step::ends) {
    std::vector<double> values;
    for (const std::size_t point : own(k)) {
      numbers.push_back(tracker(k).log_likelihood(drawn(point), values));
      numbers.insert(numbers.end(), values.begin(), values.end());
    }
    return numbers;
  }
  std::vector<DrawnDay> days;
  for (const std::size_t point : own(k)) days.push_back(drawn(point));
  const std::size_t carried = days.size();
  for (const std::size_t point : before(k)) days.push_back(drawn(point));
  const std::vector<Tracker::End> ends = tracker(k).ends_of(days, carried);
  for (std::size_t i = 0; i < ends.size(); ++i) {
    numbers.push_back(ends[i].planned_s);
    if (i >= carried) continue;
    numbers.insert(numbers.end(), {static_cast<double>(ends[i].goes_first), ends[i].untouched_s});
    numbers.insert(numbers.end(), ends[i].packs_s.begin(), ends[i].packs_s.end());
  }
  return numbers;
}

// Before the readings, the day as it stands: the first points are the prior's. Those that are not carried on.
std::vector<std::size_t> Tracking::before(std::size_t k) const {
  std::vector<std::size_t> found;
  for (std::size_t point = 0; point < kBefore && !readings_.empty(); ++point) {
    if (point % kShares == k && !std::binary_search(kept_.begin(), kept_.end(), point)) found.push_back(point);
  }
  return found;
}

bool Tracking::fits(std::size_t k, const std::vector<double>& numbers) const {
  const std::size_t points = own(k).size();
  const bool finite = std::all_of(numbers.begin(), numbers.end(), [](double x) { return std::isfinite(x); });
  if (step_ != Step::ends) return finite && numbers.size() == points * (1 + readings_.size());
  const std::size_t each = kEndNumbers + answer_.changes.size();
  if (!finite || numbers.size() != points * each + before(k).size()) return false;
  const auto devices = static_cast<double>(scenario_.devices.size());
  for (std::size_t point = 0; point < points; ++point) {
    const double goes_first = numbers[point * each + 1];
    if (goes_first < -1.0 || goes_first >= devices) return false;
  }
  return true;
}

void Tracking::take(const std::array<std::vector<double>, kShares>& shares) {
  for (std::size_t k = 0; k < kShares; ++k) {
    if (!fits(k, shares[k])) throw std::invalid_argument("numbers of another step");
  }
  for (std::size_t k = 0; k < kShares; ++k) take_share(k, shares[k]);
  if (step_ == Step::pilot) {
    // From the prior to the posterior in rounds: as much of the readings as the points so far bear, a new proposal
    // each.
    const double share = cloud_.bearable(kPilotEnough);
    proposal_ = std::make_unique<Proposal>(Proposal::fitted(cloud_.points, cloud_.weights(share)));
    if (share >= 1.0 || answer_.rounds == kMostRounds) return look_next(Step::points, options_.points);
    ++answer_.rounds;
    return look_next(Step::pilot, kPilotPoints);
  }
  if (step_ == Step::points) {
    answer_.weights = cloud_.weights(1.0);
    answer_.effective = effective(answer_.weights);
    answer_.settled = answer_.effective >= kEnough;
    if (answer_.settled || cloud_.size() + count_ > kMostPoints) return carry();
    proposal_ = std::make_unique<Proposal>(Proposal::fitted(cloud_.points, answer_.weights));
    return look_next(Step::points, still_wanted());
  }
  step_ = Step::done;
}

void Tracking::take_share(std::size_t k, const std::vector<double>& numbers) {
  const double* next = numbers.data();
  for (const std::size_t point : own(k)) {
    if (step_ != Step::ends) {
      cloud_.log_likely[point] = *next++;
      cloud_.values[point].assign(next, next + readings_.size());
      next += readings_.size();
      continue;
    }
    Tracker::End& end =
        ends_[static_cast<std::size_t>(std::lower_bound(kept_.begin(), kept_.end(), point) - kept_.begin())];
    end = {.planned_s = next[0], .goes_first = static_cast<int>(next[1]), .untouched_s = next[2]};
    next += kEndNumbers;
    end.packs_s.assign(next, next + answer_.changes.size());
    next += answer_.changes.size();
  }
  if (step_ != Step::ends) return;
  for (const std::size_t point : before(k)) before_s_[point] = *next++;
  for (std::size_t i = 0; i < kept_.size() && kept_[i] < kBefore; ++i) before_s_[kept_[i]] = ends_[i].planned_s;
}

void Tracking::carry() {
  if (!readings_.empty()) comb(answer_.weights);
  std::vector<double> weights;
  for (std::size_t point = 0; point < cloud_.size(); ++point) {
    if (answer_.weights[point] == 0.0) continue;
    kept_.push_back(point);
    weights.push_back(answer_.weights[point]);
  }
  answer_.weights = weights;
  answer_.changes = any_tracker().changes();
  ends_.resize(kept_.size());
  before_s_.resize(kBefore);
  step_ = Step::ends;
}

// By how much each has helped so far, a little more than it takes, no more than four times the first ones.
std::uint32_t Tracking::still_wanted() const {
  const double each = std::max(answer_.effective / static_cast<double>(cloud_.size()), 1e-3);
  const double wanted = kAhead * (kEnough - answer_.effective) / each;
  const std::uint32_t most = 4 * options_.points;
  const auto rounded = kRounding * static_cast<std::uint32_t>(std::ceil(std::min(wanted, 1.0 * most) / kRounding));
  return std::min(rounded, most);
}

// Those of the points carried on.
Answer Tracking::answer() {
  Answer answer = answer_;
  const std::vector<double>& kept = answer.weights;
  const double kept_sum = std::accumulate(kept.begin(), kept.end(), 0.0);
  std::vector<double> hands_s;
  std::vector<double> goes(scenario_.devices.size(), 0.0);
  for (std::size_t k = 0; k < kept.size(); ++k) {
    const Tracker::End& end = ends_[k];
    answer.ends_s.push_back(end.planned_s);
    hands_s.push_back(end.untouched_s);
    if (end.planned_s >= scenario_.off_s) answer.probability += kept[k];
    if (end.untouched_s >= options_.at_s + options_.roll_s) answer.roll_probability += kept[k];
    if (end.goes_first >= 0) goes[at(end.goes_first)] += kept[k];
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
    for (const Tracker::End& end : ends_) ended_s.push_back(end.packs_s[c]);
    answer.changes[c].safe_s = weighted_quantile(ended_s, kept, 0.1);
    answer.changes[c].likely_s = weighted_quantile(ended_s, kept, 0.5);
  }
  sort_stably(answer.changes, [](const odds::ChangeOdds& a, const odds::ChangeOdds& b) { return a.safe_s < b.safe_s; });
  if (readings_.empty()) {
    answer.plan_safe_s = answer.safe_s;
    answer.plan_likely_s = answer.likely_s;
  } else {
    const std::vector<double> even(kBefore, 1.0);
    answer.plan_safe_s = weighted_quantile(before_s_, even, 0.1);
    answer.plan_likely_s = weighted_quantile(before_s_, even, 0.5);
  }
  explain(answer, kept_sum);
  return answer;
}

// What the points say of each reading, and the readings of the unknowns.
void Tracking::explain(Answer& answer, double kept_sum) {
  const std::vector<double>& kept = answer.weights;
  DrawnDay middle;
  std::vector<Point> points;
  for (std::size_t k = 0; k < kept.size(); ++k) {
    points.push_back(cloud_.points[kept_[k]]);
    for (int d = 0; d < kUnknowns; ++d) middle.point[at(d)] += kept[k] / kept_sum * points[k][at(d)];
  }
  for (std::size_t r = 0; r < readings_.size(); ++r) {
    const Reading& reading = readings_[r];
    const double variance = any_tracker().variance(reading);
    std::vector<double> column;
    Explained explained;
    for (std::size_t k = 0; k < kept.size(); ++k) {
      column.push_back(cloud_.values[kept_[k]][r]);
      explained.doubt += kept[k] / kept_sum * doubt(reading, reading.value - column[k], variance);
    }
    explained.expected = weighted_quantile(column, kept, 0.5);
    explained.low = weighted_quantile(column, kept, 0.05);
    explained.high = weighted_quantile(column, kept, 0.95);
    if (explained.doubt > 0.5) find_reason(any_tracker(), reading, middle, explained);
    answer.readings.push_back(explained);
  }
  for (int d = 0; d < kUnknowns; ++d) {
    // The folded normal's standard deviation is sqrt(1 - 2/pi).
    const double prior = d == odds::kStartCharge ? 0.60281027 : 1.0;
    answer.unknowns.push_back({odds::driver_names()[at(d)], std::min(deviation(points, kept, d) / prior, 1.0)});
  }
}

void in_steps(Tracking& tracking, const odds::Each& each) {
  while (!tracking.done()) {
    std::array<std::vector<double>, Tracking::kShares> shares;
    each(shares.size(), [&](std::size_t k) { shares[k] = tracking.share(k); });
    tracking.take(shares);
  }
}

Answer track(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options,
             const odds::Each& each) {
  Tracking tracking(scenario, readings, options);
  in_steps(tracking, each);
  return tracking.answer();
}

}  // namespace tillwrap::track
