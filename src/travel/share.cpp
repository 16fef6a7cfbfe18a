#include "travel/share.hpp"

#include <algorithm>
#include <set>

namespace tillwrap::travel {

namespace {

using Counts = std::vector<int>;

class Search {
 public:
  Search(const std::vector<Load>& loads, const std::vector<int>& most) : loads_(loads), most_(most) {}

  std::optional<Shares> run(int people) {
    Counts left;
    for (const Load& load : loads_) left.push_back(load.count);
    shares_.assign(static_cast<std::size_t>(people), Counts(loads_.size(), 0));
    for (const bool even : {true, false}) {
      even_ = even;
      refuted_.clear();
      if (person(0, left)) return shares_;
    }
    return std::nullopt;
  }

 private:
  // What is left must fit into what the people left may carry, limit by limit: necessary.
  [[nodiscard]] bool may_fit(const Counts& left, int people) const {
    for (std::size_t k = 0; k < most_.size(); ++k) {
      long sum = 0;
      for (std::size_t i = 0; i < loads_.size(); ++i) sum += static_cast<long>(left[i]) * loads_[i].weights[k];
      if (sum > static_cast<long>(most_[k]) * people) return false;
    }
    return true;
  }

  bool person(std::size_t who, const Counts& left) {
    if (std::all_of(left.begin(), left.end(), [](int n) { return n == 0; })) {
      for (std::size_t p = who; p < shares_.size(); ++p) shares_[p].assign(loads_.size(), 0);
      return true;
    }
    if (who == shares_.size() || !may_fit(left, static_cast<int>(shares_.size() - who))) return false;
    if (refuted_.contains({static_cast<int>(shares_.size() - who), left})) return false;
    shares_[who].assign(loads_.size(), 0);
    if (take(who, 0, left, most_)) return true;
    refuted_.insert({static_cast<int>(shares_.size() - who), left});
    return false;
  }

  // Chooses how much of load i this person takes, `room` being what the limits still allow.
  bool take(std::size_t who, std::size_t i, const Counts& left, const Counts& room) {
    if (i == loads_.size()) {
      Counts rest = left;
      for (std::size_t k = 0; k < rest.size(); ++k) rest[k] -= shares_[who][k];
      // Taking more never makes the rest harder, so only full hands need be looked at.
      if (!even_ && !full(rest, room)) return false;
      const Counts mine = shares_[who];
      if (person(who + 1, rest)) return true;
      shares_[who] = mine;
      return false;
    }
    int at_most = left[i];
    for (std::size_t k = 0; k < room.size(); ++k) {
      if (loads_[i].weights[k] > 0) at_most = std::min(at_most, room[k] / loads_[i].weights[k]);
    }
    const int people = static_cast<int>(shares_.size() - who);
    const int least = even_ ? left[i] / people : 0;
    const int top = even_ ? std::min(at_most, (left[i] + people - 1) / people) : at_most;
    for (int n = top; n >= least; --n) {
      shares_[who][i] = n;
      Counts rest = room;
      for (std::size_t k = 0; k < rest.size(); ++k) rest[k] -= n * loads_[i].weights[k];
      if (take(who, i + 1, left, rest)) return true;
    }
    shares_[who][i] = 0;
    return false;
  }

  [[nodiscard]] bool full(const Counts& rest, const Counts& room) const {
    for (std::size_t i = 0; i < loads_.size(); ++i) {
      if (rest[i] == 0) continue;
      bool fits = true;
      for (std::size_t k = 0; k < room.size(); ++k) fits = fits && loads_[i].weights[k] <= room[k];
      if (fits) return false;
    }
    return true;
  }

  const std::vector<Load>& loads_;
  const std::vector<int>& most_;
  Shares shares_;
  std::set<std::pair<int, Counts>> refuted_;
  bool even_ = true;
};

}  // namespace

std::optional<Shares> share(const std::vector<Load>& loads, const std::vector<int>& most, int people) {
  if (people < 0) return std::nullopt;
  return Search(loads, most).run(people);
}

std::optional<int> people_needed(const std::vector<Load>& loads, const std::vector<int>& most) {
  int things = 0;
  int least = 0;
  for (const Load& load : loads) {
    if (load.count == 0) continue;
    things += load.count;
    least = std::max(least, 1);
    for (std::size_t k = 0; k < most.size(); ++k) {
      if (load.weights[k] > most[k]) return std::nullopt;
    }
  }
  for (std::size_t k = 0; k < most.size(); ++k) {
    int sum = 0;
    for (const Load& load : loads) sum += load.count * load.weights[k];
    if (sum > 0) least = std::max(least, (sum + most[k] - 1) / most[k]);
  }
  for (int people = least; people <= things; ++people) {
    if (share(loads, most, people)) return people;
  }
  return least;
}

}  // namespace tillwrap::travel
