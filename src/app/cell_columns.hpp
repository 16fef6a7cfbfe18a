// Columns of a log with the volts of each cell in series of a pack, as we write them ("cell1_v") and as others do.
#pragma once

#include <string>
#include <vector>

#include "app/csv_log.hpp"

namespace tillwrap::app {

// Renames them to "cell1_v" ... and turns millivolts into volts, each said in `notes`; cells a smart pack has no room
// for (a register that is zero all along) are dropped. Where there is no column of the pack's own volts, their sum is
// put in. Returns their numbers as written, in order; empty: none. Throws decode::InputError: a cell twice, or one
// alone.
std::vector<int> settle_cell_columns(CsvLog& csv, const std::string& source, std::vector<std::string>& notes);

std::string cell_column(int number);  // "cell1_v"

}  // namespace tillwrap::app
