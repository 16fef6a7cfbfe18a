// How long a piece of the day lasts at least, from worse days that were computed before.
//
// More load, less capacity, more resistance, less charge and colder air never make a piece last longer (a bag that
// loses more heat may help or harm: both sides are looked at). So the range of each unknown is cut at a few levels; a
// day lies in one cell of that grid and lasts at least as long as the day at the cell's worst corner. The corner is
// computed once, when a second day falls into its cell: the first might be the only one. Coarse grids are asked before
// fine ones.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "odds/draw.hpp"

namespace tillwrap::odds {

class Lasting {
 public:
  using Badness = std::array<double, kCommonDimensions>;

  Lasting();

  // Whether a day as bad as `badness` is known to last to `until_s`. `corner(worst, to_s)` computes when the piece is
  // lost with everything as bad as `worst`, but no later than `to_s`; where the bag's `sides` are two it is asked for
  // both.
  template <typename Corner>
  bool lasts(const Badness& badness, double until_s, int sides, Corner&& corner) {
    for (Grid& grid : grids_) {
      const int k = cell_of(grid, badness);
      if (k < 0) return false;
      Cell& cell = grid.cells[static_cast<std::size_t>(k)];
      // What is known may have been followed only to a moment that is too soon now.
      const bool open = cell.followed_to_s < until_s && cell.lasts_s >= cell.followed_to_s;
      if (open && ++cell.visits > grid.free_visits) {
        Badness worst = corner_of(grid, k);
        cell.followed_to_s = until_s + kFurther_s;
        cell.lasts_s = corner(worst, cell.followed_to_s);
        worst[kBag] = -worst[kBag];
        if (sides == 2 && cell.lasts_s > 0.0) {
          const double other_s = corner(worst, cell.lasts_s);
          if (other_s < cell.lasts_s) cell.lasts_s = other_s;
        }
      }
      if (cell.lasts_s >= until_s) return true;
    }
    return false;
  }

 private:
  static constexpr double kFurther_s = 3600.0;  // so that a little more is not computed anew
  struct Cell {
    double lasts_s = 0.0;  // at least
    double followed_to_s = 0.0;
    int visits = 0;
  };
  struct Grid {
    std::array<std::vector<double>, kCommonDimensions> edges;  // upper, rising
    int free_visits = 0;
    std::vector<Cell> cells;
  };
  // -1 beyond the last edge of any unknown.
  static int cell_of(const Grid& grid, const Badness& badness);
  static Badness corner_of(const Grid& grid, int cell);

  std::vector<Grid> grids_;
};

}  // namespace tillwrap::odds
