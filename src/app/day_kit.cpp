// Packs, holders and chargers of the day file.
#include <algorithm>
#include <cmath>

#include "app/day_builder.hpp"
#include "catalogue/reading.hpp"
#include "decode/units.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

// Nickel is filled by coulombs and names no end volts; lithium's taper slows with age as its resistance does.
void set_charging(day::Pack& pack, const catalogue::PackKind& kind, double resistance_factor) {
  const cell::ChargeWay way = cell::charge_way(pack.params.cell.chemistry);
  pack.by_coulombs = way == cell::ChargeWay::by_coulombs && kind.charge_amps > 0.0;
  if (way == cell::ChargeWay::constant_volts) pack.taper_v = cell::kTaper_v * resistance_factor;
}

std::size_t at(int i) { return static_cast<std::size_t>(i); }

wiring::RegulatorLaw law_of(const catalogue::Regulator& kind, double output_v, double limit_a) {
  return {.set_v = output_v,
          .limit_a = limit_a,
          .idle_w = kind.idle_w,
          .slope = kind.gain,
          .square_ohm = kind.loss_ohm,
          .min_in_v = kind.input_least_v,
          .restart_in_v = kind.input_least_v,
          .max_in_v = kind.input_most_v > 0.0 ? kind.input_most_v : 1e9};
}

std::string joined(const std::vector<std::string>& words) {
  std::string all;
  for (const std::string& word : words) all += (all.empty() ? "" : ", ") + word;
  return all;
}

}  // namespace

std::vector<NamedFile> params_named(const decode::Document& day) {
  std::vector<NamedFile> out;
  const decode::Node* packs = day.root.find("pack");
  if (packs == nullptr) return out;
  for (const decode::Node& pack : packs->children) {
    const decode::Node* named = pack.find("params");
    if (named == nullptr || named->kind != decode::Kind::text) continue;
    if (std::none_of(out.begin(), out.end(), [&](const NamedFile& file) { return file.name == named->text; }))
      out.push_back({named->text, named->place});
  }
  return out;
}

const decode::Document& DayBuilder::params_file(Reader& reader) const {
  const std::string named = reader.text("params");
  const auto file = params_.find(named);
  if (file == params_.end()) {
    reader.fail("params", "the parameter file \"" + named.substr(0, 60) + "\" was not read",
                "give the day as a file beside it, write what it holds in place of its name, or leave the key out");
  }
  return file->second;
}

// The pack's cell: of its own parameters, else of the catalogue.
catalogue::CellKind DayBuilder::cell_of(Reader& reader, const catalogue::PackKind& kind) const {
  const catalogue::CellKind& usual = *catalogue_.cell(kind.cell);
  reader.allow("params");
  const decode::Node* given = reader.node().find("params");
  if (given == nullptr) return usual;
  catalogue::CellKind own;
  if (given->kind == decode::Kind::table) {
    Reader set = reader.table("params", "the pack's parameters");
    own = catalogue::read_cell(set);
  } else {
    own = catalogue::read_cell(params_file(reader));
  }
  if (own.params.chemistry != usual.params.chemistry) {
    reader.fail(
        "params",
        "these are the parameters of \"" + own.id + "\", a cell of another chemistry than \"" + kind.id + "\" has",
        "give a file fitted from \"" + usual.id + "\"");
  }
  return own;
}

void DayBuilder::read_packs(Reader& root) {
  for (Reader& reader : root.tables("pack", "pack")) {
    std::vector<std::string> labels;
    std::string key = "label";
    if (reader.has("labels")) {
      key = "labels";
      labels = reader.texts("labels");
      if (labels.empty()) reader.fail("labels", "no label in the list", "write at least one");
    } else {
      labels.push_back(reader.text("label"));
    }
    const catalogue::PackKind& kind = kind_of(reader, &catalogue::Catalogue::pack, "packs");
    const catalogue::CellKind cell_kind = cell_of(reader, kind);
    cell::Ageing age;
    age.capacity_fraction = reader.quantity_or("health", Dimension::fraction, 1.0, {.most = 1.2, .above = 0.0});
    age.resistance_factor =
        reader.quantity_or("resistance", Dimension::factor, cell::prior_resistance_factor(age.capacity_fraction),
                           {.least = 0.3, .most = 10.0});
    day::Pack pack;
    pack.params = catalogue::pack_params(kind, cell_kind, age);
    pack.mount = kind.id;
    pack.charge_v = kind.charge_volts;
    set_charging(pack, kind, age.resistance_factor);
    pack.start_charge = reader.quantity_or("charge", Dimension::fraction, 1.0, {.least = 0.0, .most = 1.0});
    pack.params.weak_fraction =
        reader.quantity_or("weakest_cell", Dimension::fraction, pack.params.weak_fraction, {.most = 1.0, .above = 0.2});
    pack.params.gauge.learned_capacity_factor =
        reader.quantity_or("gauge_learned", Dimension::factor, 1.0, {.least = 0.3, .most = 3.0});
    reader.allow("capacity");
    if (reader.has("capacity")) {
      const double capacity_as = reader.quantity("capacity", Dimension::charge, {.above = 0.0});
      const double factor = capacity_as / (kind.rated_ah * tillwrap::kSecondsPerHour);
      if (factor < 0.2 || factor > 3.0) {
        reader.fail("capacity",
                    "the label's capacity is " + decode::quantity_words(capacity_as, Dimension::charge) +
                        ", far from this kind's " + decode::number_words(kind.rated_ah) + " Ah",
                    "pick the kind that fits, or give health instead");
      }
      catalogue::PackKind resized = kind;
      resized.rated_ah *= factor;
      resized.rated_wh *= factor;
      const cell::PackParams before = pack.params;
      pack.params = catalogue::pack_params(resized, cell_kind, age);
      pack.params.weak_fraction = before.weak_fraction;
      pack.params.gauge = before.gauge;
    }
    pack.spare_place = place_index(reader, "spare", "bag");
    // Charging limits of the chemistry families: lithium and nickel 0 to 45 °C, lead -20 to 50 °C (secondary source).
    const cell::Chemistry chemistry = pack.params.cell.chemistry;
    if (chemistry == cell::Chemistry::vrla_agm || chemistry == cell::Chemistry::vrla_gel) {
      pack.coldest_charge_k = 253.15;
      pack.hottest_charge_k = 323.15;
    }
    if (kind.regulator) {
      double output_v = kind.regulator->output_v;
      double limit_a = kind.regulator->most_w > 0.0 ? kind.regulator->most_w / output_v : 3.0;
      if (!kind.profiles.empty()) {
        // The level asked for by the device or the trigger lead; the bank falls to the next lower one it has.
        const double asked_v =
            reader.quantity_or("pd", Dimension::voltage, kind.profiles.back().volts, {.least = 5.0, .most = 48.0});
        const catalogue::PowerProfile* chosen = &kind.profiles.front();
        for (const catalogue::PowerProfile& profile : kind.profiles) {
          if (profile.volts <= asked_v + 1e-6 && profile.volts >= chosen->volts) chosen = &profile;
        }
        if (std::fabs(chosen->volts - asked_v) > 1e-6) {
          warn(reader.place("pd"), "\"" + labels.front() + "\" has no " + decode::number_words(asked_v) +
                                       " V level and falls back to " + decode::number_words(chosen->volts) + " V");
        }
        output_v = chosen->volts;
        limit_a = chosen->most_a;
      }
      pack.regulator = law_of(*kind.regulator, output_v, limit_a);
      pack.params.protection.low_load_a = kind.regulator->low_load_a;
      pack.params.protection.low_load_s = kind.regulator->low_load_s;
    }
    kit::PackItem item{.kind = &kind,
                       .place = reader.place(key),
                       .health = age.capacity_fraction,
                       .resistance_factor = age.resistance_factor,
                       .own_cells = reader.node().find("params") != nullptr,
                       .rated_ah = kind.rated_ah,
                       .rated_wh = kind.rated_wh,
                       .price = kind.price_usd};
    if (reader.has("capacity")) {
      item.rated_ah = reader.quantity("capacity", Dimension::charge, {.above = 0.0}) / tillwrap::kSecondsPerHour;
      item.rated_wh = item.rated_ah * kind.nominal_v;
    }
    item.bought = reader.text_or("bought", "");
    reader.allow("travels");
    if (reader.has("travels")) {
      const std::string how = reader.one_of("travels", {"spare", "in device", "stays"});
      item.travels = how == "spare"       ? kit::Travels::spare
                     : how == "in device" ? kit::Travels::in_device
                                          : kit::Travels::stays;
    }
    reader.allow("note");
    const auto of_kind = out_.inventory.prices.find(kind.id);
    std::optional<double> price = reader.maybe_number("price", {.least = 0.0, .most = 1e6});
    if (!price && of_kind != out_.inventory.prices.end()) price = of_kind->second;
    if (price) {
      item.price = *price;
      item.own_price = true;
    }
    reader.finish();
    for (const std::string& label : labels) {
      name_once(reader, key, label, "pack");
      pack.params.label = label;
      packs_[label] = static_cast<int>(day_.packs.size());
      pack_places_.push_back(reader.place(key));
      day_.packs.push_back(pack);
      out_.inventory.packs.push_back(item);
    }
  }
}

int DayBuilder::pack_index(const Reader& reader, const decode::Node& node, const std::string& label) const {
  const auto found = packs_.find(label);
  if (found != packs_.end()) return found->second;
  std::vector<std::string> known;
  for (const auto& entry : packs_) known.push_back(entry.first);
  const auto near = decode::nearest(label, known);
  throw decode::InputError(document_.source, node.place, reader.what() + ": no pack is labelled \"" + label + "\"",
                           near            ? "did you mean \"" + *near + "\"?"
                           : known.empty() ? "the day has no [[pack]] at all"
                                           : "packs: " + joined(known));
}

// A list of labels, or tables with a label and a time.
void DayBuilder::read_slots(Reader& reader, const decode::Node& list, int holder, bool charging) {
  const auto& fits = day_.holders[at(holder)].accepts;
  for (const decode::Node& node : list.children) {
    day::Slot slot;
    std::string label;
    if (node.kind == decode::Kind::text) {
      label = node.text;
    } else if (node.kind == decode::Kind::table) {
      Reader entry(document_, node, reader.what() + ", a pack in it");
      label = entry.text("pack");
      if (charging) {
        slot.at_s = entry.quantity("from", Dimension::clock);
        if (entry.has("until")) slot.out_s = entry.quantity("until", Dimension::clock);
      } else if (entry.has("at")) {
        slot.at_s = entry.quantity("at", Dimension::clock);
      }
      entry.finish();
    } else {
      throw decode::InputError(document_.source, node.place, reader.what() + ": a pack is expected",
                               "write its label, or { pack = \"C1\", at = \"07:00\" }");
    }
    slot.pack = pack_index(reader, node, label);
    const std::string& mount = day_.packs[at(slot.pack)].mount;
    if (std::find(fits.begin(), fits.end(), mount) == fits.end()) {
      throw decode::InputError(document_.source, node.place,
                               "pack \"" + label + "\" (" + mount + ") does not fit " + reader.what(),
                               "it takes: " + joined(fits));
    }
    if (charging && std::isnan(slot.at_s)) {
      throw decode::InputError(document_.source, node.place, "\"" + label + "\" in " + reader.what() + " has no time",
                               "write { pack = \"C1\", from = \"12:50\", until = \"13:35\" }");
    }
    day_.holders[at(holder)].slots.push_back(slot);
    slot_places_[at(holder)].push_back(node.place);
  }
}

void DayBuilder::read_holders(Reader& root) {
  for (Reader& reader : root.tables("holder", "holder")) {
    const std::string name = reader.text("name");
    name_once(reader, "name", name, "holder");
    const catalogue::HolderKind& kind = kind_of(reader, &catalogue::Catalogue::holder, "holders");
    const Reader named(document_, reader.node(), "holder \"" + name + "\"");
    const int index = static_cast<int>(day_.holders.size());
    holders_[name] = index;
    day::Holder holder;
    holder.name = name;
    holder.accepts = kind.fits;
    holder.place = place_index(reader, "place", kind.place.empty() ? "bag" : kind.place);
    reader.allow("contacts");
    const bool worn = reader.has("contacts") && reader.one_of("contacts", {"new", "worn"}) == "worn";
    holder.contact_ohm = worn ? kind.contact_worn_ohm : kind.contact_ohm;
    holder.gap_s = reader.quantity_or("change", Dimension::duration, kind.change_s, {.least = 0.0, .most = 3600.0});
    holder.built_in = kind.change_s <= 0.0;
    holder.one_way = reader.boolean_or("one_way", false);
    holder.drop_v =
        reader.quantity_or("drop", Dimension::voltage, holder.one_way ? 0.05 : 0.0, {.least = 0.0, .most = 1.5});
    holder.port = new_port(name, holder.place);
    day_.holders.push_back(holder);
    out_.inventory.holders.push_back({.kind = &kind, .place = reader.place("name"), .worn = worn});
    slot_places_.emplace_back();
    const decode::Node& list = reader.list("packs");
    Reader for_slots = named;
    read_slots(for_slots, list, index, false);
    // What a wire can start from: the holder's own lead, or the plug on the pack itself.
    std::string plug = kind.plug;
    std::string tap;
    bool bank = false;
    bool plain = false;
    for (const day::Slot& slot : day_.holders.back().slots) {
      const catalogue::PackKind* pack = catalogue_.pack(day_.packs[at(slot.pack)].mount);
      if (plug.empty()) plug = pack->plug;
      if (!pack->taps.empty()) tap = pack->taps.front();
      (pack->regulator ? bank : plain) = true;
      day_.holders.back().renegotiation_s = pack->profiles.empty() ? 0.0 : pack->renegotiation_s;
    }
    if (bank && plain) {
      reader.fail("packs", "banks with a regulated output and plain packs take turns in holder \"" + name + "\"",
                  "use one holder for each");
    }
    points_[name] = {.port = holder.port, .plug = plug, .is_source = true};
    if (!tap.empty()) points_[name + ".tap"] = {.port = holder.port, .plug = tap, .is_source = true};
    reader.allow("in");
    holder_notes_.push_back({reader, &kind});
  }
}

void DayBuilder::read_chargers(Reader& root) {
  for (Reader& reader : root.tables("charger", "charger")) {
    const std::string name = reader.text("name");
    name_once(reader, "name", name, "charger");
    const catalogue::ChargerKind& kind = kind_of(reader, &catalogue::Catalogue::charger, "chargers");
    const std::string source = reader.text_or("source", name);
    const int place = place_index(reader, "place", "van");
    const double amps = reader.quantity_or("amps", Dimension::current, kind.amps_per_bay, {.most = 50.0, .above = 0.0});
    auto supply = supplies_.find(source);
    if (supply != supplies_.end()) points_[source].leads_away = true;
    if (supply == supplies_.end()) {
      if (reader.has("source"))
        reader.fail("source", "no source is named \"" + source + "\"",
                    "name a [[source]], or leave it out: then periods list the charger's own name under live");
      supply = supplies_.emplace(source, static_cast<int>(day_.supplies.size())).first;
      day_.supplies.push_back({.name = source});
      out_.inventory.supplies.push_back({.place = reader.place("name")});
    }
    kit::ChargerItem item{.kind = &kind,
                          .place = reader.place("name"),
                          .name = name,
                          .supply = supply->second,
                          .where = place,
                          .amps_per_bay = amps,
                          .together_a = kind.amps_together < kind.bays * amps ? kind.amps_together : 0.0};
    if (const auto together = reader.maybe_draw("together")) {
      if (together->kind == decode::Draw::Kind::resistance || together->value <= 0.0)
        reader.fail("together", "not a current or a power", "write it as \"4 A\" or \"60 W\", for all bays together");
      item.together_a = together->kind == decode::Draw::Kind::current ? together->value : 0.0;
      item.together_w = together->kind == decode::Draw::Kind::power ? together->value : 0.0;
    }
    reader.allow("feeds");
    if (reader.has("feeds")) item.in_turn = reader.one_of("feeds", {"at once", "in turn"}) == "in turn";
    const decode::Node* bays = reader.take("bays");
    if (bays != nullptr && bays->kind != decode::Kind::array)
      reader.fail("bays", "a list of bays is expected", "write bays = [[{ pack = \"C1\", from = \"12:50\" }], []]");
    const std::size_t used = bays == nullptr ? 0 : bays->children.size();
    if (used > at(kind.bays)) {
      reader.fail("bays", "\"" + name + "\" has " + std::to_string(kind.bays) + " bays, not " + std::to_string(used),
                  "list at most that many");
    }
    for (std::size_t b = 0; b < used; ++b) {
      const decode::Node& list = bays->children[b];
      if (list.kind != decode::Kind::array)
        reader.fail("bays", "each bay is a list of packs", "write bays = [[{ pack = \"C1\", from = \"12:50\" }], []]");
      const std::string bay_name = name + " bay " + std::to_string(b + 1);
      const int index = static_cast<int>(day_.holders.size());
      day_.holders.push_back({.name = bay_name,
                              .accepts = kind.fits,
                              .port = new_port(bay_name, place),
                              .place = place,
                              .gap_s = 0.0,
                              .charger_supply = supply->second,
                              .charge_a = amps,
                              .charge_end = kind.end_fraction,
                              .charge_put_in = kind.put_in});
      out_.inventory.holders.push_back({.place = reader.place("name")});
      item.holders.push_back(index);
      slot_places_.emplace_back();
      Reader for_slots(document_, reader.node(), bay_name);
      read_slots(for_slots, list, index, true);
    }
    out_.inventory.chargers.push_back(std::move(item));
    reader.finish();
  }
}

// Times in order; no pack in two places at once, no two packs in one holder at once.
void DayBuilder::check_slots() {
  const double start_s = day_.periods.front().from_s;
  struct Use {
    int holder;
    std::size_t slot;
    double from_s;
    double until_s;
  };
  std::vector<std::vector<Use>> uses(day_.packs.size());
  for (std::size_t h = 0; h < day_.holders.size(); ++h) {
    day::Holder& holder = day_.holders[h];
    double before_s = -1.0;
    for (std::size_t k = 0; k < holder.slots.size(); ++k) {
      day::Slot& slot = holder.slots[k];
      const std::string& label = day_.packs[at(slot.pack)].params.label;
      if (!std::isnan(slot.at_s)) {
        slot.at_s = clock_in_day(slot.at_s, slot_places_[h][k], "\"" + label + "\" into \"" + holder.name + "\"");
        if (slot.at_s <= before_s) {
          throw decode::InputError(document_.source, slot_places_[h][k],
                                   "\"" + label + "\" goes into \"" + holder.name + "\" at " +
                                       decode::quantity_words(slot.at_s, Dimension::clock) +
                                       ", not after the pack before it: two packs in one holder at once",
                                   "give a later time, or leave it out to let the forecast choose");
        }
        before_s = slot.at_s;
      } else if (k > 0 && k + 1 < holder.slots.size() && !std::isnan(holder.slots[k + 1].at_s)) {
        throw decode::InputError(document_.source, slot_places_[h][k],
                                 "\"" + label + "\" in \"" + holder.name + "\" has no time but the pack after it has",
                                 "give it one, or leave out the later ones too");
      }
      if (!std::isnan(slot.out_s)) {
        slot.out_s = clock(slot.out_s);
        if (slot.out_s <= slot.at_s) {
          throw decode::InputError(document_.source, slot_places_[h][k],
                                   "\"" + label + "\" comes out of \"" + holder.name + "\" before it goes in",
                                   "give until after from");
        }
      }
      const double from_s = std::isnan(slot.at_s) ? (k == 0 ? start_s : day::kAuto) : slot.at_s;
      double until_s = slot.out_s;
      if (std::isnan(until_s) && k + 1 < holder.slots.size()) until_s = holder.slots[k + 1].at_s;
      uses[at(slot.pack)].push_back({static_cast<int>(h), k, from_s, until_s});
    }
  }
  for (std::size_t p = 0; p < uses.size(); ++p) {
    for (std::size_t i = 0; i < uses[p].size(); ++i) {
      for (std::size_t j = 0; j < uses[p].size(); ++j) {
        const Use& a = uses[p][i];
        const Use& b = uses[p][j];
        if (a.holder == b.holder || std::isnan(a.from_s) || std::isnan(b.from_s)) continue;
        const bool pulled =
            day_.holders[at(a.holder)].charger_supply >= 0;  // a bay gives its pack up when it is wanted
        const double until_s = std::isnan(a.until_s) ? 1e18 : a.until_s;
        if (!pulled && b.from_s >= a.from_s && b.from_s < until_s) {
          throw decode::InputError(document_.source, slot_places_[at(b.holder)][b.slot],
                                   "pack \"" + day_.packs[p].params.label + "\" is in \"" +
                                       day_.holders[at(a.holder)].name + "\" and in \"" +
                                       day_.holders[at(b.holder)].name + "\" at once",
                                   "give times that do not overlap, or another pack");
        }
      }
    }
  }
}

}  // namespace tillwrap::app
