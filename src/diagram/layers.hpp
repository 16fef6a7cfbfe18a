// The layered graph between the steps of the layout: real nodes and the slots of passing wires, in order.
#pragma once

#include <vector>

#include "diagram/layout.hpp"

namespace tillwrap::diagram {

// A straight piece of a wire from one layer to the next.
struct Link {
  int upper = 0;  // vertex on the left
  int lower = 0;  // vertex on the right
  int edge = 0;
};

struct Layered {
  std::vector<int> layer;               // of each vertex; vertices 0..nodes-1 are the nodes
  std::vector<std::vector<int>> order;  // vertices of each layer, top to bottom
  std::vector<Link> links;
  std::vector<std::vector<int>> chain;  // links of each edge, left to right
};

Layered into_layers(const Graph& graph);

// Crossings between neighbouring layers; wires that share a box do not cross there.
long crossings(const Layered& layered);

// Reorders for few crossings.
void reduce_crossings(Layered& layered);

}  // namespace tillwrap::diagram
