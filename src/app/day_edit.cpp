#include "app/day_edit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace tillwrap::app {

using decode::Kind;
using decode::Node;

namespace edit {

namespace {

// Keys that begin like another but mean something else.
constexpr std::array<std::string_view, 5> kOwnMeaning{"restart_volts", "fuse_kind", "load_each", "capacity_each",
                                                      "gauge_learned"};

bool is_key(std::string_view written, std::string_view key) {
  if (written == key) return true;
  if (!written.starts_with(key) || written.size() <= key.size() || written[key.size()] != '_') return false;
  return std::find(kOwnMeaning.begin(), kOwnMeaning.end(), written) == kOwnMeaning.end();
}

Node of_kind(Kind kind, std::string key) {
  Node node;
  node.kind = kind;
  node.key = std::move(key);
  return node;
}

bool is_used(const Node& node, const std::string& name) {
  if ((node.key == "name" || node.key == "label") && node.text == name) return true;
  if (node.key == "labels") {
    for (const Node& label : node.children) {
      if (label.text == name) return true;
    }
  }
  return std::any_of(node.children.begin(), node.children.end(), [&](const Node& part) { return is_used(part, name); });
}

}  // namespace

Node text(std::string key, std::string value) {
  Node node = of_kind(Kind::text, std::move(key));
  node.text = std::move(value);
  return node;
}

Node number(std::string key, double value) {
  Node node = of_kind(Kind::number, std::move(key));
  node.number = value;
  return node;
}

Node list(std::string key, std::vector<Node> children) {
  Node node = of_kind(Kind::array, std::move(key));
  node.children = std::move(children);
  return node;
}

Node texts(std::string key, const std::vector<std::string>& values) {
  Node node = list(std::move(key));
  for (const std::string& value : values) node.children.push_back(text("", value));
  return node;
}

Node table(std::string key, std::vector<Node> children) {
  Node node = of_kind(Kind::table, std::move(key));
  node.children = std::move(children);
  return node;
}

Node clock(std::string key, double at_s) {
  const auto minutes = static_cast<long>(std::floor(at_s / 60.0 + 0.5));
  return text(std::move(key), fmt::format("{:02}:{:02}", minutes / 60, minutes % 60));
}

Node* child(Node& table, std::string_view key) {
  for (Node& part : table.children) {
    if (is_key(part.key, key)) return &part;
  }
  return nullptr;
}

bool drop(Node& table, std::string_view key) {
  return std::erase_if(table.children, [&](const Node& part) { return is_key(part.key, key); }) > 0;
}

void set(Node& table, Node value) {
  drop(table, value.key);
  table.children.push_back(std::move(value));
}

Node& child_or_new(Node& table, Node fresh) {
  if (Node* found = child(table, fresh.key)) return *found;
  table.children.push_back(std::move(fresh));
  return table.children.back();
}

Node& things(decode::Document& document, const std::string& name) { return child_or_new(document.root, list(name)); }

Node& thing(decode::Document& document, const std::string& name, const std::string& key, const std::string& value) {
  for (Node& entry : things(document, name).children) {
    const Node* found = entry.find(key);
    if (found != nullptr && found->text == value) return entry;
  }
  throw NotPossible("there is no " + name + " \"" + value + "\" any more");
}

Node& pack(decode::Document& document, const std::string& label) {
  Node& packs = things(document, "pack");
  for (std::size_t k = 0; k < packs.children.size(); ++k) {
    Node* labels = child(packs.children[k], "labels");
    if (labels == nullptr) continue;
    const auto found = std::find_if(labels->children.begin(), labels->children.end(),
                                    [&](const Node& written) { return written.text == label; });
    if (found == labels->children.end()) continue;
    labels->children.erase(found);
    Node own = packs.children[k];
    drop(own, "labels");
    set(own, text("label", label));
    if (labels->children.empty()) {
      packs.children[k] = std::move(own);
      return packs.children[k];
    }
    packs.children.push_back(std::move(own));
    return packs.children.back();
  }
  return thing(document, "pack", "label", label);
}

std::string fresh_name(const decode::Document& document, const std::string& wish) {
  std::string name = wish;
  for (int k = 2; is_used(document.root, name); ++k) name = wish + " " + std::to_string(k);
  return name;
}

void set_mode(decode::Document& document, std::size_t period, const std::string& device, const std::string& mode) {
  Node& periods = things(document, "period");
  if (period >= periods.children.size()) throw NotPossible("there is no such period");
  Node& modes = child_or_new(periods.children[period], table("modes"));
  drop(modes, device);
  modes.children.push_back(text(device, mode));
}

std::string slot_label(const Node& slot) {
  if (slot.kind == Kind::text) return slot.text;
  const Node* label = slot.find("pack");
  return label == nullptr ? std::string() : label->text;
}

void remove_pack(decode::Document& document, const std::string& label) {
  const auto is_it = [&](const Node& slot) { return slot_label(slot) == label; };
  for (Node& holder : things(document, "holder").children) {
    if (Node* packs = child(holder, "packs")) std::erase_if(packs->children, is_it);
  }
  for (Node& charger : things(document, "charger").children) {
    if (Node* bays = child(charger, "bays")) {
      for (Node& bay : bays->children) std::erase_if(bay.children, is_it);
    }
  }
  pack(document, label);
  std::erase_if(things(document, "pack").children, [&](const Node& entry) {
    const Node* own = entry.find("label");
    return own != nullptr && own->text == label;
  });
}

}  // namespace edit

DayFile changed_day(const decode::Document& document, const DayFile& as_is, const std::vector<DayChange>& changes,
                    const catalogue::Catalogue& catalogue) {
  decode::Document changed = document;
  edit::drop(changed.root, "measured");
  for (const DayChange& change : changes) change(changed);
  DayFile file = read_day(changed, catalogue, as_is.params);
  std::map<std::string, double> scales;
  for (const day::Device& device : as_is.scenario.devices) scales[device.name] = device.scale;
  for (day::Device& device : file.scenario.devices) {
    const auto found = scales.find(device.name);
    if (found != scales.end()) device.scale = found->second;
  }
  return file;
}

}  // namespace tillwrap::app
