#include "findings/circuit.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::findings {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

std::vector<Feed> Circuit::feeds(int port) const {
  std::vector<Feed> found;
  struct Step {
    int port;
    std::vector<int> leads;
  };
  std::vector<char> seen(day_.ports.size(), 0);
  std::vector<Step> queue{{port, {}}};
  seen[at(port)] = 1;
  for (std::size_t head = 0; head < queue.size(); ++head) {
    const Step here = queue[head];
    for (std::size_t k = 0; k < day_.regulators.size(); ++k) {
      if (day_.regulators[k].out_port == here.port)
        found.push_back({Feed::Kind::regulator, static_cast<int>(k), here.leads});
    }
    for (std::size_t k = 0; k < day_.supplies.size(); ++k) {
      if (day_.supplies[k].port == here.port) found.push_back({Feed::Kind::supply, static_cast<int>(k), here.leads});
    }
    for (std::size_t h = 0; h < day_.holders.size(); ++h) {
      if (day_.holders[h].port == here.port && day_.holders[h].charger_supply < 0)
        found.push_back({Feed::Kind::holder, static_cast<int>(h), here.leads});
    }
    for (std::size_t k = 0; k < day_.leads.size(); ++k) {
      const day::Lead& lead = day_.leads[k];
      if (lead.to != here.port || seen[at(lead.from)]) continue;
      seen[at(lead.from)] = 1;
      Step next{lead.from, here.leads};
      next.leads.push_back(static_cast<int>(k));
      queue.push_back(std::move(next));
    }
  }
  return found;
}

Circuit::Sources Circuit::sources(int port, int without, int around) const {
  Sources found;
  std::vector<char> seen(day_.ports.size(), 0);
  std::vector<int> queue{port};
  seen[at(port)] = 1;
  const auto go = [&](int next) {
    if (seen[at(next)]) return;
    seen[at(next)] = 1;
    queue.push_back(next);
  };
  for (std::size_t head = 0; head < queue.size(); ++head) {
    const int here = queue[head];
    for (std::size_t h = 0; h < day_.holders.size(); ++h) {
      const day::Holder& holder = day_.holders[h];
      if (holder.port == here && holder.charger_supply < 0 && !holder.slots.empty())
        found.holders.push_back(static_cast<int>(h));
    }
    for (std::size_t k = 0; k < day_.supplies.size(); ++k) {
      if (day_.supplies[k].port == here) found.supplies.push_back(static_cast<int>(k));
    }
    for (std::size_t k = 0; k < day_.leads.size(); ++k) {
      const day::Lead& lead = day_.leads[k];
      if (lead.to != here || static_cast<int>(k) == without) continue;
      if (around >= 0 && lead.switched_by == around) continue;
      go(lead.from);
    }
    for (const day::Regulator& regulator : day_.regulators) {
      if (regulator.out_port == here) go(regulator.in_port);
    }
  }
  return found;
}

std::vector<int> Circuit::devices_behind(int port) const {
  std::vector<char> seen(day_.ports.size(), 0);
  std::vector<int> queue{port};
  seen[at(port)] = 1;
  for (std::size_t head = 0; head < queue.size(); ++head) {
    const auto go = [&](int from, int to) {
      if (from != queue[head] || seen[at(to)]) return;
      seen[at(to)] = 1;
      queue.push_back(to);
    };
    for (const day::Lead& lead : day_.leads) go(lead.from, lead.to);
    for (const day::Regulator& regulator : day_.regulators) go(regulator.in_port, regulator.out_port);
  }
  std::vector<int> devices;
  for (std::size_t d = 0; d < day_.devices.size(); ++d) {
    if (seen[at(day_.devices[d].port)]) devices.push_back(static_cast<int>(d));
  }
  return devices;
}

bool Circuit::fed(int device, int without, int around) const {
  const Sources found = sources(day_.devices[at(device)].port, without, around);
  if (!found.holders.empty()) return true;
  return std::any_of(found.supplies.begin(), found.supplies.end(), [&](int supply) {
    return std::all_of(day_.periods.begin(), day_.periods.end(), [&](const day::Period& period) {
      return period.until_s <= day_.call_s || period.from_s >= day_.off_s || period.supply_live[at(supply)] != 0;
    });
  });
}

bool Circuit::must_run(int device) const { return day_.devices[at(device)].need != day::Need::optional; }

Seen::Seen(const day::Scenario& day, const forecast::DayRun& run) : day_(day), run_(run) {
  while (rows_ < run.trace.at_s.size() && run.trace.at_s[rows_] <= day.off_s + 1.0) ++rows_;
}

double Seen::amps(int lead, std::size_t row) const { return run_.trace.lead_a[at(lead)][row]; }

double Seen::place_k(int place, std::size_t row) const { return run_.trace.place_k[at(place)][row]; }

double Seen::lead_ohm(int lead, std::size_t row) const {
  const day::Lead& l = day_.leads[at(lead)];
  return l.cable_ohm * day::copper_factor(place_k(l.place, row)) + l.contact_ohm + (l.fuse ? l.fuse->ohm : 0.0);
}

Seen::Peak Seen::most_amps(int lead) const {
  Peak peak;
  for (std::size_t row = 0; row < rows_; ++row) {
    const double a = std::fabs(amps(lead, row));
    if (a > peak.value) peak = {a, at_s(row), row};
  }
  return peak;
}

Seen::Peak Seen::most_holder_amps(int holder) const {
  Peak peak;
  for (std::size_t row = 0; row < rows_; ++row) {
    const double a = run_.trace.holder_a[at(holder)][row];
    if (a > peak.value) peak = {a, at_s(row), row};
  }
  return peak;
}

double Seen::out_amps(int port, std::size_t row) const {
  double sum = 0.0;
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    if (day_.leads[k].from == port) sum += amps(static_cast<int>(k), row);
  }
  return sum;
}

Seen::Peak Seen::most_out_amps(int port) const {
  Peak peak;
  for (std::size_t row = 0; row < rows_; ++row) {
    const double a = out_amps(port, row);
    if (a > peak.value) peak = {a, at_s(row), row};
  }
  return peak;
}

// Charge through the lead as a running sum (trapezium), then the greatest difference over an hour.
double Seen::sustained_amps(int lead) const {
  constexpr double kWindow_s = 3600.0;
  if (rows_ < 2) return rows_ == 1 ? std::fabs(amps(lead, 0)) : 0.0;
  std::vector<double> sum_as(rows_, 0.0);
  for (std::size_t row = 1; row < rows_; ++row) {
    sum_as[row] = sum_as[row - 1] +
                  0.5 * (at_s(row) - at_s(row - 1)) * (std::fabs(amps(lead, row)) + std::fabs(amps(lead, row - 1)));
  }
  const double span_s = std::min(kWindow_s, at_s(rows_ - 1) - at_s(0));
  if (span_s <= 0.0) return 0.0;
  double most = 0.0;
  std::size_t first = 0;
  for (std::size_t row = 1; row < rows_; ++row) {
    const double from_s = at_s(row) - span_s;
    if (from_s < at_s(0) - 1e-6) continue;
    while (first + 1 < row && at_s(first + 1) <= from_s) ++first;
    const double step_s = at_s(first + 1) - at_s(first);
    const double share = step_s > 0.0 ? std::clamp((from_s - at_s(first)) / step_s, 0.0, 1.0) : 0.0;
    const double start_as = sum_as[first] + share * (sum_as[first + 1] - sum_as[first]);
    most = std::max(most, (sum_as[row] - start_as) / span_s);
  }
  return most;
}

}  // namespace tillwrap::findings
