#include "meters/feeds.hpp"

#include <algorithm>
#include <map>

#include "quantity/order.hpp"

namespace tillwrap::meters {

namespace {

constexpr double kRow_s = 120.0;
constexpr double kStandsBy = 0.05;  // of its label: a pack that gave less only bridges changes

std::size_t at(int i) { return static_cast<std::size_t>(i); }

int mapped(const std::vector<int>& whole, int index) {
  const auto found = std::find(whole.begin(), whole.end(), index);
  return found == whole.end() ? -1 : static_cast<int>(found - whole.begin());
}

// Energy a pack gives in a holder, by period.
std::vector<double> given_j(const forecast::Piece& piece, const forecast::Trace& trace, int holder, int pack) {
  std::vector<double> sum(piece.day.periods.size(), 0.0);
  const auto& packs = trace.holder_pack[at(holder)];
  for (std::size_t k = 1; k < trace.at_s.size() && trace.at_s[k] <= piece.day.off_s + 1.0; ++k) {
    if (packs[k] != pack || packs[k - 1] != pack) continue;
    const double middle_s = 0.5 * (trace.at_s[k] + trace.at_s[k - 1]);
    for (std::size_t p = 0; p < sum.size(); ++p) {
      if (middle_s < piece.day.periods[p].from_s || middle_s >= piece.day.periods[p].until_s) continue;
      const auto watts = [&](std::size_t row) {
        return trace.holder_v[at(holder)][row] * trace.holder_a[at(holder)][row];
      };
      sum[p] += 0.5 * (watts(k) + watts(k - 1)) * (trace.at_s[k] - trace.at_s[k - 1]);
    }
  }
  return sum;
}

struct Turn {  // one pack in one holder
  int holder = 0, pack = 0;
  double in_s = 0.0;
  std::vector<double> by_period_j;
  double sum_j = 0.0;
};

}  // namespace

PlannedDay::PlannedDay(const day::Scenario& scenario) : whole(scenario) {
  const double until_s = scenario.off_s + scenario.overrun_s;
  plans = whole.plan(until_s + 12.0 * 3600.0);
  runs = whole.run(plans, {.search_until_s = until_s, .trace = true, .longest_step_s = kRow_s});
}

std::vector<Feed> feeds(const day::Scenario& scenario, const kit::Inventory& inventory, const PlannedDay& planned) {
  std::vector<Feed> all;
  for (int device = 0; device < static_cast<int>(scenario.devices.size()); ++device) {
    for (std::size_t part = 0; part < planned.whole.pieces().size(); ++part) {
      const forecast::Piece& piece = planned.whole.pieces()[part];
      const int d = mapped(piece.devices, device);
      if (d < 0) continue;
      const forecast::Model& model = planned.whole.model(part);
      const forecast::DayRun& run = planned.runs[part];
      std::vector<std::pair<int, std::vector<int>>> inputs;
      if (piece.day.devices[at(d)].inputs.size() > 1) {
        for (std::size_t i = 0; i < model.input_holders[at(d)].size(); ++i) {
          inputs.emplace_back(static_cast<int>(i), model.input_holders[at(d)][i]);
        }
      } else {
        inputs.emplace_back(-1, model.feeding[at(d)].holders);
      }
      for (const auto& [input, holders] : inputs) {
        std::map<const catalogue::PackKind*, std::vector<Turn>> kinds;
        std::vector<const catalogue::PackKind*> order;
        for (const forecast::Stint& stint : run.stints) {
          const bool here = std::find(holders.begin(), holders.end(), stint.holder) != holders.end();
          if (!here || piece.day.holders[at(stint.holder)].charger_supply >= 0) continue;
          if (stint.in_s > piece.day.off_s + piece.day.overrun_s) continue;
          const catalogue::PackKind* kind = inventory.packs[at(piece.packs[at(stint.pack)])].kind;
          if (kinds.find(kind) == kinds.end()) order.push_back(kind);
          std::vector<Turn>& turns = kinds[kind];
          const auto known = std::find_if(turns.begin(), turns.end(), [&](const Turn& turn) {
            return turn.holder == stint.holder && turn.pack == stint.pack;
          });
          if (known != turns.end()) continue;
          Turn turn{.holder = stint.holder, .pack = stint.pack, .in_s = stint.in_s};
          turn.by_period_j = given_j(piece, run.trace, stint.holder, stint.pack);
          for (const double joules : turn.by_period_j) turn.sum_j += joules;
          turns.push_back(std::move(turn));
        }
        std::vector<Feed> own;
        for (const catalogue::PackKind* kind : order) {
          const std::vector<Turn>& turns = kinds[kind];
          const Turn* most = &turns.front();
          std::vector<double> by_period(piece.day.periods.size(), 0.0);
          Feed feed{.device = device, .input = input};
          for (const Turn& turn : turns) {
            if (turn.sum_j > most->sum_j) most = &turn;
            feed.delivered_j += turn.sum_j;
            const int whole_pack = piece.packs[at(turn.pack)];
            if (mapped(feed.packs, whole_pack) < 0) feed.packs.push_back(whole_pack);
            for (std::size_t p = 0; p < by_period.size(); ++p) by_period[p] += turn.by_period_j[p];
          }
          // The period in which the kind gives most while the device is on; a pack that only stands by: the longest.
          const auto on = [&](std::size_t p) {
            return !piece.day.devices[at(d)].modes[at(piece.day.periods[p].mode[at(d)])].off;
          };
          const bool idle =
              feed.delivered_j < kStandsBy * inventory.packs[at(piece.packs[at(most->pack)])].rated_wh * 3600.0;
          double best = -1.0;
          for (std::size_t p = 0; p < by_period.size(); ++p) {
            const double length_s = piece.day.periods[p].until_s - piece.day.periods[p].from_s;
            const double value = idle ? length_s : by_period[p];
            if (!on(p) || value <= best) continue;
            best = value;
            feed.period = static_cast<int>(p);
          }
          if (best < 0.0) continue;  // never on
          feed.pack = piece.packs[at(most->pack)];
          feed.holder = piece.holders[at(most->holder)];
          feed.in_s = most->in_s;
          for (const int h : holders) {
            if (h == most->holder || piece.day.holders[at(h)].slots.empty()) continue;
            const int first = piece.packs[at(piece.day.holders[at(h)].slots.front().pack)];
            if (inventory.packs[at(first)].kind == kind) feed.companions.push_back(piece.holders[at(h)]);
          }
          const int place = scenario.holders[at(feed.holder)].place;
          const auto row = static_cast<std::size_t>(
              std::lower_bound(run.trace.at_s.begin(), run.trace.at_s.end(), feed.in_s) - run.trace.at_s.begin());
          feed.around_k = run.trace.place_k[at(place)][std::min(row, run.trace.at_s.size() - 1)];
          own.push_back(std::move(feed));
        }
        sort_stably(own, [](const Feed& a, const Feed& b) { return a.delivered_j > b.delivered_j; });
        for (Feed& feed : own) all.push_back(std::move(feed));
      }
    }
  }
  return all;
}

}  // namespace tillwrap::meters
