// The layout of drawings: nothing overlaps, no wire crosses a box, few crossings, same input same answer.
#include "diagram/layout.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cstdio>
#include <numeric>
#include <string>
#include <vector>

#include "diagram/layers.hpp"
#include "forecast/fixed_seed.hpp"

namespace tillwrap::diagram {
namespace {

const test::FixedSeed kSeed("seed=20261125 max_success=300");

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Wires run from a lower to a higher number, so that there is no ring.
Graph drawn_graph(int most_nodes, int most_edges) {
  Graph graph;
  const int nodes = *rc::gen::inRange(2, most_nodes + 1);
  for (int v = 0; v < nodes; ++v)
    graph.nodes.push_back({.width = 1.0 * *rc::gen::inRange(20, 140), .head = 1.0 * *rc::gen::inRange(0, 40)});
  const int edges = *rc::gen::inRange(1, most_edges + 1);
  for (int e = 0; e < edges; ++e) {
    const int from = *rc::gen::inRange(0, nodes - 1);
    const int to = *rc::gen::inRange(from + 1, nodes);
    const double row = 1.0 * *rc::gen::inRange(8, 24);
    graph.edges.push_back({.from = from,
                           .to = to,
                           .from_row = 1.0 * *rc::gen::inRange(8, 24),
                           .to_row = row,
                           .label_width = *rc::gen::arbitrary<bool>() ? 1.0 * *rc::gen::inRange(1, 120) : 0.0});
  }
  return graph;
}

bool overlap(const Rect& a, const Rect& b) {
  constexpr double kTouch = 1e-6;
  return a.x + a.width > b.x + kTouch && b.x + b.width > a.x + kTouch && a.y + a.height > b.y + kTouch &&
         b.y + b.height > a.y + kTouch;
}

// Clips the segment against the inside of the rectangle (Liang and Barsky): true when a piece of it lies inside.
bool inside(Point a, Point b, const Rect& r) {
  constexpr double kTouch = 1e-6;
  double t0 = 0.0;
  double t1 = 1.0;
  const double dx = b.x - a.x;
  const double dy = b.y - a.y;
  const double p[4] = {-dx, dx, -dy, dy};
  const double q[4] = {a.x - (r.x + kTouch), r.x + r.width - kTouch - a.x, a.y - (r.y + kTouch),
                       r.y + r.height - kTouch - a.y};
  for (int i = 0; i < 4; ++i) {
    if (p[i] == 0.0) {
      if (q[i] <= 0.0) return false;
      continue;
    }
    const double t = q[i] / p[i];
    if (p[i] < 0.0) {
      t0 = std::max(t0, t);
    } else {
      t1 = std::min(t1, t);
    }
  }
  return t1 > t0 + 1e-9;
}

std::string fault(const Graph& graph, const Layout& layout) {
  for (std::size_t a = 0; a < layout.nodes.size(); ++a) {
    for (std::size_t b = a + 1; b < layout.nodes.size(); ++b) {
      if (overlap(layout.nodes[a], layout.nodes[b])) return "two boxes overlap";
    }
    for (std::size_t e = 0; e < layout.edges.size(); ++e) {
      const Route& route = layout.edges[e];
      if (graph.edges[e].label_width > 0.0 && overlap(layout.nodes[a], route.label)) return "a label lies on a box";
      for (std::size_t i = 1; i < route.points.size(); ++i) {
        if (inside(route.points[i - 1], route.points[i], layout.nodes[a])) return "a wire crosses a box";
      }
    }
  }
  for (std::size_t a = 0; a < layout.edges.size(); ++a) {
    for (std::size_t b = 0; b < layout.edges.size(); ++b) {
      if (a == b || graph.edges[a].label_width <= 0.0) continue;
      if (graph.edges[b].label_width > 0.0 && overlap(layout.edges[a].label, layout.edges[b].label))
        return "two labels overlap";
      const Route& route = layout.edges[b];
      for (std::size_t i = 1; i < route.points.size(); ++i) {
        if (inside(route.points[i - 1], route.points[i], layout.edges[a].label)) return "a wire crosses a label";
      }
    }
  }
  for (const Rect& r : layout.nodes) {
    if (r.x < -1e-9 || r.y < -1e-9 || r.x + r.width > layout.width + 1e-9 || r.y + r.height > layout.height + 1e-9)
      return "a box lies outside the drawing";
  }
  for (std::size_t e = 0; e < layout.edges.size(); ++e) {
    const Route& route = layout.edges[e];
    const Rect& from = layout.nodes[at(graph.edges[e].from)];
    const Rect& to = layout.nodes[at(graph.edges[e].to)];
    const Point start = route.points.front();
    const Point end = route.points.back();
    const bool starts =
        std::abs(start.x - from.x - from.width) < 1e-6 && start.y > from.y && start.y < from.y + from.height;
    const bool ends = std::abs(end.x - to.x) < 1e-6 && end.y > to.y && end.y < to.y + to.height;
    if (!starts || !ends) return "a wire does not end at its boxes";
  }
  return "";
}

TEST(Layout, nothing_overlaps_on_random_wirings) {
  EXPECT_TRUE(rc::check("random wirings", [] {
    const Graph graph = drawn_graph(14, 22);
    RC_ASSERT(fault(graph, lay_out(graph)) == "");
  }));
}

TEST(Layout, same_graph_same_numbers) {
  EXPECT_TRUE(rc::check("again", [] {
    const Graph graph = drawn_graph(10, 16);
    const Layout a = lay_out(graph);
    const Layout b = lay_out(graph);
    RC_ASSERT(a.crossings == b.crossings);
    for (std::size_t e = 0; e < a.edges.size(); ++e) RC_ASSERT(a.edges[e].points == b.edges[e].points);
  }));
}

// Every order of every layer: the true least number of crossings.
long least_crossings(Layered layered, std::size_t layer) {
  if (layer == layered.order.size()) return crossings(layered);
  std::sort(layered.order[layer].begin(), layered.order[layer].end());
  long least = 1L << 40;
  do {
    least = std::min(least, least_crossings(layered, layer + 1));
  } while (least > 0 && std::next_permutation(layered.order[layer].begin(), layered.order[layer].end()));
  return least;
}

// Two and three layers, dense, larger than the layout tries all orders of: its sweeps against the true least.
TEST(Layers, crossings_close_to_the_least_there_are) {
  long ours = 0;
  long least = 0;
  long given = 0;
  unsigned state = 20261125U;
  const auto draw = [&](int below) {
    state = state * 1664525U + 1013904223U;
    return static_cast<int>((state >> 16) % static_cast<unsigned>(below));
  };
  for (int round = 0; round < 60; ++round) {
    const std::vector<int> sizes = round % 2 == 0 ? std::vector<int>{4, 5} : std::vector<int>{3, 4, 3};
    Graph graph;
    std::vector<int> first;
    for (const int size : sizes) {
      first.push_back(static_cast<int>(graph.nodes.size()));
      for (int v = 0; v < size; ++v) graph.nodes.push_back({.width = 40.0, .head = 10.0});
    }
    for (std::size_t layer = 0; layer + 1 < sizes.size(); ++layer) {
      for (int a = 0; a < sizes[layer]; ++a) {
        for (int b = 0; b < sizes[layer + 1]; ++b) {
          // Each has one wire, so that it stays in its layer; the rest by chance.
          if (a % sizes[layer + 1] != b && b % sizes[layer] != a && draw(3) != 0) continue;
          graph.edges.push_back({.from = first[layer] + (a + round) % sizes[layer],
                                 .to = first[layer + 1] + b,
                                 .from_row = 10.0,
                                 .to_row = 10.0});
        }
      }
    }
    Layered layered = into_layers(graph);
    double orders = 1.0;
    for (const auto& layer : layered.order) {
      for (std::size_t i = 2; i <= layer.size(); ++i) orders *= static_cast<double>(i);
    }
    ASSERT_GT(orders, 720.0);
    const long best = least_crossings(layered, 0);
    Layered start = into_layers(graph);
    given += crossings(start);
    layered = start;
    reduce_crossings(layered);
    EXPECT_GE(crossings(layered), best);
    EXPECT_LE(crossings(layered), best + 2);
    ours += crossings(layered);
    least += best;
  }
  std::printf("crossings: %ld as given, %ld ours, %ld least\n", given, ours, least);
  EXPECT_GT(least, 60);
  EXPECT_LE(ours, least + least / 50);
}

// Two columns of six joined in reverse: the order that mends it is the reverse, without a crossing.
TEST(Layers, a_reversed_fan_is_turned) {
  Graph graph;
  for (int v = 0; v < 12; ++v) graph.nodes.push_back({.width = 40.0, .head = 10.0});
  for (int v = 0; v < 6; ++v) graph.edges.push_back({.from = v, .to = 11 - v, .from_row = 10.0, .to_row = 10.0});
  EXPECT_EQ(lay_out(graph).crossings, 0);
}

TEST(Layers, rings_and_loose_ends_are_refused) {
  Graph ring{.nodes = {{.width = 10.0}, {.width = 10.0}}, .edges = {{.from = 0, .to = 1}, {.from = 1, .to = 0}}};
  EXPECT_THROW(lay_out(ring), std::invalid_argument);
  Graph loose{.nodes = {{.width = 10.0}}, .edges = {{.from = 0, .to = 3}}};
  EXPECT_THROW(lay_out(loose), std::invalid_argument);
}

}  // namespace
}  // namespace tillwrap::diagram
