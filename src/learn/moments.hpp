// The load at each moment at which something was read, as short stretches of the day of their own.
#pragma once

#include <vector>

#include "day/scenario.hpp"
#include "track/reading.hpp"

namespace tillwrap::learn {

struct Moment {
  double from_s = 0.0, until_s = 0.0;  // the load is its own from then to then
  double share =
      1.0;  // of the load around it, by amps: below 1 the lighter of two within minutes, something switched off
};

inline constexpr double kTogether_s = 120.0;  // read so close to one another they are of one load; from memory

[[nodiscard]] inline bool of_amps(track::Where where) {
  return where == track::Where::device_a || where == track::Where::holder_a || where == track::Where::supply_a;
}

// Readings (indices into `all`, in order of time) that were taken together: within two minutes, each point once.
std::vector<Moment> moments(const std::vector<track::Reading>& all, const std::vector<std::size_t>& which);

// A day whose load at each moment can be set.
class MomentLoads {
 public:
  // Divides the periods of `day` and gives its devices modes of their own at each moment.
  MomentLoads(day::Scenario& day, const std::vector<Moment>& moments);
  // One factor a moment, over the load of the mode then.
  void put(day::Scenario& day, const std::vector<double>& factors) const;

 private:
  struct Scaled {
    std::size_t device, mode, moment;
    day::Mode usual;
  };
  std::vector<Scaled> scaled_;
};

}  // namespace tillwrap::learn
