// `tillwrap health LOG`: what is left of a pack or cell, by a log of it.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "app/fit_log.hpp"
#include "app/health_bands.hpp"
#include "app/health_cells.hpp"
#include "app/health_day.hpp"
#include "app/pack_history.hpp"
#include "app/registers.hpp"
#include "catalogue/catalogue.hpp"
#include "fit/health.hpp"

namespace tillwrap::app {

// A capacity outside these is another pack's, or a wrong size; a lead battery may give a fifth more than its label.
inline constexpr double kLeastCapacity = 0.35, kMostCapacity = 1.3;

struct HealthWords {
  FitLogFile log;
  std::optional<std::string> kind;         // list packs
  std::optional<std::string> chemistry;    // list cells
  std::optional<std::string> capacity_ah;  // with a chemistry
  std::optional<decode::Document> params;  // of the cell as new
  std::optional<std::string> ambient;
  std::optional<int> cells;  // in series in the log, where it is a cell's
};

// What the gauge said against what coulombs and volts say.
struct GaugeCheck {
  Registers registers;
  std::optional<double> claims;  // capacity over the design's
  std::optional<double> counted_ah, flowed_ah;
  bool wrong_capacity = false;  // its claim lies outside the band, by over 5 %
  bool wrong_count = false;     // it counted over 5 % more or less than flowed
};

// Cells of another chemistry that the log is as well of.
struct OtherCells {
  std::string cell;  // list cells
  double rms_v = 0.0;
  health::Band capacity, resistance;
};

struct HealthAnswer {
  enum class By { run_down, part, field_day, gauge_alone };
  std::string log, of;  // file name; kind, cell or parameter file's cell
  By by = By::run_down;
  double covers = 0.0;  // share of the capacity the log draws
  health::Band capacity, resistance;
  bool capacity_told = true,
       resistance_told = true;  // false: the log cannot tell, the band is what was believed before
  double rms_v = 0.0;           // a cell, above 10 % charge
  double drawn_ah = 0.0;        // of the pack
  std::optional<GaugeCheck> gauge;
  std::optional<CellCheck> cells;   // volts of each were logged
  int series = 1;                   // cells in a row in what was logged
  std::string looks_like;           // cell of another chemistry whose volts these are rather; empty: none
  std::vector<OtherCells> as_well;  // volts cannot tell them from these: health depends on which are in it
  bool plausible = true;
  std::string why_not;  // the log does not look like this pack
  std::vector<std::string> notes;
};

// The least kind of what a log may be taken for: capacity and resistance each.
health::Band least_capacity(const HealthAnswer& log);
health::Band most_resistance(const HealthAnswer& log);

// As a test of a pack at that time; where it may be of other cells, as wide as that makes it.
journal::Test log_as_test(const HealthAnswer& log, std::int64_t at_us);

// Throws decode::InputError as `tillwrap fit` does for logs that are spoilt, and for words.
HealthAnswer health_of_log(const HealthWords& words, const catalogue::Catalogue& catalogue);

// Marks the answer as implausible where it lies far from what the pack's earlier tests say.
void compare_with_history(HealthAnswer& log, const PackHistory& before);

// A pack of a journal, and the answer of a log of it that is not in the journal yet; either may be missing.
struct HealthReport {
  const HealthAnswer* log = nullptr;
  const journal::PackState* pack = nullptr;
  PackHistory history;  // with the log's result as the latest test
  // Where the log is as well of other cells: with the least kind of its results. Advice goes by it.
  std::optional<PackHistory> unkind;
  std::optional<WeakTwin> twin;
  const DayHealth* day = nullptr;  // a day's readings weighed as a whole
  std::int64_t now_us = 0;
  std::string journal_id;  // of the line added, where it was
};
// The log counts as the latest test of the pack where it is plausible, at `log_us`; so does a day that tells of it.
// `with_log` is the pack with them and must outlive the report. `pack` and `day` may be null.
HealthReport health_report(std::optional<HealthAnswer>& log, const DayHealth* day, const journal::PackState* pack,
                           const journal::State& state, std::int64_t log_us, std::int64_t now_us,
                           journal::PackState& with_log, const catalogue::Catalogue& catalogue);
std::string health_text(const HealthReport& report);
std::string health_json(const HealthReport& report);  // schema/health.schema.json
nlohmann::ordered_json health_object(const HealthReport& report);
std::string health_advice(const HealthReport& report);
// Even by the kindest end of the least kind reading it is under the limit.
bool to_retire(const HealthReport& report);

}  // namespace tillwrap::app
