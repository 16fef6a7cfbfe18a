#include "catalogue/catalogue.hpp"

#include <algorithm>
#include <set>
#include <utility>

#include "catalogue/lists.hpp"
#include "catalogue/reading.hpp"

namespace tillwrap::catalogue {
namespace {

bool is_called(const Entry& entry, std::string_view id) {
  return entry.id == id || std::find(entry.aliases.begin(), entry.aliases.end(), id) != entry.aliases.end();
}

template <typename Kind>
const Kind* find(const std::vector<Kind>& list, std::string_view id) {
  const auto it = std::find_if(list.begin(), list.end(), [&](const Kind& entry) { return is_called(entry, id); });
  return it == list.end() ? nullptr : &*it;
}

template <typename Kind, typename Read>
void read_list(TableReader& top, std::string_view table, std::vector<Kind>& list, Read read) {
  for (TableReader& reader : top.tables(table)) {
    const decode::Node* id = reader.node().find("id");
    TableReader named(reader.document(), reader.node(),
                      id != nullptr && id->kind == decode::Kind::text ? id->text : reader.what());
    list.push_back(read(named));
  }
}

const decode::Document& document_of(const Catalogue& catalogue, const Entry& entry) {
  for (const auto& document : catalogue.documents) {
    for (const decode::Node& list : document->root.children) {
      if (!list.children.empty() && entry.node >= &list.children.front() && entry.node <= &list.children.back())
        return *document;
    }
  }
  return *catalogue.documents.front();
}

class ReferenceCheck {
 public:
  explicit ReferenceCheck(const Catalogue& catalogue) : catalogue_(catalogue) {}

  void known(const Entry& from, std::string_view list, std::string_view id, bool exists) const {
    if (exists) return;
    fail(from, "no such entry in " + std::string(list) + ": \"" + std::string(id) + "\"",
         unknown_id_hint(catalogue_, list, id));
  }

  [[noreturn]] void fail(const Entry& from, const std::string& wrong, const std::string& hint) const {
    throw decode::InputError(document_of(catalogue_, from).source, from.node->place, from.id + ": " + wrong, hint);
  }

  void connector(const Entry& from, std::string_view id) const {
    known(from, "connectors", id, catalogue_.connector(id) != nullptr);
  }
  void connectors(const Entry& from, const std::vector<std::string>& list) const {
    for (const std::string& id : list) connector(from, id);
  }
  void packs(const Entry& from, const std::vector<std::string>& list) const {
    for (const std::string& id : list) known(from, "packs", id, catalogue_.pack(id) != nullptr);
  }
  void fuse(const Entry& from, std::string_view id) const {
    if (!id.empty()) known(from, "fuses", id, catalogue_.fuse(id) != nullptr);
  }

 private:
  const Catalogue& catalogue_;
};

}  // namespace

const CellKind* Catalogue::cell(std::string_view id) const { return find(cells, id); }
const PackKind* Catalogue::pack(std::string_view id) const { return find(packs, id); }
const DeviceKind* Catalogue::device(std::string_view id) const { return find(devices, id); }
const MeterProfile* Catalogue::meter(std::string_view id) const { return find(meters, id); }
const ConnectorKind* Catalogue::connector(std::string_view id) const { return find(connectors, id); }
const WireKind* Catalogue::wire(std::string_view id) const { return find(wires, id); }
const FuseKind* Catalogue::fuse(std::string_view id) const { return find(fuses, id); }
const BoxKind* Catalogue::box(std::string_view id) const { return find(boxes, id); }
const HolderKind* Catalogue::holder(std::string_view id) const { return find(holders, id); }
const SourceKind* Catalogue::source(std::string_view id) const { return find(sources, id); }
const ChargerKind* Catalogue::charger(std::string_view id) const { return find(chargers, id); }

std::string contacts_of(const HolderKind& kind) {
  const std::string& id = kind.id;
  if (id.starts_with("cup-")) return "smart-contacts";
  if (id == "plate-cinema") return "plate-contacts";
  if (id.starts_with("plate-slide-on")) return "slide-on-contacts";
  if (id.starts_with("bay-") || id == "built-in") return "flat-bay-contacts";
  if (id.ends_with("aa")) return "aa-contacts";
  return kind.plug;
}

Fit Catalogue::fit(std::string_view plug, std::string_view socket) const {
  const ConnectorKind* from = connector(plug);
  const ConnectorKind* to = connector(socket);
  if (from == nullptr || to == nullptr) return Fit::no;
  const auto holds = [&](const std::vector<std::string>& list) {
    return std::find(list.begin(), list.end(), to->id) != list.end();
  };
  if (holds(from->mates)) return Fit::mates;
  return holds(from->fits_loosely) ? Fit::loose : Fit::no;
}

void check_references(const Catalogue& c) {
  const ReferenceCheck check(c);
  std::set<std::string> names;
  for_each_list(c, [&](const ListName&, const auto& list) {
    for (const Entry& entry : list) {
      if (!names.insert(entry.id).second) check.fail(entry, "this id is used twice", "give each entry its own id");
      for (const std::string& alias : entry.aliases) {
        if (!names.insert(alias).second) check.fail(entry, "the alias \"" + alias + "\" is used twice", "leave it out");
      }
      for (const auto& [key, own] : entry.own_provenance) {
        const bool written = entry.node->find(key) != nullptr || key == "ampacity_a";
        if (!written) check.fail(entry, "a source for \"" + key + "\", which is not there", "name a key of the entry");
      }
    }
  });
  for (const PackKind& pack : c.packs) {
    check.known(pack, "cells", pack.cell, c.cell(pack.cell) != nullptr);
    if (!pack.plug.empty()) check.connector(pack, pack.plug);
    check.connectors(pack, pack.taps);
    if (pack.fits.empty()) check.fail(pack, "no holder takes this pack", "add it to the \"fits\" of a holder");
  }
  for (const DeviceKind& device : c.devices) {
    for (const DeviceInput& input : device.inputs) check.connector(device, input.plug);
    for (const std::string& id : device.meters) check.known(device, "meters", id, c.meter(id) != nullptr);
    for (const std::string& id : device.holders) check.known(device, "holders", id, c.holder(id) != nullptr);
  }
  for (const ConnectorKind& connector : c.connectors) {
    check.connectors(connector, connector.mates);
    check.connectors(connector, connector.fits_loosely);
  }
  for (const BoxKind& box : c.boxes) {
    for (const std::string& id : box.inputs) {
      check.known(box, "holders", id, c.holder(id) != nullptr || c.connector(id) != nullptr);
    }
    check.fuse(box, box.main_fuse);
    for (const BoxOutput& output : box.outputs) {
      check.connector(box, output.plug);
      check.fuse(box, output.fuse);
    }
  }
  for (const HolderKind& holder : c.holders) {
    check.packs(holder, holder.fits);
    check.connectors(holder, holder.taps);
    if (!holder.plug.empty()) check.connector(holder, holder.plug);
  }
  for (const SourceKind& source : c.sources) check.connector(source, source.plug);
  for (const ChargerKind& charger : c.chargers) check.packs(charger, charger.fits);
  for (const TravelRule& rule : c.travel_rules) {
    for (const auto* list : {&rule.counts, &rule.may_count}) {
      for (const std::string& id : *list) {
        const bool known = std::any_of(c.travel_rules.begin(), c.travel_rules.end(), [&](const TravelRule& other) {
          return other.id == id && other.says == TravelRule::Says::limit;
        });
        check.known(rule, "travel-rules", id, known);
      }
    }
  }
}

Catalogue read(const std::vector<DataFile>& files) {
  Catalogue c;
  for (const DataFile& file : files) {
    c.documents.push_back(std::make_unique<decode::Document>(decode::read_toml(file.text, std::string(file.name))));
    const decode::Document& document = *c.documents.back();
    TableReader top(document, document.root, std::string(file.name));
    read_list(top, "cell", c.cells, [](TableReader& r) { return read_cell_table(r); });
    read_list(top, "pack", c.packs, read_pack);
    read_list(top, "device", c.devices, read_device);
    read_list(top, "meter", c.meters, read_meter);
    read_list(top, "connector", c.connectors, read_connector);
    read_list(top, "wire", c.wires, read_wire);
    read_list(top, "fuse", c.fuses, read_fuse);
    read_list(top, "box", c.boxes, read_box);
    read_list(top, "holder", c.holders, read_holder);
    read_list(top, "source", c.sources, read_source);
    read_list(top, "charger", c.chargers, read_charger);
    read_list(top, "travel_rule", c.travel_rules, read_travel_rule);
    read_list(top, "mark", c.marks, read_wording);
    top.finish();
  }
  for (const HolderKind& holder : c.holders) {
    for (PackKind& pack : c.packs) {
      if (std::find(holder.fits.begin(), holder.fits.end(), pack.id) != holder.fits.end())
        pack.fits.push_back(holder.id);
    }
  }
  check_references(c);
  return c;
}

const Catalogue& builtin() {
  static const Catalogue catalogue = read(embedded_files());
  return catalogue;
}

CellKind read_cell(const decode::Document& document) {
  TableReader top(document, document.root, document.source);
  return read_cell(top);
}

CellKind read_cell(TableReader& top) {
  const char* advice = "for this version: write one with tillwrap fit";
  const std::string is = "a parameter file is \"" + std::string(kParamsFormat) + "\" ";
  if (const decode::Node* format = top.node().find("format"); format != nullptr && format->kind != decode::Kind::text)
    top.fail("format", "this is no parameter file, by its format", is + advice);
  if (const std::string format = top.text_or("format", kParamsFormat); format != kParamsFormat)
    top.fail("format", "the format is \"" + format.substr(0, 60) + "\"", is + advice);
  std::vector<TableReader> cells = top.tables("cell");
  top.allow("fit");  // how the numbers came about; for people
  top.finish();
  if (cells.size() != 1) {
    top.fail("cell", "the file has " + std::to_string(cells.size()) + " cells",
             "write one [[cell]] with its parameters");
  }
  return read_cell_table(cells.front(), Origin::brought_along);
}

std::vector<std::string> kind_names() {
  std::vector<std::string> out;
  const Catalogue none;
  for_each_list(none, [&](const ListName& name, const auto&) { out.emplace_back(name.plural); });
  return out;
}

std::vector<std::string> ids(const Catalogue& catalogue, std::string_view kind) {
  std::vector<std::string> out;
  for_each_list(catalogue, [&](const ListName& name, const auto& list) {
    if (name.plural != kind) return;
    for (const Entry& entry : list) out.push_back(entry.id);
  });
  return out;
}

std::string unknown_id_hint(const Catalogue& catalogue, std::string_view kind, std::string_view id) {
  std::vector<std::string> known;
  for_each_list(catalogue, [&](const ListName& name, const auto& list) {
    if (name.plural != kind) return;
    for (const Entry& entry : list) {
      known.push_back(entry.id);
      known.insert(known.end(), entry.aliases.begin(), entry.aliases.end());
    }
  });
  const auto near = decode::nearest(id, known);
  return (near ? "did you mean \"" + *near + "\"? " : "") + "list them with: tillwrap catalogue " + std::string(kind);
}

}  // namespace tillwrap::catalogue
