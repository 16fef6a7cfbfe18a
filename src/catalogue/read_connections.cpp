// Connectors, wires, fuses, boxes, holders, sources, chargers, and the wording of marks.
#include <algorithm>
#include <limits>

#include "catalogue/reading.hpp"
#include "wiring/wire.hpp"

namespace tillwrap::catalogue {

ConnectorKind read_connector(TableReader& r) {
  ConnectorKind kind;
  read_entry(r, kind);
  kind.contact_new_ohm = r.quantity("contact_new", Dimension::resistance, kNotNegative);
  kind.contact_worn_ohm = r.quantity("contact_worn", Dimension::resistance, {.least = kind.contact_new_ohm});
  kind.contacts = static_cast<int>(r.integer_or("contacts", 1, 16, 2));
  kind.rating_a = r.quantity("rating", Dimension::current, kPositive);
  kind.locks = r.boolean("locks");
  kind.polarity = r.text("polarity");
  kind.can_reverse = r.boolean_or("can_reverse", false);
  kind.mates = r.texts("mates");
  kind.fits_loosely = r.texts_or_none("fits_loosely");
  kind.price_usd = r.number("price_usd", kNotNegative);
  r.finish();
  return kind;
}

WireKind read_wire(TableReader& r) {
  WireKind kind;
  read_entry(r, kind);
  if (r.node().find("awg") != nullptr) {
    kind.awg = static_cast<int>(r.integer("awg", 0, 40));
    kind.area_mm2 = wiring::awg_area_mm2(kind.awg);
    kind.ohm_per_m = wiring::awg_ohm_per_m(kind.awg);
  } else {
    kind.area_mm2 = r.number("area_mm2", kPositive);
    kind.class5 = wiring::is_class5_size(kind.area_mm2);
    kind.ohm_per_m = wiring::area_ohm_per_m(kind.area_mm2);
  }
  kind.ampacity_a = wiring::ampacity_a(kind.area_mm2);
  kind.price_usd_m = r.number("price_usd_m", kNotNegative);
  r.finish();
  return kind;
}

FuseKind read_fuse(TableReader& r) {
  FuseKind kind;
  read_entry(r, kind);
  kind.standard = r.text("standard");
  kind.resets = r.boolean_or("resets", false);
  kind.long_fraction = r.number("long_fraction", {.most = 1.0, .above = 0.0});
  constexpr double kForever = std::numeric_limits<double>::infinity();
  for (const auto& row : rows(r, "points", 3)) {
    const FusePoint point{row[0], row[1] < 0.0 ? kForever : row[1], row[2] < 0.0 ? kForever : row[2]};
    const bool ascends = kind.points.empty() || point.ratio > kind.points.back().ratio;
    if (!ascends || point.ratio < 1.0 || point.holds_s > point.opens_s) {
      r.fail("points", r.what() + ": the points are out of order", "rising ratio from 1, holds before opens");
    }
    kind.points.push_back(point);
  }
  kind.drop_v = estimate(r, "drop", Dimension::voltage);
  kind.ratings_a = r.numbers("ratings_a");
  if (r.node().find("derating") != nullptr) {
    for (const auto& row : rows(r, "derating", 2)) kind.derating.emplace_back(row[0] + 273.15, row[1]);
  } else {
    r.allow("derating");
  }
  if (kind.resets && kind.derating.empty())
    r.fail_here(r.what() + " resets but has no derating", "add derating = [[°C, factor], ...]");
  r.finish();
  return kind;
}

BoxKind read_box(TableReader& r) {
  BoxKind kind;
  read_entry(r, kind);
  kind.inputs = r.texts("inputs");
  for (TableReader& o : r.tables("output", kind.id + ", output")) {
    BoxOutput output;
    output.name = o.text("name");
    output.plug = o.text("plug");
    output.fuse = o.text_or("fuse", "");
    output.fuse_a = o.quantity_or("fuse_a", Dimension::current, 0.0, kPositive);
    output.always_on = o.boolean_or("always_on", false);
    output.regulator = maybe_regulator(o);
    if (output.fuse.empty() != (output.fuse_a == 0.0))
      o.fail_here(o.what() + " has half a fuse", "write fuse and fuse_a, or neither");
    o.finish();
    kind.outputs.push_back(std::move(output));
  }
  if (kind.outputs.empty()) r.fail_here(r.what() + " has no output", "write output = [{ name = ..., plug = ... }]");
  kind.main_fuse = r.text_or("main_fuse", "");
  kind.main_fuse_a = r.quantity_or("main_fuse_a", Dimension::current, 0.0, kPositive);
  if (kind.main_fuse.empty() != (kind.main_fuse_a == 0.0))
    r.fail_here(r.what() + " has half a main fuse", "write main_fuse and main_fuse_a, or neither");
  kind.master_switch = r.boolean_or("master_switch", false);
  kind.priority_inputs = r.boolean_or("priority_inputs", false);
  if (const auto drop = maybe_estimate(r, "or_drop", Dimension::voltage)) kind.or_drop_v = drop->typical;
  kind.internal_ohm = r.quantity_or("internal", Dimension::resistance, 0.0, kNotNegative);
  kind.idle_w = estimate(r, "idle", Dimension::power).typical;
  kind.least_v = r.quantity("least", Dimension::voltage, kNotNegative);
  kind.most_v = r.quantity("most", Dimension::voltage, {.above = kind.least_v});
  kind.mass_kg = r.quantity_or("mass", Dimension::mass, 0.0, kNotNegative);
  kind.price_usd = r.number("price_usd", kNotNegative);
  r.finish();
  return kind;
}

HolderKind read_holder(TableReader& r) {
  HolderKind kind;
  read_entry(r, kind);
  kind.fits = r.texts("fits");
  kind.contact_ohm = r.quantity("contact", Dimension::resistance, kNotNegative);
  kind.contact_worn_ohm = r.quantity("contact_worn", Dimension::resistance, {.least = kind.contact_ohm});
  kind.plug = r.text_or("plug", "");
  kind.rating_a = r.quantity("rating", Dimension::current, kPositive);
  kind.fuse_a = r.quantity_or("fuse", Dimension::current, 0.0, kNotNegative);
  kind.change_s = r.quantity("change", Dimension::duration, kNotNegative);
  kind.place = r.one_of("place", {"bag", "cart", "cast", "camera", "van"});
  kind.taps = r.texts_or_none("taps");
  kind.price_usd = r.number_or("price_usd", 0.0, kNotNegative);
  r.finish();
  return kind;
}

SourceKind read_source(TableReader& r) {
  SourceKind kind;
  read_entry(r, kind);
  kind.open_v = estimate(r, "open", Dimension::voltage, kPositive);
  kind.most_a = r.quantity("most", Dimension::current, kPositive);
  kind.series_ohm = r.quantity("series", Dimension::resistance, kNotNegative);
  kind.profiles = profiles(r);
  if (const auto gap = maybe_estimate(r, "renegotiation", Dimension::duration)) kind.renegotiation_s = gap->typical;
  kind.ride_through_s = r.quantity_or("ride_through", Dimension::duration, 0.0, kNotNegative);
  kind.dead_with_ignition = r.boolean_or("dead_with_ignition", false);
  kind.efficiency = r.number_or("efficiency", 1.0, {.most = 1.0, .above = 0.0});
  kind.plug = r.text("plug");
  kind.price_usd = r.number("price_usd", kNotNegative);
  r.finish();
  return kind;
}

ChargerKind read_charger(TableReader& r) {
  ChargerKind kind;
  read_entry(r, kind);
  kind.chemistry = r.one_of("chemistry", {"lithium-ion", "lfp", "nickel", "lead"});
  kind.bays = static_cast<int>(r.integer("bays", 1, 64));
  kind.amps_per_bay = r.quantity("bay", Dimension::current, kPositive);
  kind.amps_together = r.quantity_or("together", Dimension::current, 0.0, kPositive);
  kind.volts = r.quantity_or("end", Dimension::voltage, 0.0, kPositive);
  kind.volts_per_cell = r.quantity_or("end_cell", Dimension::voltage, 0.0, kPositive);
  if ((kind.volts > 0.0) == (kind.volts_per_cell > 0.0))
    r.fail_here(r.what() + " says not exactly one of end_v and end_cell_v", "write one");
  kind.end_fraction = r.number("end_fraction", kShare);
  if (const auto value = maybe_plain_estimate(r, "put_in", {.least = 1.0})) kind.put_in = value->typical;
  kind.coldest_k = r.quantity("coldest", Dimension::temperature);
  kind.hottest_k = r.quantity("hottest", Dimension::temperature, {.above = kind.coldest_k});
  if (const auto value = maybe_plain_estimate(r, "efficiency", {.most = 1.0, .above = 0.0}))
    kind.efficiency = value->typical;
  kind.fits = r.texts("fits");
  kind.mass_kg = r.quantity("mass", Dimension::mass, kPositive);
  kind.price_usd = r.number("price_usd", kNotNegative);
  r.finish();
  return kind;
}

MarkWording read_wording(TableReader& r) {
  MarkWording kind;
  read_entry(r, kind);
  kind.wording = r.text("wording");
  kind.meaning = r.text("meaning");
  r.finish();
  return kind;
}

}  // namespace tillwrap::catalogue
