// Fits on part of the open measured sets and predicts the rest: `./dev accuracy`. docs/accuracy.md says what is done.
#include <fmt/format.h>

#include <cstdio>

#include "accuracy/sets.hpp"

using namespace tillwrap;

int main() {
  for (const auto& set : accuracy::sets()) {
    fit::Problem problem = accuracy::problem_of(set, set.cases);
    const fit::Fitted all = fit::fit(problem);
    fmt::print("{} rounds {}\n", set.name, all.rounds);
    for (const auto& e : all.numbers)
      fmt::print("  {:36s} {:10.4g} +- {:8.2g}  {:.2f}\n", e.name, e.value, e.plus_minus, e.share_of_prior);
    for (const auto& log : all.logs)
      fmt::print("  {:28s} {:6.1f} mV  {:+.2f} %\n", log.name, 1e3 * log.rms_v, 100.0 * log.duration_off.value_or(0.0));
    std::fflush(stdout);
  }
}
