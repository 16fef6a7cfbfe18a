#include "diagram/layers.hpp"

#include <algorithm>
#include <cstdint>
#include <stdexcept>

#include "quantity/order.hpp"

namespace tillwrap::diagram {

namespace {

constexpr int kSweeps = 12;
constexpr int kStarts = 12;
constexpr int kFree = 720;  // orders tried exhaustively when a layer and its neighbours are this small

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::vector<int> positions(const Layered& layered) {
  std::vector<int> place(layered.layer.size(), 0);
  for (const std::vector<int>& layer : layered.order) {
    for (std::size_t i = 0; i < layer.size(); ++i) place[at(layer[i])] = static_cast<int>(i);
  }
  return place;
}

// Vertices next to each vertex, on the left or the right.
std::vector<std::vector<int>> neighbours(const Layered& layered, bool left) {
  std::vector<std::vector<int>> found(layered.layer.size());
  for (const Link& link : layered.links)
    found[at(left ? link.lower : link.upper)].push_back(left ? link.upper : link.lower);
  return found;
}

long pair_crossings(const std::vector<int>& a, const std::vector<int>& b, const std::vector<int>& place) {
  long count = 0;
  for (const int x : a) {
    for (const int y : b) count += place[at(x)] > place[at(y)] ? 1 : 0;
  }
  return count;
}

// Orders one layer by where its neighbours are; those without any keep their place.
void sweep_layer(std::vector<int>& layer, const std::vector<std::vector<int>>& near, const std::vector<int>& place,
                 bool median) {
  struct Keyed {
    int vertex;
    double key;
  };
  std::vector<Keyed> keyed;
  std::vector<std::size_t> slots;
  for (std::size_t i = 0; i < layer.size(); ++i) {
    const std::vector<int>& next = near[at(layer[i])];
    if (next.empty()) continue;
    std::vector<int> where;
    for (const int v : next) where.push_back(place[at(v)]);
    std::sort(where.begin(), where.end());
    double key = 0.0;
    if (median) {
      const std::size_t half = where.size() / 2;
      key = where.size() % 2 == 1 ? where[half] : 0.5 * (where[half - 1] + where[half]);
    } else {
      for (const int w : where) key += w;
      key /= static_cast<double>(where.size());
    }
    keyed.push_back({layer[i], key});
    slots.push_back(i);
  }
  sort_stably(keyed, [](const Keyed& a, const Keyed& b) { return a.key < b.key; });
  for (std::size_t i = 0; i < slots.size(); ++i) layer[slots[i]] = keyed[i].vertex;
}

// Exchanges neighbours while that takes crossings away.
void transpose(Layered& layered, const std::vector<std::vector<int>>& left,
               const std::vector<std::vector<int>>& right) {
  bool better = true;
  std::vector<int> place = positions(layered);
  while (better) {
    better = false;
    for (std::vector<int>& layer : layered.order) {
      for (std::size_t i = 0; i + 1 < layer.size(); ++i) {
        const int a = layer[i];
        const int b = layer[i + 1];
        const long now =
            pair_crossings(left[at(a)], left[at(b)], place) + pair_crossings(right[at(a)], right[at(b)], place);
        const long then =
            pair_crossings(left[at(b)], left[at(a)], place) + pair_crossings(right[at(b)], right[at(a)], place);
        if (then >= now) continue;
        std::swap(layer[i], layer[i + 1]);
        std::swap(place[at(a)], place[at(b)]);
        better = true;
      }
    }
  }
}

// Moves each vertex to the best place in its layer while that takes crossings away.
void sift(Layered& layered) {
  long now = crossings(layered);
  bool better = now > 0;
  while (better) {
    better = false;
    for (std::vector<int>& layer : layered.order) {
      for (std::size_t from = 0; from < layer.size(); ++from) {
        const std::vector<int> before = layer;
        std::vector<int> best_order = before;
        for (std::size_t to = 0; to < layer.size(); ++to) {
          if (to == from) continue;
          layer = before;
          layer.erase(layer.begin() + static_cast<std::ptrdiff_t>(from));
          layer.insert(layer.begin() + static_cast<std::ptrdiff_t>(to), before[from]);
          const long then = crossings(layered);
          if (then >= now) continue;
          now = then;
          best_order = layer;
          better = true;
        }
        layer = best_order;
      }
    }
  }
}

// Another start, the same on every run: a linear congruence (Numerical Recipes, from memory) draws the exchanges.
void shuffle(Layered& layered, std::uint32_t& state) {
  for (std::vector<int>& layer : layered.order) {
    for (std::size_t i = layer.size(); i > 1; --i) {
      state = state * 1664525U + 1013904223U;
      std::swap(layer[i - 1], layer[(state >> 16) % i]);
    }
  }
}

// Best order of small drawings by trying all of them, layer by layer against each other.
bool try_all(Layered& layered, std::size_t layer, long& best, std::vector<std::vector<int>>& best_order) {
  if (layer == layered.order.size()) {
    const long now = crossings(layered);
    if (now < best) {
      best = now;
      best_order = layered.order;
    }
    return best == 0;
  }
  std::vector<int>& order = layered.order[layer];
  std::sort(order.begin(), order.end());
  do {
    if (try_all(layered, layer + 1, best, best_order)) return true;
  } while (std::next_permutation(order.begin(), order.end()));
  return false;
}

}  // namespace

Layered into_layers(const Graph& graph) {
  const int nodes = static_cast<int>(graph.nodes.size());
  Layered out;
  out.layer.assign(graph.nodes.size(), 0);
  for (const Edge& edge : graph.edges) {
    if (edge.from < 0 || edge.to < 0 || edge.from >= nodes || edge.to >= nodes || edge.from == edge.to)
      throw std::invalid_argument("a wire of the drawing ends nowhere");
  }
  // Longest path from the left; more rounds than nodes mean a ring.
  bool moved = true;
  for (int round = 0; moved; ++round) {
    if (round > nodes) throw std::invalid_argument("the drawing's wires run in a ring");
    moved = false;
    for (const Edge& edge : graph.edges) {
      if (out.layer[at(edge.to)] > out.layer[at(edge.from)]) continue;
      out.layer[at(edge.to)] = out.layer[at(edge.from)] + 1;
      moved = true;
    }
  }
  // Sources move right beside what they feed: short wires.
  for (int round = 0; round < nodes; ++round) {
    for (int v = 0; v < nodes; ++v) {
      int nearest = 1 << 20;
      bool enters = false;
      for (const Edge& edge : graph.edges) {
        if (edge.from == v) nearest = std::min(nearest, out.layer[at(edge.to)] - 1);
        enters = enters || edge.to == v;
      }
      if (!enters && nearest < 1 << 20) out.layer[at(v)] = nearest;
    }
  }
  int layers = 1;
  for (const int layer : out.layer) layers = std::max(layers, layer + 1);
  out.order.resize(at(layers));
  for (int v = 0; v < nodes; ++v) out.order[at(out.layer[at(v)])].push_back(v);
  out.chain.resize(graph.edges.size());
  for (std::size_t e = 0; e < graph.edges.size(); ++e) {
    int from = graph.edges[e].from;
    for (int layer = out.layer[at(from)] + 1; layer <= out.layer[at(graph.edges[e].to)]; ++layer) {
      int to = graph.edges[e].to;
      if (layer < out.layer[at(to)]) {
        to = static_cast<int>(out.layer.size());
        out.layer.push_back(layer);
        out.order[at(layer)].push_back(to);
      }
      out.chain[e].push_back(static_cast<int>(out.links.size()));
      out.links.push_back({from, to, static_cast<int>(e)});
      from = to;
    }
  }
  return out;
}

long crossings(const Layered& layered) {
  const std::vector<int> place = positions(layered);
  long count = 0;
  for (std::size_t i = 0; i < layered.links.size(); ++i) {
    for (std::size_t j = i + 1; j < layered.links.size(); ++j) {
      const Link& a = layered.links[i];
      const Link& b = layered.links[j];
      if (layered.layer[at(a.upper)] != layered.layer[at(b.upper)]) continue;
      const int up = place[at(a.upper)] - place[at(b.upper)];
      const int low = place[at(a.lower)] - place[at(b.lower)];
      count += (up < 0 && low > 0) || (up > 0 && low < 0) ? 1 : 0;
    }
  }
  return count;
}

void reduce_crossings(Layered& layered) {
  long best = crossings(layered);
  if (best == 0) return;
  double orders = 1.0;
  for (const std::vector<int>& layer : layered.order) {
    for (std::size_t i = 2; i <= layer.size(); ++i) orders *= static_cast<double>(i);
  }
  std::vector<std::vector<int>> best_order = layered.order;
  if (orders <= kFree) {
    try_all(layered, 0, best, best_order);
    layered.order = best_order;
    return;
  }
  const std::vector<std::vector<int>> left = neighbours(layered, true);
  const std::vector<std::vector<int>> right = neighbours(layered, false);
  const std::vector<std::vector<int>> start = layered.order;
  // From the order given, its reverse and a few others, by barycentre and by median in turn.
  std::uint32_t state = 1;
  for (int way = 0; way < kStarts && best > 0; ++way) {
    layered.order = start;
    if (way == 2 || way == 3) {
      for (std::vector<int>& layer : layered.order) std::reverse(layer.begin(), layer.end());
    }
    if (way >= 4) shuffle(layered, state);
    std::vector<std::vector<int>> way_order = layered.order;
    long way_best = crossings(layered);
    for (int sweep = 0; sweep < kSweeps && way_best > 0; ++sweep) {
      const std::size_t layers = layered.order.size();
      for (std::size_t step = 1; step < layers; ++step) {
        const bool down = sweep % 2 == 0;
        const std::size_t layer = down ? step : layers - 1 - step;
        sweep_layer(layered.order[layer], down ? left : right, positions(layered), way % 2 == 1);
      }
      const std::vector<std::vector<int>> swept = layered.order;
      transpose(layered, left, right);
      const long now = crossings(layered);
      if (now < way_best) {
        way_best = now;
        way_order = layered.order;
      }
      if (sweep % 4 != 3) layered.order = swept;  // sweeps go on without the exchanges most of the time
    }
    layered.order = way_order;
    sift(layered);
    const long now = crossings(layered);
    if (now >= best) continue;
    best = now;
    best_order = layered.order;
  }
  layered.order = best_order;
}

}  // namespace tillwrap::diagram
