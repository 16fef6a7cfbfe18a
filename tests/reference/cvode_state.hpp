// State, equations and switching rules of the day that CVODE integrates (cvode_day.hpp). Written from docs/model.md and
// docs/model-day.md.
#pragma once

#include <string>
#include <vector>

#include "reference/cvode_day.hpp"

namespace tillwrap::reference {

class DayState {
 public:
  explicit DayState(const forecast::Model& model);

 protected:
  struct Holder {
    int pack = -1;
    bool connected = false;
    int arriving = -1;
    double arrives_s = forecast::kNever;
    double sleeps_s = forecast::kNever;
    double dark_s = forecast::kNever;  // USB PD ports off until then
    bool reversed = false;
  };
  struct Device {
    bool powered = false;
    int mode = 0;
    int input = 0;
    double ready_s = 0.0;
    double down_s = forecast::kNever;
    double held_until_s = 0.0;
    double deadline_s = forecast::kNever;
    bool ever_out = false;
    int restarts = 0;
    int returns = 0;
    bool stays_off = false;
    bool seen_over_volts = false;
    double last_good_v = 0.0;
  };
  struct Lead {
    bool open = false;
    double used = 0.0;
  };
  enum class Kind {
    input_lost,
    input_back,
    regulator_low,
    regulator_back,
    fuse,
    pack_low,
    pack_low_cell,
    pack_current,
    pack_cold,
    pack_hot,
    device_low,
    device_back,
    low_load,
    load_again,
    reversed,
    over_volts,
  };
  struct Watch {
    Kind kind;
    int index;
    int other = -1;  // input
  };

  // Which numbers are integrated in this segment; the rest stand still.
  void lay_out();
  [[nodiscard]] std::size_t unknowns() const { return slots_.size(); }
  void pack_into(double* y) const;
  void unpack(const double* y);
  void rates_of_change(double* dydt) const;
  void solve_at(double since_base_s, bool afresh);
  void remember_volts();

  void find_watches();
  [[nodiscard]] double margin(const Watch& watch) const;
  void settle(const std::vector<Watch>& crossed);
  void confirm_losses();
  void apply_period(int index);
  void apply_change(const forecast::PlannedChange& change);
  void remove_pack(int h);
  void insert_pack(int h, int pack);
  [[nodiscard]] double next_timer_s() const;
  void timers();

  const forecast::Model& model_;
  const day::Scenario& day_;
  double t_ = 0.0;
  double base_s_ = 0.0;
  std::vector<Holder> holder_;
  std::vector<Device> device_;
  std::vector<Lead> lead_;
  std::vector<char> regulator_on_;
  std::vector<int> regulator_tries_;
  std::vector<double> place_k_;
  WiringNow now_;
  WiringPoint point_;
  DenseWiring wiring_;
  std::vector<Watch> watches_;
  CvodeRun out_;
  bool noting_ = true;

 private:
  struct Slot {  // one integrated number
    enum class What { charge, lag0, lag1, rc, transfer, kelvin, weak, place_kelvin, fuse_used } what;
    std::size_t index;
  };
  [[nodiscard]] double& number(const Slot& slot);
  [[nodiscard]] double number(const Slot& slot) const { return const_cast<DayState*>(this)->number(slot); }

  void set_conditions();
  void resolve();
  bool switch_once(const std::vector<Watch>& crossed);
  void pack_off(int h);
  void device_down(int d);
  [[nodiscard]] double dark_until_s(int d, double otherwise_s) const;
  void device_up(int d);
  void rest_spares();
  void try_again();
  void note(double at_s, std::string what);
  [[nodiscard]] double cutoff_v(std::size_t d) const;
  [[nodiscard]] double restart_v(std::size_t d) const;
  [[nodiscard]] bool is_off(std::size_t d) const;
  [[nodiscard]] bool several(std::size_t d) const { return day_.devices[d].inputs.size() > 1; }
  [[nodiscard]] double input_v(std::size_t d, int input) const;

  int period_ = -1;
  std::vector<cell::PackState> spare_;  // by pack, while it is in no holder
  std::vector<double> rested_to_s_;
  std::vector<double> heat_w_;  // of each place, at the last operating point
  std::vector<Slot> slots_;
};

}  // namespace tillwrap::reference
