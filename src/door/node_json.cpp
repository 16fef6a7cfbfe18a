#include "door/node_json.hpp"

#include <fmt/format.h>

#include <cmath>

namespace tillwrap::door {

app::Json node_json(const decode::Node& node) {
  using decode::Kind;
  switch (node.kind) {
    case Kind::table: {
      app::Json out = app::Json::object();
      for (const decode::Node& child : node.children) out[child.key] = node_json(child);
      return out;
    }
    case Kind::array: {
      app::Json out = app::Json::array();
      for (const decode::Node& child : node.children) out.push_back(node_json(child));
      return out;
    }
    case Kind::text:
    case Kind::date:
      return node.text;
    case Kind::time: {
      const auto whole = static_cast<int>(std::lround(node.number));
      return whole % 60 == 0 ? fmt::format("{:02}:{:02}", whole / 3600, whole / 60 % 60)
                             : fmt::format("{:02}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
    }
    case Kind::number:
      return node.number;
    case Kind::integer:
      return node.integer;
    case Kind::boolean:
      return node.boolean;
  }
  return nullptr;
}

}  // namespace tillwrap::door
