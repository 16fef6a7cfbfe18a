#include "choose/setup.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <tuple>

#include "forecast/model.hpp"
#include "quantity/maths.hpp"
#include "quantity/order.hpp"

namespace tillwrap::choose {

namespace {

constexpr double kApart_s = 1200.0;
constexpr double kLongStretch_s = 7200.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

using Likeness = std::tuple<std::string, long, long, long, int, long, long>;

// Equal steps on a log scale: neighbours differ by `step`.
long rung(double value, double step) { return std::lround(maths::log(std::max(value, 1e-12)) / step); }

Likeness likeness(const day::Pack& pack) {
  const cell::CellParams& cell = pack.params.cell;
  const double ohm = pack.params.electronics_ohm + cell.series_ohm + cell.electrolyte_ohm;
  return {pack.mount,
          rung(cell.capacity_as, 0.02),
          rung(ohm, 0.05),
          std::lround(50.0 * pack.start_charge),
          pack.spare_place,
          std::lround(50.0 * pack.params.weak_fraction),
          std::lround(10.0 * (pack.regulator ? pack.regulator->set_v : 0.0))};
}

// Weaker first.
bool weaker(const day::Pack& a, const day::Pack& b) {
  const double mine = a.params.cell.capacity_as * a.params.weak_fraction * a.start_charge;
  const double other = b.params.cell.capacity_as * b.params.weak_fraction * b.start_charge;
  return mine != other ? mine < other : a.params.cell.electrolyte_ohm > b.params.cell.electrolyte_ohm;
}

}  // namespace

bool fits(const day::Scenario& scenario, int holder, const day::Pack& pack) {
  const day::Holder& where = scenario.holders[at(holder)];
  if (std::find(where.accepts.begin(), where.accepts.end(), pack.mount) == where.accepts.end()) return false;
  if (where.charger_supply >= 0) return day::rechargeable(pack);
  // What hangs on a bank hangs on its volts.
  for (const day::Slot& slot : where.slots) {
    const day::Pack& usual = scenario.packs[at(slot.pack)];
    if (usual.regulator.has_value() != pack.regulator.has_value()) return false;
    if (usual.regulator && std::fabs(usual.regulator->set_v - pack.regulator->set_v) > 0.05) return false;
  }
  return true;
}

double first_moment(const day::Scenario& scenario, int holder) {
  const day::Holder& where = scenario.holders[at(holder)];
  double first_s = scenario.periods.front().from_s;
  if (!where.slots.empty() && !std::isnan(where.slots.front().at_s)) {
    return std::min(where.slots.front().at_s, std::max(scenario.call_s, first_s));
  }
  for (std::size_t k = 0; k < scenario.supplies.size(); ++k) {
    if (scenario.supplies[k].port != where.port) continue;
    for (const day::Period& period : scenario.periods) {
      if (period.from_s > first_s + 1.0 || period.supply_live[k] == 0) break;
      first_s = period.until_s;
    }
  }
  return first_s;
}

std::vector<double> change_moments(const day::Scenario& scenario, int holder, double end_s) {
  const day::Holder& where = scenario.holders[at(holder)];
  const double first_s = first_moment(scenario, holder);
  std::vector<double> moments{first_s};
  for (const day::Span& window : day::windows(scenario, where.place, end_s)) {
    const double last_s = std::floor(window.until_s - where.gap_s);  // as a day file can say it
    std::vector<double> marks{window.from_s};
    for (const day::Period& period : scenario.periods) {
      if (period.from_s > window.from_s && period.from_s < last_s) marks.push_back(period.from_s);
    }
    if (scenario.off_s > window.from_s && scenario.off_s < last_s) marks.push_back(scenario.off_s);
    const bool closes = window.until_s < end_s - 1.0;
    if (closes) marks.push_back(last_s);
    std::sort(marks.begin(), marks.end());
    std::vector<double> dense;
    for (std::size_t k = 0; k < marks.size(); ++k) {
      const double next_s = k + 1 < marks.size() ? marks[k + 1] : last_s;
      dense.push_back(marks[k]);
      const int parts = static_cast<int>(std::floor((next_s - marks[k]) / kLongStretch_s + 1.0 - 1e-9));
      for (int part = 1; part < parts; ++part) {
        dense.push_back(std::floor((marks[k] + (next_s - marks[k]) * part / parts) / 60.0) * 60.0);
      }
    }
    for (const double mark_s : dense) {
      if (mark_s < first_s + 60.0 || mark_s > last_s) continue;
      const bool is_last = closes && mark_s == last_s;
      if (!is_last && mark_s - moments.back() < kApart_s) continue;
      if (is_last && mark_s - moments.back() < kApart_s && moments.back() >= window.from_s && moments.size() > 1) {
        moments.back() = mark_s;
        continue;
      }
      moments.push_back(mark_s);
    }
  }
  return moments;
}

Setup set_up(const day::Scenario& scenario, const Options& options) {
  Setup setup;
  setup.worn = options.worn;
  setup.end_s = scenario.off_s + options.overrun_s;
  std::vector<char> fixed(scenario.packs.size(), 0);
  for (int h = 0; h < static_cast<int>(scenario.holders.size()); ++h) {
    const day::Holder& holder = scenario.holders[at(h)];
    if (holder.charger_supply >= 0) {
      setup.bays.push_back(h);
    } else if (holder.built_in) {
      for (const day::Slot& slot : holder.slots) fixed[at(slot.pack)] = 1;
    } else {
      setup.free_holders.push_back(h);
    }
  }
  std::map<Likeness, int> known;
  for (std::size_t p = 0; p < scenario.packs.size(); ++p) {
    if (fixed[p]) continue;
    const auto [found, is_new] = known.emplace(likeness(scenario.packs[p]), static_cast<int>(setup.kinds.size()));
    const PackCost cost = p < options.costs.size() ? options.costs[p] : PackCost{};
    if (is_new) setup.kinds.push_back({.pack = scenario.packs[p], .cost = cost});
    PackClass& kind = setup.kinds[at(found->second)];
    kind.members.push_back(static_cast<int>(p));
    if (weaker(scenario.packs[p], kind.pack)) kind.pack = scenario.packs[p];
    kind.cost.grams = std::max(kind.cost.grams, cost.grams);
    kind.cost.cents = std::max(kind.cost.cents, cost.cents);
  }
  for (PackClass& kind : setup.kinds) {
    sort_stably(kind.members, [&](int a, int b) { return weaker(scenario.packs[at(b)], scenario.packs[at(a)]); });
  }
  for (std::size_t c = 0; c < options.candidates.size(); ++c) {
    setup.kinds.push_back(
        {.pack = options.candidates[c].pack, .candidate = static_cast<int>(c), .cost = options.candidates[c].cost});
  }
  // Holders that feed a device together stand or fall together.
  const forecast::Model model(scenario);
  std::vector<int> root(scenario.holders.size());
  std::iota(root.begin(), root.end(), 0);
  const auto of = [&](int h) {
    while (root[at(h)] != h) h = root[at(h)];
    return h;
  };
  std::vector<char> serves(scenario.holders.size(), 0);
  const auto is_free = [&](int h) {
    return std::find(setup.free_holders.begin(), setup.free_holders.end(), h) != setup.free_holders.end();
  };
  for (std::size_t d = 0; d < scenario.devices.size(); ++d) {
    const bool must = scenario.devices[d].need != day::Need::optional;
    std::vector<int> sources = model.feeding[d].holders;
    for (const std::vector<int>& more : model.input_holders[d]) sources.insert(sources.end(), more.begin(), more.end());
    int first = -1;
    for (const int h : sources) {
      if (!is_free(h)) continue;
      if (must) serves[at(h)] = 1;
      if (first >= 0) root[at(std::max(of(first), of(h)))] = std::min(of(first), of(h));
      first = h;
    }
  }
  std::map<int, int> groups;
  for (const int h : setup.free_holders) {
    if (!serves[at(h)]) continue;
    const int group = groups.emplace(of(h), static_cast<int>(groups.size())).first->second;
    Seat seat{.holder = h, .group = group, .moments = change_moments(scenario, h, setup.end_s)};
    for (int k = 0; k < static_cast<int>(setup.kinds.size()); ++k) {
      if (fits(scenario, h, setup.kinds[at(k)].pack)) seat.kinds.push_back(k);
    }
    setup.seats.push_back(std::move(seat));
  }
  setup.groups = static_cast<int>(groups.size());
  for (std::size_t d = 0; d < scenario.devices.size(); ++d) {
    setup.group_of_device.push_back(-1);
    std::vector<int> sources = model.feeding[d].holders;
    for (const std::vector<int>& more : model.input_holders[d]) sources.insert(sources.end(), more.begin(), more.end());
    for (const int h : sources) {
      if (is_free(h) && serves[at(h)]) setup.group_of_device.back() = groups.at(of(h));
    }
  }
  return setup;
}

}  // namespace tillwrap::choose
