// How a day stands at one moment: all that changes while the simulator runs it, and nothing else. A copy of it is a
// moment to go on from.
#pragma once

#include <vector>

#include "cell/pack.hpp"
#include "forecast/result.hpp"
#include "wiring/network.hpp"

namespace tillwrap::forecast {

class Standing {
 protected:
  struct HolderNow {
    int pack = -1;
    int arriving = -1;  // pack on its way in
    double arrives_s = kNever;
    bool left_empty = false;  // nothing is in it as hands left it: PlannedChange::gap_s, or taken out for good
    bool connected = false;   // in, and its protection closed
    CauseNote off_why{};
    double sleeps_s = kNever;        // low-load switch-off
    double renegotiated_s = kNever;  // USB PD ports dark until then
    bool reversed_seen = false;
    bool full_seen = false;
    int stint = -1;
  };
  struct DeviceNow {
    bool powered = false;
    int mode = 0;
    int input = 0;  // selected, for devices with several
    double ready_s = 0.0;
    double down_s = kNever;
    double held_until_s = 0.0;    // hold-up carries it to here
    double deadline_s = kNever;   // not working by then: a loss
    double out_since_s = kNever;  // for off_s
    CauseNote why{};
    int restarts = 0;
    int returns = 0;  // to a better input
    bool stays_off = false;
    bool by_hand = false;  // somebody who filled its holder again switches it on
    bool over_volts_seen = false;
    bool ahead = false;  // see power_up_ahead
  };
  struct LeadNow {
    bool open = false;
    double used = 0.0;  // 1 = opens
  };
  struct CruiseLoad {  // what one pack sees of its part of the wiring
    bool active = false;
    bool bay = false;   // on charge: what its charger gives at its volts and charge, instead of what follows
    bool kept = false;  // higher volts keep it out: it feeds its own electronics only
    // Packs whose currents meet carry a load together: the first of them has it, the others its number.
    std::size_t first = 0;
    int packs = 1;       // that carry it
    int meet_node = -1;  // where they meet; of one alone its own
    // Of one that is not alone, from there to where they meet: its electronics, what is lost on the way.
    double own_idle_a = 0.0, own_ohm = 0.0, own_drop_v = 0.0;
    double at_v = 0.0, end_v = 0.0;  // where several meet
    double carried_a = 0.0;          // by them together, at the end of the step
    double following = 1.0;          // slope of a pack's volts over the one at once
    double changed_a = 0.0;          // by the last try
    double reference_v = 0.0;        // volts at meet_node the load was taken at
    double power_w = 0.0;            // constant-power part
    double current_a = 0.0;
    double siemens = 0.0;
    double loss_w = 0.0;   // in wires at the reference, goes with 1/V²
    double leave_v = 0.0;  // below: something may switch soon
    double leave_cell_v = 0.0;
    double least_a = 0.0, most_a = 0.0;
    double loss_share = 0.0;
    std::vector<double> place_share;  // of the power that becomes heat in each place
    cell::PackPoint point, end_point;
    double amps = 0.0, end_a = 0.0, end_k = 0.0;
    // Of the step being tried.
    double straight_a = 0.0, settled_a = 0.0, around_k = 0.0, decay = 0.0;
  };
  struct Cruise {
    bool valid = false;
    double since_s = 0.0;  // idle packs' lags are caught up from here
  };

  double t_ = 0.0;
  int period_ = -1;
  std::vector<cell::PackState> pack_state_;  // by pack, up to date while it rests
  std::vector<double> rested_to_s_;          // by pack
  std::vector<HolderNow> holder_;
  std::vector<DeviceNow> device_;
  std::vector<LeadNow> lead_;
  std::vector<char> regulator_on_;
  std::vector<int> regulator_restarts_;
  std::vector<double> place_k_;
  std::vector<cell::PackState> state_;  // by holder
  std::vector<cell::CellRates> rates_;
  std::vector<double> rates_k_;      // temperature they were last taken at by resolve, 0 = anew
  std::vector<double> slope_a_s_;    // current slope over the last step
  std::vector<double> bend_a_s2_;    // how that slope changed over the last two
  double slope_over_s_ = 0.0;        // how long that was; 0 = none since something switched
  std::vector<double> last_good_v_;  // by device, for hold-up
  wiring::Conditions now_;
  wiring::Solution solution_;
  Cruise cruise_;
  std::vector<CruiseLoad> cruise_load_;  // by holder
  double step_s_ = 10.0;
  bool closed_ = false;  // past off: only the loss is still looked for
  DayRun out_;
};

}  // namespace tillwrap::forecast
