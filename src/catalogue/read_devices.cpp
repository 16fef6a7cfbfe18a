// Devices and meter profiles.
#include "catalogue/reading.hpp"

namespace tillwrap::catalogue {
namespace {

Mode read_mode(TableReader& r) {
  Mode mode;
  mode.name = r.text("name");
  const auto watts = maybe_estimate(r, "draw", Dimension::power);
  const auto amps = maybe_estimate(r, "draw", Dimension::current);
  if (watts.has_value() == amps.has_value()) {
    r.fail_here(r.what() + " says not exactly one of draw_w and draw_a", "write draw_w or draw_a");
  }
  if (watts) mode.draw_w = *watts;
  if (amps) mode.draw_a = *amps;
  mode.constant_current = amps.has_value();
  r.finish();
  return mode;
}

DeviceInput read_input(TableReader& r) {
  DeviceInput input;
  input.name = r.text("name");
  input.plug = r.text("plug");
  input.priority = static_cast<int>(r.integer_or("priority", 1, 9, 1));
  input.least_v = r.quantity("least", Dimension::voltage, kNotNegative);
  input.most_v = r.quantity("most", Dimension::voltage, kPositive);
  input.cutoff_v = r.quantity("cutoff", Dimension::voltage, kNotNegative);
  input.restart_v = r.quantity("restart", Dimension::voltage, kNotNegative);
  if (input.restart_v < input.cutoff_v || input.most_v <= input.restart_v) {
    r.fail_here(r.what() + ": cut-off, restart and greatest volts do not ascend", "cutoff_v <= restart_v < most_v");
  }
  r.finish();
  return input;
}

Phantom read_phantom(TableReader& r) {
  Phantom phantom;
  phantom.supply_v = r.number("supply_v", kPositive);
  phantom.feed_ohm = r.number("feed_ohm", kPositive);
  phantom.limit_a = r.quantity_or("limit", Dimension::current, 0.0, kNotNegative);
  phantom.inputs = static_cast<int>(r.integer("inputs", 1, 64));
  if (const auto value = maybe_plain_estimate(r, "efficiency", {.most = 1.0, .above = 0.0})) {
    phantom.efficiency = value->typical;
  }
  if (const auto value = maybe_estimate(r, "idle", Dimension::power)) phantom.idle_w = value->typical;
  r.finish();
  return phantom;
}

}  // namespace

DeviceKind read_device(TableReader& r) {
  DeviceKind kind;
  read_entry(r, kind);
  kind.family = r.text("family");
  for (TableReader& mode : r.tables("mode", kind.id + ", mode")) kind.modes.push_back(read_mode(mode));
  if (kind.modes.empty()) r.fail_here(r.what() + " has no mode", "write mode = [{ name = ..., draw_w = ... }]");
  for (TableReader& input : r.tables("input", kind.id + ", input")) kind.inputs.push_back(read_input(input));
  if (kind.inputs.empty()) r.fail_here(r.what() + " has no input", "write input = [{ name = ..., plug = ... }]");
  kind.restart_s = r.quantity("restart", Dimension::duration, kNotNegative);
  kind.stop_cost = r.text("stop_cost");
  kind.converter_efficiency = r.number_or("converter_efficiency", 1.0, {.most = 1.0, .above = 0.0});
  kind.converter_idle_w = r.number_or("converter_idle_w", 0.0, kNotNegative);
  kind.hold_up_s = r.quantity_or("hold_up", Dimension::duration, 0.0, kNotNegative);
  kind.hold_up_f = r.quantity_or("hold_up", Dimension::capacitance, 0.0, kNotNegative);
  kind.inrush_f = r.quantity_or("inrush", Dimension::capacitance, 0.0, kNotNegative);
  if (auto phantom = r.maybe_table("phantom")) kind.phantom = read_phantom(*phantom);
  kind.meters = r.texts_or_none("meters");
  kind.holders = r.texts_or_none("holders");
  r.finish();
  return kind;
}

MeterProfile read_meter(TableReader& r) {
  MeterProfile kind;
  read_entry(r, kind);
  kind.chemistry = r.text("chemistry");
  kind.cells = static_cast<int>(r.integer("cells", 1, 20));
  kind.empty_v = r.quantity("empty", Dimension::voltage, kPositive);
  r.finish();
  return kind;
}

}  // namespace tillwrap::catalogue
