#include "diagram/layout.hpp"

#include <algorithm>
#include <cmath>

#include "diagram/layers.hpp"

namespace tillwrap::diagram {

namespace {

constexpr int kRounds = 12;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Heights above each other in a given order, as near to the wished ones as least squares allows: with the stacking
// offsets taken off, "in order" means not falling, which pooling adjacent violators solves exactly.
std::vector<double> stacked(const std::vector<double>& wish, const std::vector<double>& offset) {
  struct Pool {
    double sum;
    int count;
  };
  std::vector<Pool> pools;
  for (std::size_t i = 0; i < wish.size(); ++i) {
    pools.push_back({wish[i] - offset[i], 1});
    while (pools.size() > 1) {
      const Pool& last = pools.back();
      const Pool& before = pools[pools.size() - 2];
      if (before.sum / before.count <= last.sum / last.count) break;
      const Pool joined{before.sum + last.sum, before.count + last.count};
      pools.pop_back();
      pools.back() = joined;
    }
  }
  std::vector<double> top;
  for (const Pool& pool : pools) {
    for (int i = 0; i < pool.count; ++i) top.push_back(pool.sum / pool.count + offset[top.size()]);
  }
  return top;
}

class Placer {
 public:
  Placer(const Graph& graph, const Spacing& spacing) : graph_(graph), spacing_(spacing), layered_(into_layers(graph)) {
    reduce_crossings(layered_);
    in_.resize(layered_.layer.size());
    out_.resize(layered_.layer.size());
    for (std::size_t k = 0; k < layered_.links.size(); ++k) {
      out_[at(layered_.links[k].upper)].push_back(static_cast<int>(k));
      in_[at(layered_.links[k].lower)].push_back(static_cast<int>(k));
    }
    sort_pins();
    for (std::size_t v = 0; v < layered_.layer.size(); ++v) height_.push_back(height_of(static_cast<int>(v)));
    top_.assign(layered_.layer.size(), 0.0);
  }

  Layout place() {
    heights();
    Layout out;
    out.crossings = crossings(layered_);
    columns(out);
    return out;
  }

 private:
  [[nodiscard]] bool real(int v) const { return v < static_cast<int>(graph_.nodes.size()); }

  // Pins stand in the order of what they lead to, so that wires do not cross at a box.
  void sort_pins() {
    std::vector<int> place(layered_.layer.size(), 0);
    for (const std::vector<int>& layer : layered_.order) {
      for (std::size_t i = 0; i < layer.size(); ++i) place[at(layer[i])] = static_cast<int>(i);
    }
    const auto by = [&](bool lower) {
      return [&, lower](int a, int b) {
        const int pa = place[at(lower ? layered_.links[at(a)].lower : layered_.links[at(a)].upper)];
        const int pb = place[at(lower ? layered_.links[at(b)].lower : layered_.links[at(b)].upper)];
        return pa != pb ? pa < pb : layered_.links[at(a)].edge < layered_.links[at(b)].edge;
      };
    };
    for (std::vector<int>& links : out_) std::sort(links.begin(), links.end(), by(true));
    for (std::vector<int>& links : in_) std::sort(links.begin(), links.end(), by(false));
  }

  [[nodiscard]] double out_rows(int v) const {
    double sum = 0.0;
    for (const int k : out_[at(v)]) sum += graph_.edges[at(layered_.links[at(k)].edge)].from_row;
    return sum;
  }
  [[nodiscard]] double in_rows(int v) const {
    double sum = 0.0;
    for (const int k : in_[at(v)]) sum += graph_.edges[at(layered_.links[at(k)].edge)].to_row;
    return sum;
  }
  [[nodiscard]] double height_of(int v) const {
    if (!real(v)) return spacing_.passing;
    return std::max(graph_.nodes[at(v)].head + out_rows(v), in_rows(v));
  }
  // Pin heights below the top of a box: outputs in rows under its head, inputs about its middle.
  [[nodiscard]] double out_pin(int k) const {
    const int v = layered_.links[at(k)].upper;
    if (!real(v)) return 0.5 * spacing_.passing;
    double y = height_[at(v)] - out_rows(v);
    for (const int other : out_[at(v)]) {
      const double row = graph_.edges[at(layered_.links[at(other)].edge)].from_row;
      if (other == k) return y + 0.5 * row;
      y += row;
    }
    return y;
  }
  [[nodiscard]] double in_pin(int k) const {
    const int v = layered_.links[at(k)].lower;
    if (!real(v)) return 0.5 * spacing_.passing;
    double y = 0.5 * (height_[at(v)] - in_rows(v));
    for (const int other : in_[at(v)]) {
      const double row = graph_.edges[at(layered_.links[at(other)].edge)].to_row;
      if (other == k) return y + 0.5 * row;
      y += row;
    }
    return y;
  }

  void heights() {
    const auto settle = [&](const std::vector<int>& order, bool left, bool right) {
      std::vector<double> wish;
      std::vector<double> offset;
      double stack = 0.0;
      for (const int v : order) {
        double sum = 0.0;
        int count = 0;
        if (left) {
          for (const int k : in_[at(v)]) {
            sum += top_[at(layered_.links[at(k)].upper)] + out_pin(k) - in_pin(k);
            ++count;
          }
        }
        if (right) {
          for (const int k : out_[at(v)]) {
            sum += top_[at(layered_.links[at(k)].lower)] + in_pin(k) - out_pin(k);
            ++count;
          }
        }
        wish.push_back(count > 0 ? sum / count : top_[at(v)]);
        offset.push_back(stack);
        stack += height_[at(v)] + spacing_.between;
      }
      const std::vector<double> top = stacked(wish, offset);
      for (std::size_t i = 0; i < order.size(); ++i) top_[at(order[i])] = top[i];
    };
    for (const std::vector<int>& order : layered_.order) {
      double y = 0.0;
      for (const int v : order) {
        top_[at(v)] = y;
        y += height_[at(v)] + spacing_.between;
      }
    }
    const std::size_t layers = layered_.order.size();
    for (int round = 0; round < kRounds; ++round) {
      for (std::size_t i = 1; i < layers; ++i) settle(layered_.order[i], true, round > 0);
      for (std::size_t i = layers - 1; i-- > 0;) settle(layered_.order[i], round > 0, true);
    }
    if (top_.empty()) return;
    const double least = *std::min_element(top_.begin(), top_.end());
    for (double& top : top_) top -= least;
  }

  void columns(Layout& out) const {
    const std::size_t layers = layered_.order.size();
    std::vector<double> left(layers, 0.0);
    std::vector<double> width(layers, 0.0);
    std::vector<double> label(layers, 0.0);  // room for labels before a layer
    std::vector<double> channel(layers, 0.0);
    for (std::size_t v = 0; v < graph_.nodes.size(); ++v) {
      const std::size_t layer = at(layered_.layer[v]);
      width[layer] = std::max(width[layer], graph_.nodes[v].width);
    }
    for (std::size_t e = 0; e < graph_.edges.size(); ++e) {
      if (graph_.edges[e].label_width <= 0.0) continue;
      const std::size_t layer = at(layered_.layer[at(graph_.edges[e].to)]);
      label[layer] = std::max(label[layer], graph_.edges[e].label_width + 2.0 * spacing_.label_pad);
    }
    for (std::size_t k = 0; k < layered_.links.size(); ++k) {
      const Link& link = layered_.links[k];
      const double climb = std::fabs(top_[at(link.upper)] + out_pin(static_cast<int>(k)) - top_[at(link.lower)] -
                                     in_pin(static_cast<int>(k)));
      double& room = channel[at(layered_.layer[at(link.lower)])];
      room = std::max({room, spacing_.least_channel, std::min(spacing_.most_channel, spacing_.slope * climb)});
    }
    for (std::size_t i = 1; i < layers; ++i)
      left[i] = left[i - 1] + width[i - 1] + spacing_.stub + channel[i] + label[i];
    for (std::size_t v = 0; v < graph_.nodes.size(); ++v) {
      const std::size_t layer = at(layered_.layer[v]);
      out.nodes.push_back({left[layer], top_[v], graph_.nodes[v].width, height_[v]});
      out.width = std::max(out.width, left[layer] + graph_.nodes[v].width);
    }
    for (std::size_t v = 0; v < top_.size(); ++v) out.height = std::max(out.height, top_[v] + height_[v]);
    for (std::size_t e = 0; e < graph_.edges.size(); ++e) {
      Route route;
      for (const int k : layered_.chain[e]) {
        const Link& link = layered_.links[at(k)];
        const std::size_t layer = at(layered_.layer[at(link.lower)]);
        const double from_y = top_[at(link.upper)] + out_pin(k);
        const double to_y = top_[at(link.lower)] + in_pin(k);
        // Level past narrower boxes of its layer, then across the channel, then level under the label.
        const double from_x = real(link.upper) ? left[layer - 1] + graph_.nodes[at(link.upper)].width : left[layer - 1];
        const std::vector<Point> piece = {
            {from_x, from_y},
            {left[layer - 1] + width[layer - 1] + (real(link.upper) ? spacing_.stub : 0.0), from_y},
            {left[layer] - label[layer], to_y},
            {left[layer], to_y}};
        for (const Point& point : piece) {
          if (route.points.empty() || !(route.points.back() == point)) route.points.push_back(point);
        }
        if (real(link.lower)) {
          const Edge& edge = graph_.edges[e];
          route.label = {left[layer] - spacing_.label_pad - edge.label_width, to_y - 0.5 * edge.to_row,
                         edge.label_width, edge.to_row};
        }
      }
      // Straight on: no point needed.
      for (std::size_t i = 1; i + 1 < route.points.size();) {
        const bool level = route.points[i - 1].y == route.points[i].y && route.points[i].y == route.points[i + 1].y;
        if (level) {
          route.points.erase(route.points.begin() + static_cast<std::ptrdiff_t>(i));
        } else {
          ++i;
        }
      }
      out.edges.push_back(std::move(route));
    }
  }

  const Graph& graph_;
  const Spacing& spacing_;
  Layered layered_;
  std::vector<std::vector<int>> in_, out_;  // links of each vertex, top to bottom
  std::vector<double> height_;
  std::vector<double> top_;
};

}  // namespace

Layout lay_out(const Graph& graph, const Spacing& spacing) { return Placer(graph, spacing).place(); }

}  // namespace tillwrap::diagram
