#include "fit/health.hpp"

#include <utility>

#include "fit/factor.hpp"

namespace tillwrap::fit {

void free_start_charges(Problem& problem) {
  for (std::size_t k = 0; k < problem.logs.size(); ++k) {
    const Log& log = problem.logs[k];
    if (!(log.start_charge_sd > 0.0) || log.rested_v) continue;
    problem.free.push_back({.name = "start charge of " + log.name.substr(log.name.find_last_of('/') + 1),
                            .middle = log.start_charge,
                            .spread = log.start_charge_sd,
                            .logarithmic = false,
                            .of_the_cell = false,
                            .put = [k](Draft& draft, double value) { draft.start_charge[k] = value; }});
  }
}

Health health(const cell::CellParams& as_new, std::vector<Log> logs, const std::function<void(int, double)>& progress) {
  Problem problem;
  problem.base = as_new;
  problem.logs = std::move(logs);
  problem.progress = progress;
  problem.straight_beyond = kHuber;
  problem.free.push_back(
      {.name = "capacity_fraction", .middle = 1.0, .spread = kCapacityDoubt, .put = [](Draft& draft, double value) {
         for (cell::Ageing& age : draft.age) age.capacity_fraction = value;
       }});
  problem.free.push_back(
      {.name = "resistance_factor", .middle = 1.0, .spread = kResistanceDoubt, .put = [](Draft& draft, double value) {
         for (cell::Ageing& age : draft.age) age.resistance_factor = value;
       }});
  free_start_charges(problem);
  Health out;
  out.fitted = fit(problem);
  out.age = {.capacity_fraction = out.fitted.numbers[0].value, .resistance_factor = out.fitted.numbers[1].value};
  out.fitted.cell = cell::aged(as_new, out.age);
  return out;
}

}  // namespace tillwrap::fit
