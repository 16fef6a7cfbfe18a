#include <algorithm>

#include "sheet/sheet.hpp"

namespace tillwrap::sheet {

void drop_empty_columns(Table& table) {
  for (std::size_t c = table.columns.size(); c-- > 0;) {
    const bool used = table.columns[c].blank || std::any_of(table.rows.begin(), table.rows.end(),
                                                            [&](const auto& row) { return !row[c].empty(); });
    if (used) continue;
    table.columns.erase(table.columns.begin() + static_cast<std::ptrdiff_t>(c));
    for (auto& row : table.rows) row.erase(row.begin() + static_cast<std::ptrdiff_t>(c));
  }
}

}  // namespace tillwrap::sheet
