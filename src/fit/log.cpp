#include "fit/log.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::fit {

namespace {

constexpr double kGap_s = 200.0;        // a longer step in a pulse test's clock separates two levels
constexpr std::size_t kLeastRows = 20;  // a level of fewer rows holds no pulse

}  // namespace

std::vector<Level> levels(const Log& log) {
  std::vector<Level> out;
  std::size_t first = 0;
  for (std::size_t k = 1; k <= log.t_s.size(); ++k) {
    if (k < log.t_s.size() && log.t_s[k] - log.t_s[k - 1] <= kGap_s) continue;
    if (k - first >= kLeastRows) out.push_back({first, k});
    first = k;
  }
  return out;
}

double first_load_s(const Log& log) {
  double most = 0.0;
  for (const double a : log.amps) most = std::max(most, a);
  for (std::size_t k = 0; k < log.t_s.size(); ++k) {
    if (log.amps[k] > 0.05 * most) return k > 0 ? log.t_s[k - 1] : log.t_s[0];
  }
  return log.t_s.front();
}

std::optional<double> measured_duration_s(const Log& log, double stop_v) {
  const double from_s = first_load_s(log);
  for (std::size_t k = 1; k < log.t_s.size(); ++k) {
    if (log.t_s[k] <= from_s || log.volts[k] > stop_v) continue;
    const double before = log.volts[k - 1];
    const double share = before > stop_v ? (before - stop_v) / (before - log.volts[k]) : 0.0;
    return log.t_s[k - 1] + share * (log.t_s[k] - log.t_s[k - 1]) - from_s;
  }
  return std::nullopt;
}

double charge_as(const Log& log) {
  double sum = 0.0;
  for (std::size_t k = 1; k < log.t_s.size(); ++k)
    sum += 0.5 * (log.t_s[k] - log.t_s[k - 1]) * (log.amps[k] + log.amps[k - 1]);
  return sum;
}

Log thinned(Log log, std::size_t most_rows) {
  const std::size_t n = log.t_s.size();
  const std::size_t run = (n + most_rows - 1) / most_rows;
  if (run < 2) return log;
  const auto thin = [&](std::vector<double>& values) {
    if (values.empty()) return;
    // The first and the last row stay as they are.
    std::vector<double> out{values.front()};
    for (std::size_t k = 1; k + 1 < n; k += run) {
      const std::size_t end = std::min(k + run, n - 1);
      double sum = 0.0;
      for (std::size_t j = k; j < end; ++j) sum += values[j];
      out.push_back(sum / static_cast<double>(end - k));
    }
    out.push_back(values.back());
    values = std::move(out);
  };
  for (auto* values : {&log.t_s, &log.volts, &log.amps, &log.discharged_as, &log.surface_k}) thin(*values);
  return log;
}

}  // namespace tillwrap::fit
