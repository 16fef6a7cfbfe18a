// What the readings of a running day say of how it will go on: the day is replayed with a few unknowns that stay the
// same all day (odds/draw.hpp), points of them are weighted by how well they explain what was read, and the same runs
// carried on tell when it ends (docs/model.md, tracking).
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "odds/odds.hpp"
#include "odds/work.hpp"
#include "track/cloud.hpp"
#include "track/options.hpp"
#include "track/reading.hpp"
#include "track/tracker.hpp"

namespace tillwrap::track {

struct Explained {               // one reading, by the weighted points
  double expected = 0.0;         // median of what the model gives there
  double low = 0.0, high = 0.0;  // 5 and 95 %, the reading's own scatter not counted
  double doubt = 0.0;            // probability that it is a mistake
  // Of a doubted one: the value that a slip of the decimal point would make of it, 0 = none fits; and the other thing
  // of its kind that it fits, -1 = none.
  double slipped = 0.0;
  int other = -1;
};

struct Unknown {
  std::string name;
  double left = 1.0;  // standard deviation after the readings over that before
};

// How often a device is the first to go, as planned, up to the end of the search.
struct FirstToGo {
  int device = 0;
  double share = 0.0;  // of the weight
};

struct Answer {
  double effective = 0.0;  // sample size
  int rounds = 0;
  bool settled = false;                               // effective sample of at least 400
  double probability = 0.0;                           // every must-run device reaches off
  double safe_s = 0.0, likely_s = 0.0, long_s = 0.0;  // when it ends: 10, 50, 90 %
  double plan_safe_s = 0.0, plan_likely_s = 0.0;      // before the readings
  double hands_safe_s = 0.0, hands_likely_s = 0.0;    // until when it runs if nobody changes anything from now on
  double roll_probability = 0.0;                      // it runs for roll_s from now with no hands on it
  std::vector<FirstToGo> first_to_go;                 // most often first
  std::vector<odds::ChangeOdds> changes;              // of each holder the next to come, the soonest needed first
  std::vector<Explained> readings;                    // one each
  std::vector<Unknown> unknowns;
  std::vector<double> ends_s;  // of the final points, and their weights, for whoever wants the whole band
  std::vector<double> weights;
};

// Value below which a share `p` of the weight lies.
double weighted_quantile(std::vector<double> values, const std::vector<double>& weights, double p);

// Tracking in steps, for whoever shares the work out between places that do not see each other: each place has its own
// of the same question and computes its share of a step; all are given the results of all shares before the next one.
// The scenario, readings in any order, none after `at_s`, must outlive it. Throws std::invalid_argument when an index
// is out of range or a meter's scale is missing.
class Tracking {
 public:
  static constexpr std::size_t kShares = 2;

  Tracking(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options);

  [[nodiscard]] bool done() const { return step_ == Step::done; }
  [[nodiscard]] bool at_last_step() const { return step_ == Step::ends; }
  // One share of the step that comes next; different shares on different threads.
  std::vector<double> share(std::size_t k);
  // Whether these can be what that share of the step that comes next gave.
  [[nodiscard]] bool fits(std::size_t k, const std::vector<double>& numbers) const;
  // Throws std::invalid_argument where they do not fit.
  void take(const std::array<std::vector<double>, kShares>& shares);
  Answer answer();  // once it is done

 private:
  enum class Step { pilot, points, ends, done };

  void look_next(Step step, std::uint32_t count);
  [[nodiscard]] std::uint32_t still_wanted() const;
  void carry();
  void take_share(std::size_t k, const std::vector<double>& numbers);
  void explain(Answer& answer, double kept_sum);
  Tracker& tracker(std::size_t k);
  Tracker& any_tracker();
  [[nodiscard]] std::vector<std::size_t> own(std::size_t k) const;  // points of this step
  [[nodiscard]] std::vector<std::size_t> before(std::size_t k) const;
  [[nodiscard]] DrawnDay drawn(std::size_t point) const;

  const day::Scenario& scenario_;
  const std::vector<Reading>& readings_;
  Options options_;
  std::array<std::unique_ptr<Tracker>, kShares> trackers_;
  Step step_ = Step::pilot;
  // The points being looked at.
  std::size_t first_ = 0;
  std::uint32_t count_ = 0;
  std::uint64_t seed_ = 0;
  std::unique_ptr<Proposal> proposal_;
  Cloud cloud_;
  Answer answer_;
  // The points carried on, rising, and what came of them; days before the readings.
  std::vector<std::size_t> kept_;
  std::vector<Tracker::End> ends_;
  std::vector<double> before_s_;
};

// Takes all its steps.
void in_steps(Tracking& tracking, const odds::Each& each);

// The answer; the same however `each` shares them out.
Answer track(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options,
             const odds::Each& each = odds::one_after_another);

}  // namespace tillwrap::track
