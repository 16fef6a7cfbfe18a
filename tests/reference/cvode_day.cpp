#include "reference/cvode_day.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <stdexcept>

#include "reference/cvode_state.hpp"

namespace tillwrap::reference {

namespace {

using forecast::kNever;

constexpr double kSame_s = 1e-6;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

void check(int flag, const char* what) {
  if (flag < 0) throw std::runtime_error(std::string(what) + " of CVODE failed with " + std::to_string(flag));
}

struct Free {
  void operator()(N_Vector v) const { N_VDestroy(v); }
  void operator()(SUNMatrix m) const { SUNMatDestroy(m); }
  void operator()(SUNLinearSolver s) const { SUNLinSolFree(s); }
};
struct FreeCvode {
  void operator()(void* memory) const { CVodeFree(&memory); }
};
template <typename Handle>
using Held = std::unique_ptr<std::remove_pointer_t<Handle>, Free>;

struct Agenda {
  double at_s;
  int rank;  // period, out of a bay, change
  int index;
};

class Day : public DayState {
 public:
  Day(const forecast::Model& model, const forecast::ChangePlan& plan, const CvodeOptions& options)
      : DayState(model), plan_(plan), options_(options) {
    for (std::size_t k = 0; k < day_.periods.size(); ++k)
      agenda_.push_back({day_.periods[k].from_s, 0, static_cast<int>(k)});
    for (std::size_t k = 0; k < plan_.size(); ++k) {
      agenda_.push_back({plan_[k].at_s, 2, static_cast<int>(k)});
      if (plan_[k].out_s < kNever) agenda_.push_back({plan_[k].out_s, 1, static_cast<int>(k)});
    }
    std::stable_sort(agenda_.begin(), agenda_.end(), [](const Agenda& a, const Agenda& b) {
      return a.at_s != b.at_s ? a.at_s < b.at_s : a.rank < b.rank;
    });
    if (SUNContext_Create(nullptr, &context_) != 0) throw std::runtime_error("no SUNDIALS context");
  }
  ~Day() { SUNContext_Free(&context_); }
  Day(const Day&) = delete;
  Day& operator=(const Day&) = delete;

  CvodeRun run() {
    t_ = day_.periods.front().from_s;
    std::size_t next = 0;
    bool closed = false;
    for (long rounds = 0;; ++rounds) {
      if (rounds > 20000) throw std::runtime_error("more than 20,000 events");
      bool acted = false;
      while (next < agenda_.size() && agenda_[next].at_s <= t_ + kSame_s) {
        const Agenda& item = agenda_[next++];
        if (item.rank == 0) {
          apply_period(item.index);
        } else if (item.rank == 2) {
          apply_change(plan_[at(item.index)]);
        } else if (holder_[at(plan_[at(item.index)].holder)].pack == plan_[at(item.index)].pack) {
          remove_pack(plan_[at(item.index)].holder);
        }
        acted = true;
      }
      if (next_timer_s() <= t_ + kSame_s) {
        timers();
        acted = true;
      }
      if (acted) settle({});
      confirm_losses();
      if (t_ >= day_.off_s - kSame_s) closed = true;
      noting_ = !closed;
      if (closed && (out_.lost_device >= 0 || t_ >= options_.search_until_s)) break;
      double end_s = closed ? options_.search_until_s : day_.off_s;
      if (next < agenda_.size()) end_s = std::min(end_s, agenda_[next].at_s);
      end_s = std::min(end_s, next_timer_s());
      if (end_s > t_) integrate_to(end_s);
    }
    out_.solves = wiring_.solves;
    out_.newton = wiring_.iterations;
    return std::move(out_);
  }

 private:
  static int derivatives(sunrealtype t, N_Vector y, N_Vector ydot, void* self) {
    Day& day = *static_cast<Day*>(self);
    ++day.out_.evaluations;
    day.unpack(N_VGetArrayPointer(y));
    day.solve_at(t, false);
    day.rates_of_change(N_VGetArrayPointer(ydot));
    return 0;
  }
  static int roots(sunrealtype t, N_Vector y, sunrealtype* margins, void* self) {
    Day& day = *static_cast<Day*>(self);
    day.unpack(N_VGetArrayPointer(y));
    day.solve_at(t, false);
    std::size_t k = 0;
    for (const Watch& watch : day.watches_) margins[k++] = day.margin(watch);
    return 0;
  }

  // A few seconds after a switch everything still moves; the integrator finds its own first step.
  void integrate_to(double end_s) {
    if (++segments_ > kMostSegments) throw GaveUp{};
    lay_out();
    const long n = static_cast<long>(unknowns());
    const double start_s = t_;
    const Held<N_Vector> y(N_VNew_Serial(std::max(n, 1L), context_));
    N_VConst(0.0, y.get());
    pack_into(N_VGetArrayPointer(y.get()));
    const std::unique_ptr<void, FreeCvode> solver(CVodeCreate(CV_BDF, context_));
    // Time counts from the segment's start: near midnight a second is not lost in the digits of a day.
    base_s_ = start_s;
    check(CVodeInit(solver.get(), derivatives, 0.0, y.get()), "CVodeInit");
    check(CVodeSStolerances(solver.get(), options_.relative, options_.absolute), "CVodeSStolerances");
    check(CVodeSetUserData(solver.get(), this), "CVodeSetUserData");
    const Held<SUNMatrix> matrix(SUNDenseMatrix(std::max(n, 1L), std::max(n, 1L), context_));
    const Held<SUNLinearSolver> linear(SUNLinSol_Dense(y.get(), matrix.get(), context_));
    check(CVodeSetLinearSolver(solver.get(), linear.get(), matrix.get()), "CVodeSetLinearSolver");
    check(CVodeSetMaxNumSteps(solver.get(), 2000000), "CVodeSetMaxNumSteps");
    // Where a source begins to take over, the charge transfer's rate has a kink: seven failed tests are soon used up.
    check(CVodeSetMaxErrTestFails(solver.get(), 40), "CVodeSetMaxErrTestFails");
    find_watches();
    if (!watches_.empty()) {
      check(CVodeRootInit(solver.get(), static_cast<int>(watches_.size()), roots), "CVodeRootInit");
      std::vector<int> falling(watches_.size(), -1);
      check(CVodeSetRootDirection(solver.get(), falling.data()), "CVodeSetRootDirection");
      CVodeSetNoInactiveRootWarn(solver.get());
    }
    check(CVodeSetStopTime(solver.get(), end_s - start_s), "CVodeSetStopTime");
    double reached_s = 0.0;
    int flag = CV_SUCCESS;
    while (reached_s < end_s - start_s) {
      while (sample_ < options_.sample_s.size() && options_.sample_s[sample_] <= start_s + reached_s) ++sample_;
      const bool sampling = sample_ < options_.sample_s.size() && options_.sample_s[sample_] < end_s;
      const double until_s = sampling ? options_.sample_s[sample_] - start_s : end_s - start_s;
      flag = CVode(solver.get(), until_s, y.get(), &reached_s, CV_NORMAL);
      if (flag == CV_ERR_FAILURE || flag == CV_CONV_FAILURE) throw GaveUp{};  // at the edge of collapse
      check(flag, "a step");
      if (flag == CV_ROOT_RETURN) break;
      if (flag == CV_TSTOP_RETURN) {
        reached_s = end_s - start_s;
        break;
      }
      unpack(N_VGetArrayPointer(y.get()));
      solve_at(reached_s, false);
      sample(start_s + reached_s);
    }
    long steps = 0;
    CVodeGetNumSteps(solver.get(), &steps);
    out_.steps += steps;
    unpack(N_VGetArrayPointer(y.get()));
    solve_at(reached_s, false);
    t_ = flag == CV_ROOT_RETURN ? start_s + reached_s : end_s;
    remember_volts();
    if (flag != CV_ROOT_RETURN) return;
    std::vector<int> found(watches_.size(), 0);
    check(CVodeGetRootInfo(solver.get(), found.data()), "CVodeGetRootInfo");
    std::vector<Watch> crossed;
    for (std::size_t k = 0; k < found.size(); ++k) {
      if (found[k] < 0) crossed.push_back(watches_[k]);
    }
    settle(crossed);
  }

  void sample(double at_s) {
    CvodeSample row{.at_s = at_s};
    for (const day::Device& device : day_.devices) row.device_v.push_back(point_.node_v[at(device.port)]);
    for (std::size_t h = 0; h < holder_.size(); ++h) {
      row.holder_v.push_back(point_.pack[h].volts);
      row.charge.push_back(holder_[h].pack >= 0 ? now_.packs[h].state.cell.charge : 0.0);
      row.pack_k.push_back(holder_[h].pack >= 0 ? now_.packs[h].state.cell.temperature_k : 0.0);
    }
    if (out_.samples.size() > options_.sample_s.size() + kMostEvents) throw GaveUp{};
    out_.samples.push_back(std::move(row));
  }

  const forecast::ChangePlan& plan_;
  const CvodeOptions& options_;
  std::vector<Agenda> agenda_;
  std::size_t sample_ = 0;
  long segments_ = 0;
  SUNContext context_ = nullptr;
};

}  // namespace

CvodeRun cvode_day(const forecast::Model& model, const forecast::ChangePlan& plan, const CvodeOptions& options) {
  return Day(model, plan, options).run();
}

}  // namespace tillwrap::reference
