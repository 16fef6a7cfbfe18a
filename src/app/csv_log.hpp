// A measured log or load profile as CSV (RFC 4180, header first): columns by name.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "decode/node.hpp"

namespace tillwrap::app {

struct CsvLog {
  std::vector<std::string> names;
  std::vector<std::vector<double>> columns;    // NaN where a cell is empty
  std::vector<std::uint32_t> line;             // of each row, for messages
  std::vector<std::vector<std::uint32_t>> at;  // character in its line at which each cell begins, by column
  std::vector<decode::Place> header;           // where each name stands

  [[nodiscard]] const std::vector<double>* column(std::string_view name) const;  // null when absent
  // Of a cell; of the row where there is no such column.
  [[nodiscard]] decode::Place place(std::size_t row, std::string_view name) const;
};

// A cell or column name for a message: short, and plain ASCII whatever the file's encoding.
std::string shown(std::string_view text);

// Throws decode::InputError: not UTF-8, no header, no rows, a cell that is no number, a row with too few or too many
// cells, a thousands separator, infinity written out. Empty cells are NaN, for the caller to judge.
// Without `repairs` columns are separated by commas, the decimal mark is a point, and NaN written out is refused. With
// it, semicolons or tabs, decimal commas beside them, and NaN or N/A as an empty cell are read as well, and each such
// thing is put into `repairs` as one sentence that begins with `source`.
CsvLog read_csv_log(std::string_view text, const std::string& source, std::vector<std::string>* repairs = nullptr);

// Checks that times rise strictly and that nothing is missing in `required`; throws decode::InputError at the cell.
void require_complete(const CsvLog& log, const std::string& source, const std::vector<std::string>& required);

}  // namespace tillwrap::app
