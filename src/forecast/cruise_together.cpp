// Packs that carry a load together during a quiet stretch: their currents meet at one node, each by its own contacts,
// cable and diode, and the volts there are such that what they give is what is drawn. A stretch ends where one of them
// no longer takes part. A pack kept out by higher volts feeds its own electronics.
#include <algorithm>
#include <cmath>

#include "forecast/cruise.hpp"
#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kLeastShare = 0.01;  // of what they carry together: less, and a pack may soon carry nothing
constexpr double kSettled_v = 1e-8;
constexpr double kTells_a = 1e-6;  // a smaller change tells nothing of the slope
constexpr double kMostFollowing = 20.0;
constexpr double kSame_a = 1e-7;
constexpr double kAboveResting = 1.001;  // of the volts a pack that carries nothing switches itself off at

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

void Simulator::stand_alone(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  load.active = load.bay = load.kept = false;
  load.first = h;
  load.packs = 1;
  load.meet_node = model_.holder_node[h];
  load.own_idle_a = load.own_ohm = load.own_drop_v = 0.0;
  load.least_a = -kNoLimit_a;
  load.following = 1.0;
}

// Whether a pack that gives something gives it to its own electronics only, with others in its part that carry.
bool Simulator::kept_out(std::size_t h) const {
  const double idle_a = now_.loads[day_.devices.size() + h].current_a;
  const double amps = solution_.pack_a[h];
  if (idle_a <= 0.0 || amps <= 0.0 || amps > idle_a + kSame_a) return false;
  for (std::size_t other = 0; other < holder_.size(); ++other) {
    if (other == h || holder_[other].pack < 0 || !holder_[other].connected) continue;
    if (network_.part_of(model_.holder_node[other]) == network_.part_of(model_.holder_node[h]) &&
        solution_.pack_a[other] > now_.loads[day_.devices.size() + other].current_a + kSame_a)
      return true;
  }
  return false;
}

void Simulator::prepare_kept(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  const cell::Protection& guard = day_.packs[at(holder_[h].pack)].params.protection;
  load.active = load.kept = true;
  load.point = solution_.pack[h];
  load.reference_v = load.point.volts;
  load.leave_v = kAboveResting * guard.under_v;
  load.leave_cell_v = kAboveResting * guard.under_cell_v;
  load.most_a = kNoLimit_a;
  load.power_w = load.siemens = load.loss_w = load.loss_share = 0.0;
  load.current_a = load.amps = solution_.pack_a[h];
  std::fill(load.place_share.begin(), load.place_share.end(), 0.0);
}

// Whether a pack that carries nothing would, were the volts where it stands lower.
bool Simulator::waits(std::size_t h) const {
  if (now_.packs[h].params == nullptr) return false;
  if (now_.packs[h].one_way) return true;
  const std::vector<wiring::Branch>& branches = model_.topology.branches;
  int node = model_.holder_node[h];
  for (std::size_t k = 0; k < branches.size(); ++k) {
    if (branches[k].a != node || !now_.branch_closed[k]) continue;
    if (branches[k].one_way) return true;
    node = branches[k].b;
    k = static_cast<std::size_t>(-1);
  }
  return false;
}

// Follows a pack's current to where others join it or it forks.
bool Simulator::find_meeting(std::size_t h) {
  CruiseLoad& load = cruise_load_[h];
  load.own_idle_a = now_.loads[day_.devices.size() + h].current_a;
  load.own_ohm = 0.0;
  load.own_drop_v = day_.holders[h].drop_v;
  load.meet_node = model_.holder_node[h];
  const double amps = solution_.pack_a[h] - load.own_idle_a;
  const std::vector<wiring::Branch>& branches = model_.topology.branches;
  for (bool on = true; on;) {
    on = false;
    for (std::size_t k = 0; k < branches.size() && !on; ++k) {
      if (branches[k].a != load.meet_node || std::fabs(solution_.branch_a[k] - amps) > kSame_a) continue;
      load.own_ohm += now_.branch_ohm[k];
      if (branches[k].one_way) load.own_drop_v += branches[k].drop_v;
      load.meet_node = branches[k].b;
      on = true;
    }
  }
  return load.meet_node != model_.holder_node[h];
}

// Takes a pack that carries something to those before it that feed the same part; false where their currents do not all
// meet at one node, or one of them carries next to nothing.
bool Simulator::join_cruise(std::size_t h) {
  for (std::size_t first = 0; first < h; ++first) {
    if (!leads(first)) continue;
    CruiseLoad& lead = cruise_load_[first];
    if (network_.part_of(lead.meet_node) != network_.part_of(model_.holder_node[h])) continue;
    if (lead.packs == 1 && !find_meeting(first)) return false;
    if (!find_meeting(h) || cruise_load_[h].meet_node != lead.meet_node) return false;
    ++lead.packs;
    cruise_load_[h].first = first;
    const double together_a = carried_a(first) + solution_.pack_a[h] - cruise_load_[h].own_idle_a;
    bool all_give = true;
    for (std::size_t k = first; k <= h; ++k) {
      CruiseLoad& one = cruise_load_[k];
      if (k != h && !carries_with(k, first)) continue;
      one.least_a = one.own_idle_a + kLeastShare * together_a;
      all_give = all_give && solution_.pack_a[k] > one.least_a;
    }
    return all_give;
  }
  return true;
}

// What the packs of a load give where they meet.
double Simulator::carried_a(std::size_t first) const {
  double amps = 0.0;
  for (std::size_t h = first; h < cruise_load_.size(); ++h) {
    if (carries_with(h, first)) amps += solution_.pack_a[h] - cruise_load_[h].own_idle_a;
  }
  return amps;
}

// Whether what is drawn there is part of what those packs carry where they meet.
bool Simulator::draws_from(std::size_t load, std::size_t first) const {
  if (load < day_.devices.size()) return true;
  const std::size_t h = load - day_.devices.size();
  if (cruise_load_[h].kept) return false;
  return cruise_load_[first].packs == 1 || !carries_with(h, first);
}

// Room in the fuses on the ways to where they meet, should one come to carry what all do.
bool Simulator::ways_hold(std::size_t first) const {
  const double amps = carried_a(first) * carried_v(first) / cruise_load_[first].leave_v;
  for (std::size_t k = 0; k < day_.leads.size(); ++k) {
    if (!day_.leads[k].fuse || solution_.branch_a[k] <= 0.0) continue;
    for (std::size_t h = first; h < cruise_load_.size(); ++h) {
      if (!carries_with(h, first)) continue;
      const double own_a = solution_.pack_a[h] - cruise_load_[h].own_idle_a;
      if (std::fabs(solution_.branch_a[k] - own_a) > kSame_a) continue;
      const day::Fuse& fuse = *day_.leads[k].fuse;
      if (amps > kFuseRoom * wiring::hold_current_a(fuse.law, fuse.rated_a, place_k_[at(day_.leads[k].place)]))
        return false;
    }
  }
  return true;
}

// Newton on the volts where they meet, each pack on its tangent there. What counts of a pack is how its volts fall with
// the current at the end of the step when its lags follow: told by the last two currents tried.
void Simulator::settle_together(std::size_t first) {
  CruiseLoad& lead = cruise_load_[first];
  const double least_v = 0.5 * lead.leave_v;
  const auto each = [&](auto visit) {
    for (std::size_t h = first; h < cruise_load_.size(); ++h) {
      if (carries_with(h, first)) visit(h, cruise_load_[h]);
    }
  };
  // Volts a pack gives where they meet at the current taken for it, and how they fall with it.
  const auto gives_v = [](const CruiseLoad& load) {
    return load.end_point.volts - load.own_drop_v - load.own_ohm * (load.end_a - load.own_idle_a);
  };
  const auto slope_ohm = [](const CruiseLoad& load) {
    return load.following * load.end_point.slope_ohm - load.own_ohm;
  };
  for (int i = 0; i < kMostCruiseIterations; ++i) {
    double given_a = 0.0, siemens = 0.0, weighed_v = 0.0;
    each([&](std::size_t h, CruiseLoad& load) {
      const double before_v = load.end_point.volts;
      follow_cruise(h);
      if (i > 0 && std::fabs(load.changed_a) > kTells_a) {
        const double told = (load.end_point.volts - before_v) / (load.changed_a * load.end_point.slope_ohm);
        load.following = std::clamp(told, 1.0, kMostFollowing);
      }
      const double one = -1.0 / slope_ohm(load);
      given_a += load.end_a - load.own_idle_a;
      siemens += one;
      weighed_v += one * gives_v(load);
    });
    // Together: given_a + (their mean volts - v) siemens, which is what is drawn at v.
    const double mean_v = weighed_v / siemens;
    double v = std::max(mean_v, least_v);
    for (int k = 0; k < 20; ++k) {
      const wiring::ValueGradient drawn = cruise_load_a(lead, v);
      const double change_v = (given_a + (mean_v - v) * siemens - drawn.value) / (siemens + drawn.gradient);
      v = std::max(v + change_v, least_v);
      if (std::fabs(change_v) < kSettled_v) break;
    }
    lead.end_v = v;
    double most_a = 0.0;
    lead.carried_a = 0.0;
    each([&](std::size_t, CruiseLoad& load) {
      const double change_a = (gives_v(load) - v) / -slope_ohm(load);
      most_a = std::max(most_a, std::fabs(change_a));
      lead.carried_a += load.end_a + change_a - load.own_idle_a;
    });
    if (i > 0 && most_a < kAmpShare * lead.carried_a) break;
    const bool near = i == 0 && most_a <= kGuessShare * lead.carried_a;
    each([&](std::size_t h, CruiseLoad& load) {
      const double change_a = (gives_v(load) - v) / -slope_ohm(load);
      load.end_a += change_a;
      load.changed_a = change_a;
      if (near) nudge_cruise(h, change_a);
    });
    if (near) break;
  }
}

}  // namespace tillwrap::forecast
