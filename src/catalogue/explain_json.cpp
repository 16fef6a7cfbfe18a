#include <algorithm>
#include <nlohmann/json.hpp>

#include "catalogue/computed.hpp"
#include "catalogue/explain.hpp"
#include "catalogue/lists.hpp"
#include "catalogue/reading.hpp"

namespace tillwrap::catalogue {
namespace {

using json = nlohmann::ordered_json;

json value_json(const decode::Node& node) {
  switch (node.kind) {
    case decode::Kind::table: {
      json out = json::object();
      for (const decode::Node& child : node.children) out[child.key] = value_json(child);
      return out;
    }
    case decode::Kind::array: {
      json out = json::array();
      for (const decode::Node& child : node.children) out.push_back(value_json(child));
      return out;
    }
    case decode::Kind::number:
      return node.number;
    case decode::Kind::integer:
      return node.integer;
    case decode::Kind::boolean:
      return node.boolean;
    default:
      return node.text;
  }
}

json provenance_json(const Provenance& p) {
  json out = {{"source", p.source}, {"mark", mark_word(p.mark)}, {"checked", p.checked}};
  if (!p.valid.empty()) out["valid"] = p.valid;
  return out;
}

json entry_json(const Catalogue& catalogue, const ListName& name, const Entry& entry) {
  json out = {{"kind", name.table}, {"id", entry.id}, {"title", entry.title}};
  if (!entry.aliases.empty()) out["aliases"] = entry.aliases;
  if (!entry.note.empty()) out["note"] = entry.note;
  json values = json::object();
  for (const decode::Node& child : entry.node->children) {
    static const std::vector<std::string_view> said = {"id",   "title",   "note",  "aliases", "source",
                                                       "mark", "checked", "valid", "sources"};
    if (std::find(said.begin(), said.end(), child.key) == said.end()) values[child.key] = value_json(child);
  }
  out["values"] = std::move(values);
  json more = json::object();
  for (const Computed& c : computed(catalogue, entry)) {
    std::visit([&](const auto& raw) { more[c.key] = raw; }, c.raw);
  }
  out["computed"] = std::move(more);
  out["provenance"] = provenance_json(entry.provenance);
  json own = json::object();
  for (const auto& [key, p] : entry.own_provenance) own[key] = provenance_json(p);
  out["own_provenance"] = std::move(own);
  return out;
}

}  // namespace

std::string explain_cell_json(const CellKind& cell) {
  const ListName name{"cells", "cell", "brought along"};
  return json{{"entry", entry_json(Catalogue{}, name, cell)}}.dump(2) + "\n";
}

std::optional<json> explain_object(const Catalogue& catalogue, std::string_view what) {
  std::optional<json> out;
  if (what.empty()) {
    json lists = json::array();
    for_each_list(catalogue, [&](const ListName& name, const auto& list) {
      lists.push_back({{"list", name.plural}, {"contents", name.contents}, {"count", list.size()}});
    });
    out = json{{"lists", std::move(lists)}};
  }
  for_each_list(catalogue, [&](const ListName& name, const auto& list) {
    if (out) return;
    if (what == name.plural || what == name.table) {
      json entries = json::array();
      for (const Entry& entry : list) entries.push_back(entry_json(catalogue, name, entry));
      out = json{{"list", name.plural}, {"entries", std::move(entries)}};
      return;
    }
    for (const Entry& entry : list) {
      const bool called =
          entry.id == what || std::find(entry.aliases.begin(), entry.aliases.end(), what) != entry.aliases.end();
      if (called) {
        out = json{{"entry", entry_json(catalogue, name, entry)}};
        return;
      }
    }
  });
  return out;
}

std::optional<std::string> explain_json(const Catalogue& catalogue, std::string_view what) {
  const auto found = explain_object(catalogue, what);
  if (!found) return std::nullopt;
  return found->dump(2) + "\n";
}

}  // namespace tillwrap::catalogue
