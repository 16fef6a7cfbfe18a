#include "odds/lasting.hpp"

namespace tillwrap::odds {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

Lasting::Lasting() {
  const auto add = [&](int free_visits, std::array<std::vector<double>, kCommonDimensions> edges) {
    Grid grid{.edges = std::move(edges), .free_visits = free_visits, .cells = {}};
    std::size_t cells = 1;
    for (const std::vector<double>& dimension : grid.edges) cells *= dimension.size();
    grid.cells.resize(cells);
    grids_.push_back(std::move(grid));
  };
  // In standard deviations; the start charge and the bag are sizes. Which days fall into which cell is all they decide.
  add(0, {{{4.5}, {4.5}, {4.0}, {4.0}, {4.0}, {4.0}}});
  add(1, {{{0.8, 2.0, 4.5}, {0.8, 2.0, 4.5}, {1.5, 4.0}, {1.5, 4.0}, {1.5, 4.0}, {1.5, 4.0}}});
  add(3, {{{-0.6, 0.0, 0.5, 1.0, 1.5, 2.0, 3.0}, {0.0, 0.7, 1.5, 3.0}, {1.0, 3.0}, {1.0, 3.0}, {1.0, 3.0}, {3.0}}});
}

int Lasting::cell_of(const Grid& grid, const Badness& badness) {
  int cell = 0;
  for (int d = 0; d < kCommonDimensions; ++d) {
    const std::vector<double>& edges = grid.edges[at(d)];
    std::size_t k = 0;
    while (k < edges.size() && !(badness[at(d)] <= edges[k])) ++k;
    if (k == edges.size()) return -1;
    cell = cell * static_cast<int>(edges.size()) + static_cast<int>(k);
  }
  return cell;
}

Lasting::Badness Lasting::corner_of(const Grid& grid, int cell) {
  Badness worst{};
  for (int d = kCommonDimensions - 1; d >= 0; --d) {
    const std::vector<double>& edges = grid.edges[at(d)];
    const int levels = static_cast<int>(edges.size());
    worst[at(d)] = edges[at(cell % levels)];
    cell /= levels;
  }
  return worst;
}

}  // namespace tillwrap::odds
