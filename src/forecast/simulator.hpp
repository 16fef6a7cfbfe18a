// One day stepped through from the first period to wrap-out, and on until the first must-run device is lost.
//
// Between events all packs advance together: currents are taken to go in a straight line over a step, the cells'
// linear states follow exactly, the wiring is solved at the end of the step, and the difference between the predicted
// and the corrected answer sets the next step (docs/model.md, time stepping). A condition that turns negative inside a
// step (cut-off, protection, change-over, fuse) is located to well under a second and the step ends there.
#pragma once

#include <vector>

#include "forecast/model.hpp"
#include "forecast/result.hpp"
#include "forecast/standing.hpp"

namespace tillwrap::forecast {

struct PlannedChange {
  int holder = 0;
  int pack = 0;
  double at_s = 0.0;
  double out_s = kNever;
  // So long from `at_s` on nothing is in the holder, as hands left it that day: what goes dark meanwhile is no loss,
  // whatever its need. 0: a change, which takes what the holder says.
  double gap_s = 0.0;
  friend bool operator==(const PlannedChange&, const PlannedChange&) = default;
};
using ChangePlan = std::vector<PlannedChange>;

// A pack that goes into a holder then.
struct Served {
  int holder = 0;
  int pack = 0;
  double in_s = 0.0;
};

struct RunOptions {
  double search_until_s = 0.0;  // look for the first loss up to here
  bool trace = false;
  double longest_step_s = 900.0;
  double tolerance =
      0.1;  // 1 = 0.1 mV a cell and step; smaller is finer. 0.1 keeps 200 drawn days within 0.1 % of CVODE
  // Only the first loss, the ends of stints and the packs' charge are wanted (odds, planning): no account, volts or
  // events, and stretches in which packs carry a steady load are cruised (cruise.cpp). A trace then has devices' volts
  // as they move with their packs', and leads' amps as such a stretch began.
  bool loss_only = false;
  bool stop_at_loss = false;  // end the run at the first loss, even before off
  double stop_s = kNever;     // end the run here and leave every pack's charge in DayRun::charge
  // End the run once all of these packs have served, whatever was lost before, at the latest at stop_s; with
  // stop_at_loss, not before the first loss is known too, where there is one up to search_until_s. With `first_served`
  // end it once one of them has.
  std::vector<Served> stop_served;
  bool first_served = false;
  // Moments, rising, at which DayRun::probes tells how things stand; a loss does not end the run before the last of
  // them.
  std::vector<double> probe_s;
};

// Its time in that holder, nullptr where the run did not get so far.
[[nodiscard]] const Stint* stint_of(const DayRun& run, const Served& pack);

// Moments of a run to go on from: where the day brings something, a period or a change. Good as long as the scenario's
// numbers stay as they were; see Simulator::run.
class Marks {
 public:
  Marks() = default;
  // None before that moment.
  explicit Marks(double from_s) : from_s_(from_s) {}
  void forget() { used_ = 0; }
  // The first of the others, if there is one, and nothing else.
  void begin_with(const Marks& others);

 private:
  friend class Simulator;
  struct Mark {
    double at_s = 0.0;
    double next_s = 0.0;  // of the agenda
    bool lost = false;    // something was, before
    Standing standing;
    std::vector<char> carrying;
  };
  double from_s_ = -kNever;
  ChangePlan plan_;
  double longest_step_s_ = 0.0;
  double tolerance_ = 0.0;
  std::vector<Mark> marks_;
  std::size_t used_ = 0;  // of them; the rest is room
};

class Simulator : private Standing {
 public:
  explicit Simulator(const Model& model);

  // Runs the day from its start; may be called again, with other plans and after the scenario's numbers (not its shape)
  // have changed. Throws std::runtime_error when more than 100,000 events happen (a device that flaps for ever).
  DayRun run(const ChangePlan& plan, const RunOptions& options);
  // The same into a result that is used again: once it and the simulator have held such a day, nothing is allocated.
  void run(const ChangePlan& plan, const RunOptions& options, DayRun& result);
  // The same answer, for runs where only losses are wanted: goes on from the last of the marks up to which the day goes
  // as in the run they are of, and leaves those of this run. Probes only where there is no mark yet.
  void run(const ChangePlan& plan, const RunOptions& options, DayRun& result, Marks& marks);

 private:
  struct Agenda {
    double at_s = 0.0;
    int kind = 0;  // 0 period, 1 change, 2 out of its holder, 3 probe
    int index = 0;
  };
  // Conditions watched during a step; a negative margin is an event.
  enum class Watch {
    input_lost,
    input_back,
    regulator_low,
    regulator_back,
    pack_under,
    pack_current,
    pack_cold,
    pack_hot,
    fuse,
    device_low,
    device_back,
    low_load,
    load_again,
    reversed,
    bay_full,
    over_volts,
  };
  struct Hit {  // a condition that is violated
    Watch watch;
    int index;
    double margin;
  };
  struct View {
    const wiring::Solution* solution;
    const std::vector<cell::PackState>* state;  // by holder
    const std::vector<LeadNow>* leads;
  };
  struct Power {  // instantaneous account terms and energies, W
    std::vector<double> device;
    std::vector<double> lead;
    std::vector<double> holder;  // terminal power of the pack
    double drawn = 0.0, devices = 0.0, cables = 0.0, contacts = 0.0, converters = 0.0, cells = 0.0;
  };

  // switching.cpp
  template <typename Visit>
  void each_watch(const View& view, Visit visit) const;
  [[nodiscard]] double least_margin(const View& view) const;
  void settle();
  void power_up_ahead();
  bool settle_once();
  void device_down(int d, bool collapsed);
  [[nodiscard]] double dark_until_s(std::size_t d, double otherwise_s) const;
  void device_up(int d);
  void pack_off(int h, Cause cause);
  void mark_ended(int h);
  [[nodiscard]] CauseNote find_cause(int d, bool collapsed) const;
  [[nodiscard]] CauseNote describe(CauseNote why) const;
  void forgive_flapping();                     // hands or a new load are here: everything may try again
  [[nodiscard]] bool apply_period(int index);  // true when something of this piece switched
  void apply_change(const PlannedChange& change);
  void insert_pack(int h, int pack);
  void remove_pack(int h);
  void timers();
  [[nodiscard]] double next_timer_s() const;
  void rest_spares();
  void confirm_losses();
  [[nodiscard]] bool loss_pending() const;
  [[nodiscard]] bool all_known() const;  // that the run was asked for
  void note(Event event);

  // marks.cpp
  bool go_back(Marks& marks);
  void keep(Marks& marks);

  // cruise.cpp
  bool prepare_pack(std::size_t h);
  bool prepare_load(std::size_t h);
  void predict_cruise(std::size_t h, double step_s);
  void follow_cruise(std::size_t h);
  void nudge_cruise(std::size_t h, double change_a);
  double settle_alone(std::size_t h);
  double judge_cruise(std::size_t h, double step_s);
  double cruise_step(double step_s);
  [[nodiscard]] double cruise_clear() const;
  void warm_cruise_places(double step_s, bool corrected);
  [[nodiscard]] bool prepare_cruise();
  bool cruise_to(double end_s);  // true when it got to `end_s`
  void leave_cruise(bool solve);
  [[nodiscard]] double cruised_v(int port) const;
  void record_cruised(bool at_end);
  [[nodiscard]] static wiring::ValueGradient cruise_load_a(const CruiseLoad& load, double volts);
  [[nodiscard]] bool leads(std::size_t h) const {
    const CruiseLoad& load = cruise_load_[h];
    return load.active && load.first == h && !load.bay && !load.kept;
  }
  [[nodiscard]] bool carries_with(std::size_t h, std::size_t first) const {
    return cruise_load_[h].active && cruise_load_[h].first == first;
  }
  // Volts the load of those packs sees, now and at the end of the step being tried.
  [[nodiscard]] double carried_v(std::size_t first) const {
    const CruiseLoad& load = cruise_load_[first];
    return load.packs > 1 ? load.at_v : load.point.volts - day_.holders[first].drop_v;
  }
  [[nodiscard]] double carried_end_v(std::size_t first) const {
    const CruiseLoad& load = cruise_load_[first];
    return load.packs > 1 ? load.end_v : load.end_point.volts - day_.holders[first].drop_v;
  }
  // cruise_together.cpp
  void stand_alone(std::size_t h);
  [[nodiscard]] bool kept_out(std::size_t h) const;
  void prepare_kept(std::size_t h);
  [[nodiscard]] bool waits(std::size_t h) const;
  bool find_meeting(std::size_t h);
  bool join_cruise(std::size_t h);
  [[nodiscard]] double carried_a(std::size_t first) const;
  [[nodiscard]] bool draws_from(std::size_t load, std::size_t first) const;
  [[nodiscard]] bool ways_hold(std::size_t first) const;
  void settle_together(std::size_t first);
  // cruise_bay.cpp
  struct BayRoom {  // below zero: the current's limit ends, the pack is full, or it is too cold or too warm
    double limit_v, full, cold_k, hot_k;
  };
  [[nodiscard]] bool bay_may_cruise(std::size_t h) const;
  void prepare_bay(std::size_t h);
  wiring::ValueGradient cruise_bay_a(std::size_t h, double volts);
  [[nodiscard]] BayRoom bay_room(std::size_t h, const cell::PackState& state, double volts, double amps,
                                 double k) const;

  // simulator.cpp
  void reset();
  void blank_result();
  void make_agenda();
  void go(Marks* marks);
  void set_lead_ohms();
  void set_conditions();
  void set_bay(std::size_t h, const cell::PackState& state);
  void resolve();  // set conditions and solve at the present state
  [[nodiscard]] static double mean_on_the_way(const day::Place& bag, double step_s, double decay, double from_k,
                                              double settled_k);
  [[nodiscard]] static double most_kelvin(const cell::PackParams& pack, double now_k, double otherwise);
  double try_step(double step_s);  // fills the trial buffers, returns error over tolerance
  void accept_step(double step_s);
  void integrate_to(double end_s);
  [[nodiscard]] double air_k() const;
  [[nodiscard]] double surround_k(int place) const;
  void place_heat(const wiring::Solution& s, const std::vector<cell::PackState>& state,
                  const std::vector<double>& place_k, std::vector<double>& heat) const;
  [[nodiscard]] std::size_t bay(int h) const;
  [[nodiscard]] double cutoff_v(std::size_t d) const;  // on the selected input
  [[nodiscard]] double highest_v(std::size_t d) const;
  [[nodiscard]] double restart_v(std::size_t d) const;

  // accounting.cpp
  void powers(const wiring::Solution& s, Power& power) const;
  void add_energy(const Power& from, const Power& to, double step_s);
  void watch_volts();
  [[nodiscard]] double out_amps(std::size_t h) const;  // at the holder's contacts
  void trace_drop(int port, DeviceUse& use) const;
  void end_outage(std::size_t d);
  void remember_volts();  // for hold-up
  void record();
  void probe(std::size_t index);
  void finish();

  const Model& model_;
  const day::Scenario& day_;
  ChangePlan plan_;
  RunOptions options_;
  std::vector<Agenda> agenda_;
  std::size_t next_agenda_ = 0;

  std::vector<std::size_t> bags_;  // places that are bags and have something in them
  std::vector<char> bay_supply_;   // by network supply: of a charger's bay

  wiring::Network network_;
  // Trial buffers of a step.
  wiring::Solution trial_;
  std::vector<cell::PackState> trial_state_;
  std::vector<cell::CellRates> trial_rates_, mid_rates_;
  std::vector<cell::StepLags> lags_;  // of the step being tried
  std::vector<double> trial_place_k_, heat0_, heat1_;
  std::vector<double> mean_place_k_;  // over the step being tried
  std::vector<double> place_decay_;   // of each bag over the step being tried
  std::vector<LeadNow> trial_lead_;
  Power power_, trial_power_;
  std::vector<Hit> hits_;     // of settle_once
  std::vector<char> in_use_;  // by pack, of rest_spares
};

// Convenience: one run.
DayRun run_day(const Model& model, const ChangePlan& plan, const RunOptions& options);

}  // namespace tillwrap::forecast
