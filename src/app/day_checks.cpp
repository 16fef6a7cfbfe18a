// Checks on the whole wiring of the day file, once everything is joined.
#include <algorithm>
#include <cmath>
#include <numeric>

#include "app/day_builder.hpp"
#include "decode/units.hpp"
#include "forecast/model.hpp"

namespace tillwrap::app {

using decode::Dimension;

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string volts_words(double v) { return decode::quantity_words(std::round(v * 100.0) / 100.0, Dimension::voltage); }

// Ports joined so far; joining two that hang together already closes a loop.
class Joined {
 public:
  explicit Joined(std::size_t ports) : parent_(ports) { std::iota(parent_.begin(), parent_.end(), 0); }
  bool join(int a, int b) {
    const int top_a = top(a);
    const int top_b = top(b);
    parent_[at(top_a)] = top_b;
    return top_a != top_b;
  }

 private:
  int top(int port) {
    while (parent_[at(port)] != port) port = parent_[at(port)] = parent_[at(parent_[at(port)])];
    return port;
  }
  std::vector<int> parent_;
};

}  // namespace

// The first wire, in the order written, whose two ends were joined without it; regulated outputs count as joined only
// where the loop runs through one.
void DayBuilder::refuse_loops() {
  const std::string message = "this wire closes a loop: ";
  const std::string advice = "each device input and box input has one way back to a source; take one wire out";
  bool through_regulator = false;
  try {
    const forecast::Model model(day_);
    const wiring::Network network(model.topology);
    return;
  } catch (const wiring::LoopError& loop) {
    through_regulator = loop.regulator >= 0;
  }
  std::vector<char> written(day_.leads.size(), 0);
  for (const WireNote& note : wire_notes_) written[at(note.lead)] = 1;
  Joined joined(day_.ports.size());
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    if (!written[k]) joined.join(day_.leads[k].from, day_.leads[k].to);
  }
  if (through_regulator) {
    for (const day::Regulator& regulator : day_.regulators) joined.join(regulator.in_port, regulator.out_port);
  }
  for (const WireNote& note : wire_notes_) {
    const day::Lead& lead = day_.leads[at(note.lead)];
    if (!joined.join(lead.from, lead.to)) note.reader.fail_here(message + lead.name, advice);
  }
  throw decode::InputError(document_.source, {1, 1}, "the holders and boxes are joined in a loop", advice);
}

// Loops, boxes without power, and volts beyond what an input takes.
void DayBuilder::check_wiring() {
  if (device_notes_.empty() || std::all_of(device_notes_.begin(), device_notes_.end(),
                                           [](const DeviceNote& note) { return note.kind == nullptr; })) {
    throw decode::InputError(document_.source, {1, 1}, "the day has no [[device]]",
                             "write at least one; kinds: tillwrap catalogue devices");
  }
  refuse_loops();
  for (const auto& [name, inputs] : box_inputs_) {
    const bool fed =
        std::any_of(inputs.begin(), inputs.end(), [&](const auto& input) { return points_[input.first].taken; });
    if (fed) continue;
    const Reader& reader = device_notes_[at(devices_[name])].reader;
    reader.fail("name", "nothing feeds box \"" + name + "\"",
                "put a [[holder]] in it, or run a [[wire]] to " + inputs.front().first);
  }
  struct Seen {
    double nominal_v, full_v;
    std::string what;
  };
  const std::size_t ports = day_.ports.size();
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    const DeviceNote& note = device_notes_[d];
    for (std::size_t i = 0; i < note.inputs.size(); ++i) {
      const catalogue::DeviceInput& input = note.inputs[i];
      const Point& start = points_[note.input_names[i]];
      if (!start.taken || input.most_v <= 0.0) continue;
      std::vector<Seen> feeds;
      std::vector<char> seen(ports, 0);
      std::vector<int> queue{start.port};
      seen[at(start.port)] = 1;
      for (std::size_t head = 0; head < queue.size(); ++head) {
        const int port = queue[head];
        for (const day::Regulator& regulator : day_.regulators) {
          if (regulator.out_port == port) feeds.push_back({regulator.law.set_v, regulator.law.set_v, regulator.name});
        }
        for (const day::Supply& supply : day_.supplies) {
          if (supply.port == port) feeds.push_back({supply.volts, supply.volts, supply.name});
        }
        for (const day::Holder& holder : day_.holders) {
          if (holder.port != port) continue;
          for (const day::Slot& slot : holder.slots) {
            const day::Pack& pack = day_.packs[at(slot.pack)];
            const catalogue::PackKind* kind = catalogue_.pack(pack.mount);
            const double full_v =
                pack.charge_v > 0.0 ? pack.charge_v : pack.params.series * pack.params.cell.ocv.value(1.0);
            if (pack.regulator) {
              feeds.push_back({pack.regulator->set_v, pack.regulator->set_v, pack.params.label});
            } else {
              feeds.push_back({kind->nominal_v, full_v, pack.params.label});
            }
          }
        }
        for (const day::Lead& lead : day_.leads) {
          if (lead.to != port || seen[at(lead.from)]) continue;
          seen[at(lead.from)] = 1;
          queue.push_back(lead.from);
        }
      }
      bool warned = false;
      for (const Seen& feed : feeds) {
        if (feed.nominal_v > input.most_v * 1.001) {
          note.reader.fail("name",
                           "\"" + note.input_names[i] + "\" takes at most " + volts_words(input.most_v) + " and \"" +
                               feed.what + "\" gives " + volts_words(feed.nominal_v),
                           "feed it from a regulated output or another pack");
        }
        if (!warned && feed.full_v > input.most_v * 1.001) {
          warn(note.reader.place("name"), "\"" + note.input_names[i] + "\" takes at most " + volts_words(input.most_v) +
                                              "; \"" + feed.what + "\" fresh off the charger gives " +
                                              volts_words(feed.full_v));
          warned = true;
        }
      }
    }
  }
}

}  // namespace tillwrap::app
