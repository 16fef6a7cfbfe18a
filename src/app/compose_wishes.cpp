// The wishes as they come: JSON or TOML, checked against the catalogue.
#include <algorithm>

#include "app/compose.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {

namespace {

using decode::Dimension;
using decode::TableReader;

constexpr std::size_t kMostDevices = 60;

template <typename Find>
std::string known_id(TableReader& reader, const std::string& key, const std::string& id, const char* list,
                     const catalogue::Catalogue& catalogue, Find find) {
  if (id.empty()) return id;
  const auto* entry = (catalogue.*find)(id);
  if (entry == nullptr)
    reader.fail(key, "the catalogue has no \"" + id + "\" among its " + list,
                catalogue::unknown_id_hint(catalogue, list, id));
  return entry->id;
}

// A quantity is kept as written; only that it is one is checked here.
std::string quantity(TableReader& reader, const char* key, Dimension dimension, const char* otherwise,
                     const decode::Allowed& allowed = {}) {
  if (!reader.has(key)) return otherwise;
  (void)reader.quantity(key, dimension, allowed);
  return reader.text(key);
}

}  // namespace

Wishes read_wishes(TableReader& reader, const catalogue::Catalogue& catalogue) {
  Wishes out;
  out.title = reader.text_or("title", "");
  out.pack = known_id(reader, "pack", reader.text_or("pack", ""), "packs", catalogue, &catalogue::Catalogue::pack);
  out.packs = static_cast<int>(reader.integer_or("packs", 1, 24, 2));
  out.holder =
      known_id(reader, "holder", reader.text_or("holder", ""), "holders", catalogue, &catalogue::Catalogue::holder);
  out.box = known_id(reader, "box", reader.text_or("box", ""), "boxes", catalogue, &catalogue::Catalogue::box);
  out.bridge = reader.boolean_or("bridge", true);
  out.cells = reader.text_or("cells", "aa-lithium");
  const auto cells = [&](TableReader& of, const std::string& wished) {
    if (wished.empty()) return;
    const bool known =
        std::any_of(catalogue.packs.begin(), catalogue.packs.end(), [&](const catalogue::PackKind& pack) {
          return pack.id == wished || pack.id.substr(0, pack.id.rfind("-x")) == wished;
        });
    if (!known)
      of.fail("cells", "the catalogue has no cells \"" + wished + "\"",
              "aa-alkaline, aa-nimh, aa-nimh-lsd, aa-lithium, or a pack's id");
  };
  cells(reader, out.cells);
  out.sets = static_cast<int>(reader.integer_or("sets", 1, 12, 2));
  out.call = quantity(reader, "call", Dimension::clock, "08:00");
  out.wrap = quantity(reader, "wrap", Dimension::clock, "18:00");
  out.off = quantity(reader, "off", Dimension::clock, "");
  out.overrun = quantity(reader, "overrun", Dimension::duration, "2 h");
  out.meal = quantity(reader, "meal", Dimension::clock, "");
  out.date = reader.text_or("date", "");
  out.air = quantity(reader, "air", Dimension::temperature, "10 °C", {.least = 213.15, .most = 333.15});
  std::size_t devices = 0;
  for (TableReader& one : reader.tables("devices", "a device wished for")) {
    DeviceWish wish;
    wish.kind = known_id(one, "kind", one.text("kind"), "devices", catalogue, &catalogue::Catalogue::device);
    wish.count = static_cast<int>(one.integer_or("count", 1, 24, 1));
    wish.cells = one.text_or("cells", "");
    cells(one, wish.cells);
    wish.sets = static_cast<int>(one.integer_or("sets", 1, 12, out.sets));
    wish.on_cells = one.boolean_or("on_cells", false);
    wish.draw = one.text_or("draw", "");
    if (!wish.draw.empty()) (void)one.draw("draw");
    wish.phantom = one.texts_or_none("phantom");
    for (const std::string& amps : wish.phantom) {
      try {
        (void)decode::parse_quantity(amps, Dimension::current);
      } catch (const decode::QuantityError& error) {
        one.fail("phantom", error.what(), error.hint);
      }
    }
    one.finish();
    devices += static_cast<std::size_t>(wish.count);
    if (devices > kMostDevices)
      one.fail("count", "more than 60 devices are wished for", "compose the day in two parts");
    out.devices.push_back(std::move(wish));
  }
  if (out.devices.empty())
    reader.fail("devices", "no device is wished for", "name at least one; kinds: tillwrap catalogue devices");
  for (TableReader& one : reader.tables("periods", "a period wished for")) {
    PeriodWish wish;
    wish.name = one.text("name");
    (void)one.quantity("from", Dimension::clock);
    wish.from = one.text("from");
    (void)one.quantity("air", Dimension::temperature);
    wish.air = one.text("air");
    one.finish();
    out.periods.push_back(std::move(wish));
  }
  reader.finish();
  return out;
}

Composed compose(TableReader& reader, const catalogue::Catalogue& catalogue) {
  const Wishes wishes = read_wishes(reader, catalogue);
  try {
    return compose(wishes, catalogue);
  } catch (const CannotWire& error) {
    if (error.device < 0) reader.fail(wishes.box.empty() ? "pack" : "box", error.what(), error.hint);
    const decode::Node* list = reader.node().find("devices");
    throw decode::InputError(reader.document().source, list->children[static_cast<std::size_t>(error.device)].place,
                             error.what(), error.hint);
  }
}

}  // namespace tillwrap::app
