#include "app/health_cells.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "app/fit_columns.hpp"
#include "app/words.hpp"
#include "health/trend.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::app {

namespace {

// A new pack's weakest cell holds one to two hundredths less than the others (common practice, no source).
constexpr double kUsual = 0.02;
constexpr double kBalance = 0.01;
constexpr double kSumOff = 0.03;  // of the pack's volts; leads and the switch take some of them

double rounded(double value) { return std::round(1e5 * value) / 1e5; }

nlohmann::ordered_json band(double middle, double ln_sd) {
  const double wide = maths::exp(health::kBand * ln_sd);
  return {{"low", rounded(middle / wide)}, {"middle", rounded(middle)}, {"high", rounded(middle * wide)}};
}

}  // namespace

void check_cell_columns(CsvLog& csv, const std::string& source, const std::vector<int>& cells, int series,
                        std::vector<std::string>& notes) {
  if (static_cast<int>(cells.size()) != series)
    throw decode::InputError(source, csv.header.front(),
                             fmt::format("it has volts of {} cells where {} are in series", cells.size(), series),
                             "give all of them or none; --cells N says how many are in series where no pack kind does");
  std::vector<std::string> required{"time_s", "voltage_v", "current_a"};
  for (const int number : cells) required.push_back(cell_column(number));
  settle_columns(csv, source, required, notes);
  const std::vector<double>& pack_v = *csv.column("voltage_v");
  for (std::size_t k = 0; k < pack_v.size(); ++k) {
    double sum_v = 0.0;
    for (const int number : cells) sum_v += (*csv.column(cell_column(number)))[k];
    if (std::fabs(sum_v - pack_v[k]) <= kSumOff * std::fabs(pack_v[k])) continue;
    throw decode::InputError(
        source, csv.place(k, cell_column(cells.front())),
        fmt::format("the cells add up to {:.3g} V here where the pack shows {:.3g} V", sum_v, pack_v[k]),
        "check which columns are cells, and their units");
  }
}

CellCheck cell_check(const CsvLog& csv, const std::vector<int>& cells, const cell::CellParams& as_new,
                     const fit::Log& log, double end_v, int parallel) {
  CellCheck out{.numbers = cells, .parallel = parallel};
  const std::size_t rows = csv.line.size();
  fit::Log shared = log;
  // The log as read may have been thinned; the cells go by their own rows.
  if (log.t_s.size() != rows) {
    shared.t_s = *csv.column("time_s");
    shared.amps = *csv.column("current_a");
    for (double& a : shared.amps) a /= parallel;
  }
  shared.volts.assign(rows, 0.0);
  std::vector<std::vector<double>> volts;
  for (const int number : cells) {
    volts.push_back(*csv.column(cell_column(number)));
    for (std::size_t k = 0; k < rows; ++k) shared.volts[k] += volts.back()[k] / static_cast<double>(cells.size());
  }
  out.found = fit::cells_of_pack(as_new, shared, std::move(volts), end_v);
  const fit::CellFound& weak = out.found.cells[out.found.weakest];
  out.weak = out.found.shorter - health::kBand * out.found.shorter_sd > kUsual;
  out.out_of_balance = weak.start_charge + health::kBand * weak.start_charge_sd < -kBalance;
  return out;
}

std::string cell_words(const CellCheck& check) {
  const fit::CellsFound& found = check.found;
  const fit::CellFound& cell = found.cells[found.weakest];
  const int number = check.numbers[found.weakest];
  const double wide = maths::exp(health::kBand * cell.capacity_ln_sd);
  const std::string holds =
      fmt::format("holds {:.0f} % of what the others do ({:.0f}\u2013{:.0f})", 100.0 * cell.capacity,
                  100.0 * cell.capacity / wide, 100.0 * cell.capacity * wide);
  const double low = found.shorter - health::kBand * found.shorter_sd;
  const double high = found.shorter + health::kBand * found.shorter_sd;
  const std::string ends = fmt::format(
      "from where this log began it ends the pack at {:.3g} Ah where the others would give {:.3g}: {:.0f} % sooner "
      "({:.0f}\u2013{:.0f})",
      check.parallel * cell.gives_ah, check.parallel * found.cells[found.next].gives_ah, 100.0 * found.shorter,
      100.0 * std::max(0.0, low), 100.0 * high);
  std::string text;
  if (!cell.capacity_told) {
    text = fmt::format("Cell {} ends first, but the log draws too little to tell what each cell holds.", number);
  } else if (check.weak) {
    text = fmt::format("Cell {} is the weak one: it {}; {}.", number, holds, ends);
  } else {
    text = fmt::format("No cell stands out: the weakest, cell {}, {}; {}.", number, holds, ends);
  }
  if (check.out_of_balance)
    text += fmt::format(
        " It began {:.0f} % emptier than the others: out of balance, which a long full charge may level; log it again "
        "after one.",
        -100.0 * cell.start_charge);
  return text;
}

nlohmann::ordered_json cells_json(const CellCheck& check) {
  nlohmann::ordered_json out;
  const fit::CellsFound& found = check.found;
  out["each"] = nlohmann::ordered_json::array();
  for (std::size_t c = 0; c < found.cells.size(); ++c) {
    const fit::CellFound& one = found.cells[c];
    out["each"].push_back({{"cell", check.numbers[c]},
                           {"capacity", band(one.capacity, one.capacity_ln_sd)},
                           {"resistance", band(one.resistance, one.resistance_ln_sd)},
                           {"start_charge", rounded(one.start_charge)},
                           {"capacity_told", one.capacity_told},
                           {"gives_ah", rounded(check.parallel * one.gives_ah)}});
  }
  out["weakest"] = check.numbers[found.weakest];
  out["weak"] = check.weak;
  out["out_of_balance"] = check.out_of_balance;
  const double half = health::kBand * found.shorter_sd;
  out["shorter"] = {{"low", rounded(found.shorter - half)},
                    {"middle", rounded(found.shorter)},
                    {"high", rounded(found.shorter + half)}};
  out["words"] = cell_words(check);
  return out;
}

}  // namespace tillwrap::app
