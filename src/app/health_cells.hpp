// Which cell of a pack is the weak one, where a log has the volts of each.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/cell_columns.hpp"
#include "fit/cells.hpp"

namespace tillwrap::app {

struct CellCheck {
  std::vector<int> numbers;  // as the columns are named
  fit::CellsFound found;
  int parallel = 1;   // as many of such cells give its Ah together
  bool weak = false;  // the weakest ends the pack sooner than cells of one pack usually do, by more than chance
  bool out_of_balance = false;  // it began emptier than the others, by more than chance and a hundredth
};

// Makes all columns the log needs complete and in our units (settle_columns), then compares. Throws
// decode::InputError: not as many as are in series, or they do not add up to the pack's volts.
void check_cell_columns(CsvLog& csv, const std::string& source, const std::vector<int>& cells, int series,
                        std::vector<std::string>& notes);

// `log` as read of the same rows, of one mean cell (volts and amps).
CellCheck cell_check(const CsvLog& csv, const std::vector<int>& cells, const cell::CellParams& as_new,
                     const fit::Log& log, double end_v, int parallel);

std::string cell_words(const CellCheck& check);
nlohmann::ordered_json cells_json(const CellCheck& check);

}  // namespace tillwrap::app
