// RFC 4180.
#include "sheet/sheet.hpp"

namespace tillwrap::sheet {

std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

std::string csv(const Table& table) {
  std::string out;
  const auto record = [&](const auto& cells, const auto& word) {
    std::string line;
    bool first = true;
    for (const auto& cell : cells) {
      line += (first ? "" : ",") + csv_field(word(cell));
      first = false;
    }
    out += line + "\r\n";
  };
  record(table.columns, [](const Column& column) { return column.title; });
  for (const auto& row : table.rows) record(row, [](const std::string& cell) { return cell; });
  return out;
}

}  // namespace tillwrap::sheet
