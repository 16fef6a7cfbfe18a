// Days of a few unknowns, replayed: what would have been read on each, and how it goes on from now.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "odds/odds.hpp"
#include "odds/replay.hpp"
#include "track/options.hpp"
#include "track/proposal.hpp"
#include "track/reading.hpp"

namespace tillwrap::track {

// A point and its number, which draws what each pack and device has for itself.
struct DrawnDay {
  Point point{};
  std::uint32_t number = 0;
  [[nodiscard]] odds::Luck luck() const;
};

class Tracker {
 public:
  // Both must outlive it.
  Tracker(const day::Scenario& scenario, const std::vector<Reading>& readings, const Options& options);

  [[nodiscard]] const day::Scenario& day() const { return replay_.day(); }
  // Scatter of a reading about what the model gives, squared: what the model is off by is the same each time, so over n
  // readings at one place its mean stays as doubtful as one.
  [[nodiscard]] double variance(const Reading& reading) const;

  // log of how probable the readings are on that day; fills what the model gives at each. How the day stands at the
  // last of them is held, for `end_of` to go on from.
  double log_likelihood(const DrawnDay& day, std::vector<double>& values);

  // What a day comes to.
  struct End {
    double planned_s = 0.0;
    int goes_first = -1;          // as planned; -1: nothing does
    double untouched_s = 0.0;     // with nobody's hands on it from now on
    std::vector<double> packs_s;  // how long the pack in each holder would serve if it stayed in, in the order of
                                  // `changes`
  };
  // Of days whose likelihood this tracker has computed. Of those beyond the first `carried` only `planned_s` is told.
  std::vector<End> ends_of(const std::vector<DrawnDay>& days, std::size_t carried);

  // Of each holder the change to come, without its odds.
  [[nodiscard]] std::vector<odds::ChangeOdds> changes();

  // What another thing of the same kind would have read on that day, for "the wrong pack"; nothing where it is in no
  // piece that is followed.
  std::optional<double> other_value(const DrawnDay& day, const Reading& reading, int index);
  // A pack without a gauge cannot have been the one that was read.
  [[nodiscard]] bool shows(Where where, int index) const;

 private:
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
    std::vector<Next> next;                         // of each holder the change to come, where there is one
    std::map<std::uint32_t, forecast::Marks> held;  // by the day's number: as it stood at the last reading
  };

  void watch(const odds::Part& part);
  static void find_next(const odds::Part& part, double now_s, Watched& watched);
  void begin(std::size_t k, const DrawnDay& day);
  double untouched_loss_s(std::size_t k, double until_s);
  double untouched_with_packs(std::size_t k, double loss_until_s, std::vector<double>& packs_s);
  double with_hands_so_far(std::size_t k, double until_s, double lost_s);
  void look_at(odds::Part& part, const odds::Luck& luck, const std::vector<double>& probe_s, forecast::Marks& marks);
  [[nodiscard]] double value_at(const odds::Part& part, std::size_t probe, const Reading& reading, int index) const;

  const std::vector<Reading>& readings_;
  double at_s_;
  odds::Replay replay_;
  std::vector<Watched> watched_;  // by part
  std::map<std::pair<int, int>, int> same_;
  forecast::DayRun result_;
};

// Density of what is read there, of that variance.
double normal_density(double off, double variance);

// log of how probable a reading is where the model gives `off` less; one that was typed or taken wrong counts the same
// wherever it lies.
double log_density(const Reading& reading, double off, double variance);
// Probability that it is a mistake there.
double doubt(const Reading& reading, double off, double variance);

}  // namespace tillwrap::track
