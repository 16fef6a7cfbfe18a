// Which packs go where and when, searched exactly over tables of how far each pack carries each holder on each day.
// Knows nothing of volts: an oracle answers what one use of a pack is good for.
#pragma once

#include <array>
#include <compare>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "choose/day_bits.hpp"

namespace tillwrap::choose {

// A pack put into a holder at one of its moments. A pack that served here before (`before_in` to `before_out`) and
// comes back is another use; it may have been in a charger bay between.
struct Use {
  int holder = 0;
  int kind = 0;
  int in = 0;          // index into the holder's moments
  int before_in = -1;  // -1: fresh
  int before_out = -1;
  bool charged = false;
  [[nodiscard]] bool returns() const { return before_in >= 0; }
  friend auto operator<=>(const Use&, const Use&) = default;
};

// Moment from which the holder's must-run devices are lost if the pack stays in; kNever when they reach the end.
struct Carry {
  std::vector<double> until_s;  // one a day; not filled in when hopeless
  bool hopeless = false;        // lost before the moment asked for on more days than the problem allows
};

struct BayStay {
  double from_s = 0.0;
  double until_s = 0.0;
  std::vector<int> bays;  // those that take it
};

// Answers about single uses. The same question always has the same answer.
class Oracle {
 public:
  virtual ~Oracle() = default;
  // Says which uses will be asked for, so that they may be computed together. A use that gets to `at_least_s` on too
  // few days may be answered "hopeless" and left there.
  virtual void prepare(const std::vector<Use>& uses, const std::vector<double>& at_least_s) = 0;
  virtual const Carry& carry(const Use& use, double at_least_s) = 0;
  // When the pack of this returning use would be on charge; nothing when no bay is live between.
  virtual std::optional<BayStay> stay(const Use& use) = 0;
  // Counts the times an answer about this holder's uses was made better known; between, answers stay as they are.
  virtual long version(int holder) = 0;
  // Millionths of the pack's life one turn costs.
  virtual std::int64_t wear(const Use& use, int out) = 0;
};

// Packs that count as the same.
struct Kind {
  int stock = 0;
  std::int64_t grams = 0;
  std::int64_t cents = 0;  // spent when used (cells thrown away)
};

struct HolderTask {
  std::vector<double> moments;  // when a pack may go in; the first pack goes in at the first
  std::vector<int> kinds;       // that fit
};

class JointOracle;

// Holders that feed a thing together.
struct JointGroup {
  std::vector<HolderTask> seats;
  JointOracle* oracle = nullptr;
};

struct Problem {
  int days = 0;
  int need = 0;  // days to be covered
  double end_s = 0.0;
  std::vector<Kind> kinds;
  std::vector<HolderTask> holders;
  DayBits lost;  // days lost whatever is chosen
  bool one_loss = false;
  bool returns = true;             // packs may come back into their holder
  std::vector<JointGroup> groups;  // holders planned as one, beside `holders`
};

// Compared in order. Changes outside windows would come first; must-run devices allow none.
struct Cost {
  std::array<std::int64_t, 5> part{};  // changes, packs, grams, cents, wear
  [[nodiscard]] std::int64_t changes() const { return part[0]; }
  [[nodiscard]] std::int64_t packs() const { return part[1]; }
  friend Cost operator+(Cost a, const Cost& b) {
    for (std::size_t k = 0; k < a.part.size(); ++k) a.part[k] += b.part[k];
    return a;
  }
  friend auto operator<=>(const Cost&, const Cost&) = default;
};

struct Turn {
  Use use;
  int out = 0;  // index of the moment it comes out; moments.size(): stays to the end
  friend bool operator==(const Turn&, const Turn&) = default;
};

struct Charging {
  int holder = 0;  // whose pack, as in Answer::turns
  std::size_t turn = 0;
  int bay = 0;
  double from_s = 0.0;
  double until_s = 0.0;
};

struct Answer {
  bool feasible = false;
  bool complete = true;  // no limit cut the search short: the best is the best
  Cost cost;
  std::optional<Cost> bound;             // no plan costs less: each holder alone with all packs to itself
  std::vector<std::vector<Turn>> turns;  // by holder, then by seat of each group
  std::vector<Charging> charging;
  std::vector<int> spares;  // kinds, one pack each, that one-loss needs
  DayBits lost;             // days this plan does not cover
  std::vector<double>
      reach_s;  // by holder, then by group: how far it gets on enough days, all packs to itself; kNever: to the end
  std::vector<int>
      short_holders;  // infeasible, as in reach_s: those that fail alone, or those without which the rest can be served
  std::vector<Use> returning;  // uses of packs that come back in the plans compared, the cheapest plans' first
  long visited = 0;
};

// ---- the parts of the search, for its own files and its tests

// One way to serve one holder from the first moment to the end.
struct HolderPlan {
  std::vector<Turn> turns;
  std::vector<int> used;  // packs by kind
  Cost cost;
  DayBits lost;
  // One-loss: for each pack of the plan, the days lost with it dead, by what takes its place (0: the pack before it
  // stays in; k: the spare of the k-th kind); nothing where that does not do.
  std::vector<std::vector<std::optional<DayBits>>> without;
  // Holders planned as one (joint.hpp): the turns of each, and what is on charge when.
  struct SeatStay {
    std::size_t seat, turn;
    BayStay stay;
  };
  std::vector<std::vector<Turn>> seats;
  std::vector<SeatStay> stays;
  std::size_t number = 0;
};

struct HolderPlans {
  std::vector<HolderPlan> plans;  // by cost; none that another beats in everything
  bool complete = true;
  double reach_s = 0.0;
};

// By how many turns are left: the earliest moment at which the first of them may begin and the last still reach the
// end, each turn by whichever kind does best and on its own count of lost days; [0] is the end. Ends where it gets no
// earlier. A returning pack is taken to carry no further than a fresh one of its kind.
std::vector<int> targets(const Problem& problem, int holder, Oracle& oracle);

// Every worthwhile plan with at most `most_turns` turns. Every use is held to `target`; without targets, to the next
// moment only.
HolderPlans plans_of(const Problem& problem, int holder, int most_turns, const std::vector<int>& spares,
                     const std::vector<int>& target, Oracle& oracle);

class JointPlans;

// Plans of holders whose answers have not changed since they were last searched, for one problem searched again.
struct PlanMemory {
  // holder, most turns, with returns, with one-loss, spares, version
  using Key = std::tuple<int, int, bool, bool, std::vector<int>, long>;
  std::map<Key, HolderPlans> known;
  bool returns_matter = false;
  std::map<std::pair<std::size_t, bool>, std::shared_ptr<JointPlans>> joint;  // by group, with returns
};

Answer search(const Problem& problem, Oracle& oracle, PlanMemory& memory);
Answer search(const Problem& problem, Oracle& oracle);

DayBits lost_before(const Carry& carry, double moment_s);

}  // namespace tillwrap::choose
