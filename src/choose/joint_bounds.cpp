// What a group's plan can do at best, told without running its days: no more energy than its packs store, and no seat
// longer than beside endless packs.
#include <algorithm>

#include "choose/joint_tables.hpp"

namespace tillwrap::choose {

namespace {

// Upper bound of what a pack gives over its open-circuit curve from full to empty: the curves go on a little below
// empty.
constexpr double kBeyondEmpty = 1.03;
// A planned change may leave a device without power for so long beyond the holder's gap and the device's restart.
constexpr double kAfterChange_s = 60.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// The least a device takes in a mode: a current or a resistor at the volts at which it just goes on.
double least_w(const day::Device& device, const day::Mode& mode) {
  if (mode.off) return 0.0;
  double volts = device.cutoff_v;
  for (std::size_t k = 0; k < device.inputs.size(); ++k)
    volts = k == 0 ? device.inputs[k].cutoff_v : std::min(volts, device.inputs[k].cutoff_v);
  return mode.power_w + (mode.current_a + mode.siemens * volts) * volts;
}

}  // namespace

const JointTables::Drawn& JointTables::drawn(const Use& use) {
  Drawn& made = drawn_[Use{.holder = use.holder, .kind = use.kind, .in = use.in}];
  if (!made.energy_j.empty()) return made;
  const day::Pack& pack = setup_.kinds[at(use.kind)].pack;
  forecast::Piece piece;
  piece.packs = {tables_.drawn_pack(seat_of(use), use.in, use.kind)};
  piece.day.packs = {pack};
  const day::Scenario fresh = piece.day;
  for (const odds::Luck& luck : tables_.luck()) {
    tables_.draw().apply(piece, fresh, luck, piece.day);
    const day::Pack& now = piece.day.packs.front();
    made.energy_j.push_back(kBeyondEmpty * cell::energy_left_j(now.params, now.start_charge));
    made.capacity_as.push_back(now.params.cell.capacity_as);
  }
  return made;
}

// What the group's must-run devices take at the very least from call to the end, while nothing but packs feeds them,
// and while no planned change may leave them without.
void JointTables::reckon_demand() {
  GroupBench bench;
  const int group = setup_.seats[at(seats_.front())].group;
  tables_.group_bench(group, {}, false, bench);
  const day::Scenario& fresh = bench.fresh;
  double dark_s = kAfterChange_s;
  for (const day::Holder& holder : fresh.holders) dark_s = std::max(dark_s, holder.gap_s + kAfterChange_s);
  double changes = 0.0;
  for (const int s : seats_) changes += static_cast<double>(setup_.seats[at(s)].moments.size());
  for (const odds::Luck& luck : tables_.luck()) {
    tables_.draw().apply(bench.piece, fresh, luck, bench.piece.day);
    const day::Scenario& day = bench.piece.day;
    double sum = 0.0;
    for (std::size_t d = 0; d < day.devices.size(); ++d) {
      const day::Device& device = day.devices[d];
      if (device.need == day::Need::optional) continue;
      double own = 0.0;
      double most_w = 0.0;
      for (std::size_t p = 0; p < day.periods.size(); ++p) {
        const day::Period& period = day.periods[p];
        bool live = false;
        for (std::size_t k = 0; k < day.supplies.size(); ++k)
          live = live || (day.supplies[k].port >= 0 && period.supply_live[k] != 0);
        if (live) continue;
        const double until_s = p + 1 == day.periods.size() ? setup_.end_s : std::min(period.until_s, setup_.end_s);
        const double from_s = std::max(period.from_s, day.call_s);
        const double watts = device.scale * least_w(device, device.modes[at(period.mode[d])]);
        own += std::max(until_s - from_s, 0.0) * watts;
        most_w = std::max(most_w, watts);
      }
      sum += std::max(own - changes * (dark_s + device.restart_s) * most_w, 0.0);
    }
    for (const forecast::PlannedChange& put : bench.others) {
      if (!day.holders[at(put.holder)].built_in) {
        // Another holder of the piece holds an endless pack, for it is not this group's; it feeds none of its devices.
        continue;
      }
      const day::Pack& pack = day.packs[at(put.pack)];
      sum -= kBeyondEmpty * cell::energy_left_j(pack.params, pack.start_charge);
    }
    demand_j_.push_back(sum);
  }
  most_j_.assign(demand_j_.size(), 0.0);
  for (std::size_t s = 0; s < seats_.size(); ++s) {
    const Seat& one = setup_.seats[at(seats_[s])];
    for (const int kind : one.kinds) {
      for (int m = 0; m < static_cast<int>(one.moments.size()); ++m) {
        const std::vector<double>& stored = drawn({.holder = static_cast<int>(s), .kind = kind, .in = m}).energy_j;
        for (std::size_t d = 0; d < stored.size(); ++d) most_j_[d] = std::max(most_j_[d], stored[d]);
      }
    }
  }
}

// Each seat as if every other of the group held an endless pack: what does not last so, does not last.
bool JointTables::each_may_last(const JointPlan& plan, int more) {
  if (targets_.empty()) {
    Problem alone{.days = static_cast<int>(tables_.luck().size()), .end_s = setup_.end_s};
    alone.need = alone.days - allowed_;
    for (const PackClass& kind : setup_.kinds)
      alone.kinds.push_back({.stock = std::max(1, static_cast<int>(kind.members.size()))});
    for (const int s : seats_)
      alone.holders.push_back({.moments = setup_.seats[at(s)].moments, .kinds = setup_.seats[at(s)].kinds});
    for (std::size_t s = 0; s < seats_.size(); ++s) targets_.push_back(targets(alone, static_cast<int>(s), company_));
  }
  for (std::size_t s = 0; s < seats_.size(); ++s) {
    const Use* last = nullptr;
    for (const Use& use : plan) {
      if (use.holder == static_cast<int>(s)) last = &use;
    }
    if (last == nullptr) continue;
    // At best all further changes are this seat's.
    const std::vector<int>& target = targets_[s];
    const std::vector<double>& moments = setup_.seats[at(seats_[s])].moments;
    const int next = std::max(last->in + 1, target[std::min(at(more), target.size() - 1)]);
    const double least_s = more > 0 && at(next) < moments.size() ? moments[at(next)] : setup_.end_s;
    if (company_.carry(*last, least_s).hopeless) return false;
  }
  return true;
}

bool JointTables::may_last(const JointPlan& plan, int more) {
  return energy_may_last(plan, more) && each_may_last(plan, more);
}

bool JointTables::energy_may_last(const JointPlan& plan, int more) {
  if (demand_j_.empty()) reckon_demand();
  std::vector<const std::vector<double>*> parts;
  for (const Use& use : plan) {
    Use first = use;
    if (use.returns()) {
      if (!use.charged) continue;
      first.in = use.before_in;
    }
    parts.push_back(&drawn(first).energy_j);
  }
  int short_days = 0;
  for (std::size_t d = 0; d < demand_j_.size(); ++d) {
    double sum = more * most_j_[d];
    for (const std::vector<double>* part : parts) sum += (*part)[d];
    if (sum < demand_j_[d] && ++short_days > allowed_) return false;
  }
  return true;
}

}  // namespace tillwrap::choose
