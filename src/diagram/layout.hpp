// Where to put boxes and wires of a drawing that flows one way: sources on the left, what they feed to the right.
// Lengths are in the caller's unit; y grows downward. Pure and deterministic.
//
// Layers by longest path; a wire that skips layers gets a slot of its own in each; order within layers by sweeps over
// barycentres and medians, by exchanging neighbours and by moving single ones, from several starts, the fewest
// crossings kept; heights by least squares with the order held (pool adjacent violators). A wire runs straight across
// the gap between two layers, then level under its label into its box, so that no wire crosses a box and no label meets
// anything.
#pragma once

#include <cstddef>
#include <vector>

namespace tillwrap::diagram {

struct Node {
  double width = 0.0;
  double head = 0.0;  // height above the first pin row: title and details
};

struct Edge {
  int from = 0;
  int to = 0;
  double from_row = 0.0;  // height of its row in the box it leaves
  double to_row = 0.0;    // height of its row, at least its label's, in the box it enters
  double label_width = 0.0;
};

struct Graph {
  std::vector<Node> nodes{};
  std::vector<Edge> edges{};  // no cycles
};

struct Spacing {
  double between = 6.0;         // boxes of one layer, above each other
  double passing = 5.0;         // height kept for a wire that passes a layer
  double label_pad = 4.0;       // before and after a label
  double stub = 8.0;            // level piece where a wire leaves its box, for its plug
  double least_channel = 18.0;  // room for wires to change height
  double slope = 0.25;          // channel width a unit of the greatest climb in it
  double most_channel = 60.0;
};

struct Point {
  double x = 0.0;
  double y = 0.0;
  friend bool operator==(const Point&, const Point&) = default;
};

struct Rect {
  double x = 0.0;
  double y = 0.0;
  double width = 0.0;
  double height = 0.0;
};

struct Route {
  std::vector<Point> points{};  // from pin to pin
  Rect label{};                 // its middle line is the wire
};

struct Layout {
  std::vector<Rect> nodes{};
  std::vector<Route> edges{};
  double width = 0.0;
  double height = 0.0;
  long crossings = 0;
};

// Throws std::invalid_argument on a cycle or an edge to a node that is not there.
Layout lay_out(const Graph& graph, const Spacing& spacing = {});

}  // namespace tillwrap::diagram
