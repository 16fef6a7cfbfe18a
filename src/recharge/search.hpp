// Depth-first branch and bound over the moments of one night, times to get up given.
#pragma once

#include <map>
#include <vector>

#include "recharge/plan.hpp"

namespace tillwrap::recharge {

// The night cut where anything changes, and what holds in each stretch.
struct Timeline {
  std::vector<double> at_s;                   // from, ..., until
  std::vector<char> hands_at;                 // at that moment
  std::vector<char> hands_after;              // in the stretch that begins there
  std::vector<std::vector<char>> on;          // [stretch][station]
  std::vector<std::vector<double>> active_s;  // [moment][station]: seconds the station will charge from there on

  Timeline(const Problem& problem, const std::vector<double>& get_up_s);
};

class Search {
 public:
  Search(const Problem& problem, const std::vector<int>& tasks, const std::vector<int>& stations,
         const std::vector<double>& get_up_s, long most_nodes);

  // The best plan of these tasks; `to_beat` prunes. Cost without times to get up.
  Plan run();
  [[nodiscard]] Cost root_bound() const;

 private:
  struct State {
    double t = 0.0;
    std::size_t moment = 0;  // last one passed
    std::vector<double> share;
    std::vector<double> ready_s, full_s;
    std::vector<int> where;            // by task: station or -1
    std::vector<std::vector<int>> in;  // by station, in the order put in
    int put_ins = 0;
    double asleep_s = 0.0;  // charging with nobody awake
  };

  void go_on(State state);  // until hands can act
  void decide(const State& state, bool everything);
  void choose(State& state, std::size_t k, bool everything, const std::vector<int>& was);
  void leaf(const State& state);
  [[nodiscard]] bool affordable(const State& state) const;
  [[nodiscard]] Cost bound(const State& state) const;
  [[nodiscard]] int free_bays(const State& state, int station) const;
  [[nodiscard]] bool alike(int a, int b) const;
  bool known_better(const State& state);
  [[nodiscard]] std::int64_t weight(int task) const;
  [[nodiscard]] std::int64_t tenths(int task, double share) const;
  [[nodiscard]] std::int64_t minutes_full(const State& state, int task) const;  // to the end, where they count

  const Problem& problem_;
  std::vector<int> tasks_;  // in order of need
  std::vector<int> stations_;
  std::vector<Curve> fastest_;  // by task: at every share the quickest of its curves
  Timeline line_;
  long most_nodes_;
  bool have_ = false;
  Plan best_;
  std::vector<Move> moves_;
  std::map<std::vector<std::int64_t>, std::array<std::int64_t, 3>> seen_;
};

}  // namespace tillwrap::recharge
