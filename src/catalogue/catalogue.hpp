// The built-in catalogue: generic classes of packs, devices, plugs, wires, fuses, boxes, holders, sources and chargers,
// each number with its source and mark. Data: data/*.toml, embedded at build time.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "catalogue/kinds.hpp"

namespace tillwrap::catalogue {

struct Catalogue {
  std::vector<CellKind> cells;
  std::vector<PackKind> packs;
  std::vector<DeviceKind> devices;
  std::vector<MeterProfile> meters;
  std::vector<ConnectorKind> connectors;
  std::vector<WireKind> wires;
  std::vector<FuseKind> fuses;
  std::vector<BoxKind> boxes;
  std::vector<HolderKind> holders;
  std::vector<SourceKind> sources;
  std::vector<ChargerKind> chargers;
  std::vector<TravelRule> travel_rules;
  std::vector<MarkWording> marks;
  std::vector<std::unique_ptr<decode::Document>> documents;  // what the entries' nodes point into

  // By id or alias; null when there is none.
  [[nodiscard]] const CellKind* cell(std::string_view id) const;
  [[nodiscard]] const PackKind* pack(std::string_view id) const;
  [[nodiscard]] const DeviceKind* device(std::string_view id) const;
  [[nodiscard]] const MeterProfile* meter(std::string_view id) const;
  [[nodiscard]] const ConnectorKind* connector(std::string_view id) const;
  [[nodiscard]] const WireKind* wire(std::string_view id) const;
  [[nodiscard]] const FuseKind* fuse(std::string_view id) const;
  [[nodiscard]] const BoxKind* box(std::string_view id) const;
  [[nodiscard]] const HolderKind* holder(std::string_view id) const;
  [[nodiscard]] const SourceKind* source(std::string_view id) const;
  [[nodiscard]] const ChargerKind* charger(std::string_view id) const;

  // How a plug of one class goes into a socket of another. Unknown ids: no.
  [[nodiscard]] Fit fit(std::string_view plug, std::string_view socket) const;
};

// The embedded catalogue, read once.
const Catalogue& builtin();

// One data file: its name (for messages) and text.
struct DataFile {
  std::string_view name;
  std::string_view text;
};
// Reads data files; every complaint is a decode::InputError. Cross-references are checked after the last file.
Catalogue read(const std::vector<DataFile>& files);
std::vector<DataFile> embedded_files();

// Written at the head of a parameter file, which has one [[cell]]; may be left out in one written by hand.
inline constexpr const char* kParamsFormat = "tillwrap-params-1";

// One parameter set outside the catalogue (`--params FILE`): the only [[cell]] of a TOML document, in the form of
// data/chemistry.toml; title, source, mark and date may be left out. The entry's node points into the document.
CellKind read_cell(const decode::Document& document);

// Connector id of the contacts in a holder: what a dummy pack for it ends in.
std::string contacts_of(const HolderKind& kind);

// A hint for an unknown id: `did you mean "smart-pack-14v4-98wh"? list them with: tillwrap catalogue packs`.
// `kind` is the plural list name: "packs", "devices", ...
std::string unknown_id_hint(const Catalogue& catalogue, std::string_view kind, std::string_view id);

// The plural list names in the order they are shown, and the ids of one list.
std::vector<std::string> kind_names();
std::vector<std::string> ids(const Catalogue& catalogue, std::string_view kind);

}  // namespace tillwrap::catalogue
