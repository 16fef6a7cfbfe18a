#include "days.hpp"

#include <fstream>
#include <sstream>
#include <stdexcept>
#include <vector>

#include "app/measured.hpp"
#include "catalogue/catalogue.hpp"
#include "decode/node.hpp"

namespace tillwrap::bench {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

app::DayFile day_file(const std::string& name) {
  const std::string path = std::string(TILLWRAP_SOURCE_DIR) + "/" + name;
  std::ifstream in(path);
  if (!in) throw std::runtime_error("cannot read " + path);
  std::ostringstream text;
  text << in.rdbuf();
  app::DayFile file = app::read_day(decode::read_toml(text.str(), path), catalogue::builtin());
  app::apply_measured(file);
  return file;
}

BenchDay bench_day() {
  app::DayFile file = day_file("bench/bench-day.toml");
  return {std::move(file.scenario), file.spread};
}

day::Scenario with_devices(const day::Scenario& day, std::size_t devices) {
  day::Scenario more = day;
  // One lead to the device's port, and the device has no choice of inputs.
  std::vector<std::size_t> originals;
  std::vector<std::size_t> lead_of(day.devices.size());
  for (std::size_t d = 0; d < day.devices.size(); ++d) {
    int leads = 0;
    for (std::size_t k = 0; k < day.leads.size(); ++k) {
      if (day.leads[k].to != day.devices[d].port || day.leads[k].cable_ohm <= 0.0) continue;
      ++leads;
      lead_of[d] = k;
    }
    if (leads == 1 && day.devices[d].inputs.size() < 2 && day.devices[d].name != "box") originals.push_back(d);
  }
  std::vector<double> copies(day.devices.size(), 1.0);
  std::vector<std::size_t> original_of;
  for (std::size_t n = day.devices.size() - 1, turn = 0; n < devices;
       ++n, ++turn) {  // the box's own draw is not counted
    const std::size_t d = originals[turn % originals.size()];
    original_of.push_back(d);
    copies[d] += 1.0;
    const auto port = static_cast<int>(more.ports.size());
    more.ports.push_back(day.ports[at(day.devices[d].port)]);
    more.leads.push_back(day.leads[lead_of[d]]);
    more.leads.back().to = port;
    more.devices.push_back(day.devices[d]);
    more.devices.back().port = port;
    for (day::DeviceInput& input : more.devices.back().inputs) input.lead = static_cast<int>(more.leads.size()) - 1;
    for (day::Period& period : more.periods) period.mode.push_back(period.mode[d]);
  }
  for (std::size_t d = 0; d < day.devices.size(); ++d) more.devices[d].scale /= copies[d];
  for (std::size_t k = 0; k < original_of.size(); ++k)
    more.devices[day.devices.size() + k].scale /= copies[original_of[k]];
  return more;
}

}  // namespace tillwrap::bench
