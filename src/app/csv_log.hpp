// A measured log or load profile as CSV (RFC 4180, header first, comma-separated, decimal point): columns by name.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace tillwrap::app {

struct CsvLog {
  std::vector<std::string> names;
  std::vector<std::vector<double>> columns;  // NaN where a cell is empty
  std::vector<std::size_t> line;             // of each row, for messages

  [[nodiscard]] const std::vector<double>* column(std::string_view name) const;  // null when absent
};

// A cell or column name for a message: short, and plain ASCII whatever the file's encoding.
std::string shown(std::string_view text);

// Throws decode::InputError: no header, no rows, a cell that is no number, a row with too few or too many cells, a
// decimal comma or thousands separator, NaN or infinity written out. Empty cells are kept as NaN for the caller.
CsvLog read_csv_log(std::string_view text, const std::string& source);

// Checks that times rise strictly and that nothing is missing in `required`; throws decode::InputError at the line.
void require_complete(const CsvLog& log, const std::string& source, const std::vector<std::string>& required);

}  // namespace tillwrap::app
