// The columns of a log as other programs write them, turned into ours where that is certain.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "app/csv_log.hpp"

namespace tillwrap::app {

inline constexpr const char* kLeftColumn = "left_pct";  // what a gauge or a meter showed, 0 to 100

// Whether a column is there, as we write it or as other programs do.
bool has_column(const CsvLog& csv, std::string_view column);

// Afterwards `required` are there in our units, without empty cells, and time rises. Columns named or measured
// otherwise
// ("Voltage [mV]") are renamed and converted, rows with empty cells are left out where they are few; each is put into
// `notes`. Throws decode::InputError: no such column, two that could be it, too many empty cells, time that does not
// run forward.
void settle_columns(CsvLog& csv, const std::string& source, const std::vector<std::string>& required,
                    std::vector<std::string>& notes);

}  // namespace tillwrap::app
