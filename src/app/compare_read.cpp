// What is compared: the catalogue's pack kinds, or the options of a file.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "app/compare.hpp"
#include "app/prices.hpp"
#include "decode/table_reader.hpp"
#include "decode/units.hpp"
#include "quantity/order.hpp"

namespace tillwrap::app {

namespace {

constexpr double kMostBank_v = 15.0;  // of a USB PD bank: most bag devices take 18 V, some accessories 15

std::size_t at(int i) { return static_cast<std::size_t>(i); }

bool is_compartment(const catalogue::HolderKind& kind) {
  return kind.id.starts_with("tray-") || kind.id.starts_with("door-") || kind.id.starts_with("bay-") ||
         kind.change_s <= 0.0;
}

// The level a USB PD bank is asked for there: the day's own where it has that bank in use, else the highest that all it
// feeds takes; where none is, the highest of all.
double bank_level_v(const DayFile& file, int holder, const std::vector<FeedTarget>& targets,
                    const catalogue::PackKind& kind) {
  for (const day::Slot& slot : file.scenario.holders[at(holder)].slots) {
    const day::Pack& pack = file.scenario.packs[at(slot.pack)];
    if (file.inventory.packs[at(slot.pack)].kind == &kind && pack.regulator) return pack.regulator->set_v;
  }
  double most = kMostBank_v;
  for (const FeedTarget& target : targets) {
    for (const kit::BoxItem& box : file.inventory.boxes) {
      if (file.scenario.devices[at(box.device)].name == target.box && box.kind->most_v > 0.0)
        most = std::min(most, box.kind->most_v);
    }
    for (const kit::DeviceItem& device : file.inventory.devices) {
      for (const kit::InputItem& input : device.inputs) {
        if (input.name == target.point && input.most_v > 0.0) most = std::min(most, input.most_v);
      }
    }
  }
  double level = 0.0;
  for (const catalogue::PowerProfile& profile : kind.profiles) {
    if (profile.volts <= most) level = std::max(level, profile.volts);
  }
  return level > 0.0 ? level : std::min(kMostBank_v, kind.profiles.back().volts);
}

double full_v(const catalogue::Catalogue& catalogue, const DayFile& file, int holder,
              const std::vector<FeedTarget>& targets, const catalogue::PackKind& kind) {
  if (!kind.profiles.empty()) return bank_level_v(file, holder, targets, kind);
  if (kind.regulator) return kind.regulator->output_v;
  if (kind.charge_volts > 0.0) return kind.charge_volts;
  return kind.series * catalogue.cell(kind.cell)->params.ocv.value(1.0);
}

// Volts the fed point needs at least, and what needs them.
std::pair<double, std::string> least_v(const DayFile& file, const std::vector<FeedTarget>& targets) {
  double least = 0.0;
  std::string who;
  for (const FeedTarget& target : targets) {
    for (const kit::BoxItem& box : file.inventory.boxes) {
      if (file.scenario.devices[at(box.device)].name != target.box || box.kind->least_v <= least) continue;
      least = box.kind->least_v;
      who = target.box;
    }
    for (const kit::DeviceItem& device : file.inventory.devices) {
      for (const kit::InputItem& input : device.inputs) {
        if (input.name != target.point || input.least_v <= least) continue;
        least = input.least_v;
        who = input.name;
      }
    }
  }
  return {least, who};
}

struct Wanted {
  std::string name;
  const catalogue::PackKind* pack = nullptr;
  const catalogue::HolderKind* holder_kind = nullptr;
  const catalogue::BoxKind* box = nullptr;
  double health = 1.0;
  double price = -1.0;
  std::vector<decode::Node> wires;  // tables with `to` and what changes of that lead
};

// Every connector between the pack and what is fed locks.
bool all_lock(const catalogue::Catalogue& catalogue, const Wanted& wanted, const std::vector<FeedTarget>& targets,
              bool lead) {
  std::vector<std::string> plugs{catalogue::contacts_of(*wanted.holder_kind)};
  if (lead) {
    if (!wanted.holder_kind->plug.empty()) plugs.push_back(wanted.holder_kind->plug);
    if (!wanted.pack->plug.empty()) plugs.push_back(wanted.pack->plug);
    for (const FeedTarget& target : targets) plugs.push_back(target.plug);
  }
  return std::all_of(plugs.begin(), plugs.end(), [&](const std::string& plug) {
    const catalogue::ConnectorKind* kind = catalogue.connector(plug);
    return plug.empty() || kind == nullptr || kind->locks;
  });
}

CompareOption option_of(const decode::Document& document, const DayFile& file, const catalogue::Catalogue& catalogue,
                        int holder, const Wanted& wanted) {
  const std::string name = file.scenario.holders[at(holder)].name;
  Feed feed{.holder = name,
            .holder_kind = wanted.holder_kind,
            .pack_kind = wanted.pack,
            .labels = {"1"},
            .health = wanted.health,
            .price = wanted.price,
            .box = wanted.box};
  // Spares of the option wait where those of the day do.
  const day::Holder& now = file.scenario.holders[at(holder)];
  if (now.slots.size() > 1) {
    feed.spare = file.scenario.places[at(file.scenario.packs[at(now.slots.back().pack)].spare_place)].name;
  }
  const FeedChange first = feed_change(file, catalogue, feed);
  const std::vector<FeedTarget> targets = feed_targets(file, catalogue, holder);
  std::string box_name;
  for (const FeedTarget& target : targets) {
    if (!target.box.empty()) box_name = target.box;
  }
  DayChange boxes;
  bool two = false;
  if (wanted.box != nullptr) {
    if (box_name.empty()) throw NotPossible("\"" + name + "\" sits in no box that could be another one");
    boxes = box_change(file, box_name, *wanted.box);
    two = std::count(wanted.box->inputs.begin(), wanted.box->inputs.end(), wanted.holder_kind->id) > 1;
  }
  const std::string second = edit::fresh_name(document, name + " 2");
  CompareOption option{
      .name = wanted.name,
      .how = first.how,
      .pack = wanted.pack,
      .holder_kind = wanted.holder_kind,
      .box = wanted.box,
      .health = wanted.health,
      .price = wanted.price >= 0.0 ? Money::of(wanted.price, true) : pack_price(file.inventory, *wanted.pack),
      .locks = all_lock(catalogue, wanted, targets, first.adapter || (!targets.empty() && targets.front().by_wire)),
      .adapter = first.adapter};
  option.holders = {name};
  if (two) option.holders.push_back(second);
  const auto day_with = [&document, &file, &catalogue, wanted_feed = feed, boxes, two, second, box_name,
                         wires = wanted.wires,
                         level_v = wanted.pack->profiles.empty()
                                       ? 0.0
                                       : bank_level_v(file, holder, targets, *wanted.pack)](int packs) -> DayFile {
    Feed feed = wanted_feed;
    feed.labels.clear();
    for (int k = 0; k < packs; ++k)
      feed.labels.push_back(edit::fresh_name(document, fmt::format("{} pack {}", feed.holder, k + 1)));
    std::vector<DayChange> changes;
    if (boxes) changes.push_back(boxes);
    changes.push_back(feed_change(file, catalogue, feed).change);
    if (feed.pack_kind->profiles.size() > 1) {
      changes.push_back([label = feed.labels.front(), level_v](decode::Document& day) {
        for (decode::Node& pack : edit::things(day, "pack").children) {
          const decode::Node* labels = pack.find("labels");
          if (labels != nullptr && !labels->children.empty() && labels->children.front().text == label)
            edit::set(pack, edit::text("pd", fmt::format("{} V", level_v)));
        }
      });
    }
    if (two && packs > 1) {
      changes.push_back([feed, second, box_name](decode::Document& day) {
        std::vector<std::string> even;
        std::vector<std::string> odd;
        for (std::size_t k = 0; k < feed.labels.size(); ++k) (k % 2 == 0 ? even : odd).push_back(feed.labels[k]);
        edit::set(edit::thing(day, "holder", "name", feed.holder), edit::texts("packs", even));
        edit::things(day, "holder")
            .children.push_back(edit::table("", {edit::text("name", second), edit::text("kind", feed.holder_kind->id),
                                                 edit::text("in", box_name), edit::texts("packs", odd)}));
      });
    }
    if (!wires.empty()) {
      changes.push_back([wires](decode::Document& day) {
        for (const decode::Node& wanted_wire : wires) {
          const decode::Node* to = wanted_wire.find("to");
          decode::Node& wire = edit::thing(day, "wire", "to", to->text);
          for (const decode::Node& part : wanted_wire.children) {
            if (part.key != "to") edit::set(wire, part);
          }
        }
      });
    }
    return changed_day(document, file, changes, catalogue);
  };
  option.day = day_with;
  option.gear = gear_to_get(file, day_with(two ? 2 : 1), catalogue);
  return option;
}

}  // namespace

std::vector<CompareOption> catalogue_options(const decode::Document& document, const DayFile& file,
                                             const catalogue::Catalogue& catalogue, int holder,
                                             std::vector<LeftOut>& left_out) {
  std::vector<CompareOption> options;
  const std::vector<FeedTarget> targets = feed_targets(file, catalogue, holder);
  const auto [least, who] = least_v(file, targets);
  const catalogue::HolderKind* now = file.inventory.holders[at(holder)].kind;
  std::set<const catalogue::PackKind*> used;
  for (const day::Slot& slot : file.scenario.holders[at(holder)].slots)
    used.insert(file.inventory.packs[at(slot.pack)].kind);
  for (const catalogue::PackKind& pack : catalogue.packs) {
    const double volts = full_v(catalogue, file, holder, targets, pack);
    if (volts < least) {
      left_out.push_back({pack.id, fmt::format("{:.3g} V full, \"{}\" takes no less than {:.3g}", volts, who, least)});
      continue;
    }
    // Its own holder first, then any other it sits in, by a lead.
    std::vector<const catalogue::HolderKind*> kinds = holders_of(catalogue, pack.id);
    sort_stably(
        kinds, [&](const catalogue::HolderKind* a, const catalogue::HolderKind* b) { return (a == now) > (b == now); });
    std::string why = "no holder of the catalogue takes it outside a device";
    bool found = false;
    for (const catalogue::HolderKind* kind : kinds) {
      if (kind != now && is_compartment(*kind)) continue;
      try {
        CompareOption option =
            option_of(document, file, catalogue, holder, {.name = pack.id, .pack = &pack, .holder_kind = kind});
        option.build(1);
        option.now = used.contains(&pack) && kind == now;
        options.push_back(std::move(option));
        found = true;
        break;
      } catch (const NotPossible& error) {
        why = error.what();
      } catch (const decode::InputError& error) {
        why = error.message;
      }
    }
    if (!found) left_out.push_back({pack.id, why});
  }
  return options;
}

std::vector<CompareOption> read_options(const decode::Document& source, const decode::Document& document,
                                        const DayFile& file, const catalogue::Catalogue& catalogue, int holder) {
  std::vector<CompareOption> options;
  decode::TableReader root(source, source.root, "the options file");
  std::vector<decode::TableReader> readers = root.tables("option", "option");
  if (readers.empty())
    root.fail_here("no [[option]] is written in this file", "write at least one, with name and pack");
  root.finish();
  const catalogue::HolderKind* now = file.inventory.holders[at(holder)].kind;
  std::set<std::string> names;
  const std::vector<FeedTarget> targets = feed_targets(file, catalogue, holder);
  const auto [least_volts, takes_it] = least_v(file, targets);
  const double least = least_volts;
  const std::string who = takes_it;
  for (decode::TableReader& reader : readers) {
    Wanted wanted;
    wanted.name = reader.text("name");
    if (!names.insert(wanted.name).second)
      reader.fail("name", "two options are named \"" + wanted.name + "\"", "give each a name of its own");
    const std::string pack = reader.text("pack");
    wanted.pack = catalogue.pack(pack);
    if (wanted.pack == nullptr)
      reader.fail("pack", "the catalogue has no packs entry \"" + pack + "\"",
                  catalogue::unknown_id_hint(catalogue, "packs", pack));
    const std::vector<const catalogue::HolderKind*> kinds = holders_of(catalogue, wanted.pack->id);
    reader.allow("holder");
    if (reader.has("holder")) {
      const std::string kind = reader.text("holder");
      wanted.holder_kind = catalogue.holder(kind);
      if (wanted.holder_kind == nullptr)
        reader.fail("holder", "the catalogue has no holders entry \"" + kind + "\"",
                    catalogue::unknown_id_hint(catalogue, "holders", kind));
      if (std::find(kinds.begin(), kinds.end(), wanted.holder_kind) == kinds.end()) {
        std::string list;
        for (const catalogue::HolderKind* one : kinds) list += (list.empty() ? "" : ", ") + one->id;
        reader.fail("holder", "\"" + wanted.pack->id + "\" does not fit \"" + wanted.holder_kind->id + "\"",
                    list.empty() ? "nothing in the catalogue takes it" : "it fits: " + list);
      }
    } else {
      for (const catalogue::HolderKind* kind : kinds) {
        if (kind == now || wanted.holder_kind == nullptr ||
            (wanted.holder_kind != now && is_compartment(*wanted.holder_kind)))
          wanted.holder_kind = kind;
      }
      if (wanted.holder_kind == nullptr)
        reader.fail("pack", "no holder of the catalogue takes \"" + wanted.pack->id + "\"", "pick another kind");
    }
    reader.allow("box");
    if (reader.has("box")) {
      const std::string kind = reader.text("box");
      wanted.box = catalogue.box(kind);
      if (wanted.box == nullptr)
        reader.fail("box", "the catalogue has no boxes entry \"" + kind + "\"",
                    catalogue::unknown_id_hint(catalogue, "boxes", kind));
    }
    wanted.health = reader.quantity_or("health", decode::Dimension::fraction, 1.0, {.most = 1.2, .above = 0.0});
    if (const auto price = reader.maybe_number("price", {.least = 0.0, .most = 1e6})) wanted.price = *price;
    int count = 0;
    reader.allow("count");
    if (reader.has("count")) count = static_cast<int>(reader.integer("count", 1, 40));
    if (const decode::Node* wires = reader.take("wires")) {
      if (wires->kind != decode::Kind::array)
        reader.fail("wires", "a list of leads is expected",
                    "write wires = [{ to = \"recorder.dc\", length = \"0.3 m\" }]");
      for (const decode::Node& wire : wires->children) {
        const decode::Node* to = wire.kind == decode::Kind::table ? wire.find("to") : nullptr;
        const bool known = to != nullptr && std::any_of(file.inventory.wires.begin(), file.inventory.wires.end(),
                                                        [&](const kit::WireItem& item) { return item.to == to->text; });
        if (!known)
          throw decode::InputError(
              source.source, wire.place, "option \"" + wanted.name + "\": no lead of the day goes there",
              "name the end of a [[wire]] as the day file writes it, such as to = \"recorder.dc\"");
        wanted.wires.push_back(wire);
      }
    }
    reader.finish();
    const double volts = full_v(catalogue, file, holder, targets, *wanted.pack);
    if (wanted.box == nullptr && volts < least)
      reader.fail(
          "pack",
          fmt::format(
              "option \"{}\" does not go together: \"{}\" gives {:.3g} V full and \"{}\" takes no less than {:.3g}",
              wanted.name, wanted.pack->id, volts, who, least),
          "pick a pack with more volts");
    try {
      CompareOption option = option_of(document, file, catalogue, holder, wanted);
      option.count = count;
      option.build(std::max(1, count));
      options.push_back(std::move(option));
    } catch (const NotPossible& error) {
      reader.fail("pack", "option \"" + wanted.name + "\" does not go together: " + error.what(),
                  "pick another pack, holder or box");
    } catch (const decode::InputError& error) {
      reader.fail("pack", "option \"" + wanted.name + "\" does not go together: " + error.message,
                  error.hint.empty() ? "pick another pack, holder or box" : error.hint);
    }
  }
  return options;
}

}  // namespace tillwrap::app
