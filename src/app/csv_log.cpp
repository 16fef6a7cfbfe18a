#include "app/csv_log.hpp"

#include <charconv>
#include <cmath>
#include <limits>

#include "decode/node.hpp"

namespace tillwrap::app {

namespace {

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r')) text.remove_suffix(1);
  if (text.size() >= 2 && text.front() == '"' && text.back() == '"') {
    text.remove_prefix(1);
    text.remove_suffix(1);
  }
  return text;
}

}  // namespace

std::string shown(std::string_view text) {
  std::string out(text.substr(0, 40));
  for (char& c : out) {
    if (static_cast<unsigned char>(c) >= 0x80) c = '?';
  }
  return out;
}

const std::vector<double>* CsvLog::column(std::string_view name) const {
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (names[i] == name) return &columns[i];
  }
  return nullptr;
}

CsvLog read_csv_log(std::string_view text, const std::string& source) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  CsvLog log;
  std::size_t line = 0;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    std::string_view row = text.substr(0, end);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    ++line;
    if (trimmed(row).empty()) continue;
    std::vector<std::string_view> cells;
    std::vector<std::size_t> starts;
    std::size_t start = 0;
    while (true) {
      const std::size_t comma = row.find(',', start);
      cells.push_back(trimmed(row.substr(start, comma == std::string_view::npos ? row.size() - start : comma - start)));
      starts.push_back(start + 1);
      if (comma == std::string_view::npos) break;
      start = comma + 1;
    }
    if (log.names.empty()) {
      for (std::size_t i = 0; i < cells.size(); ++i) {
        const std::string name(cells[i]);
        if (name.empty() || (name[0] >= '0' && name[0] <= '9') || name[0] == '-') {
          throw decode::InputError(source, {line, starts[i]}, "the first line holds no column names",
                                   "begin with a header such as time_s,voltage_v,current_a");
        }
        if (name.find(';') != std::string::npos) {
          throw decode::InputError(source, {line, 1}, "columns are separated by semicolons",
                                   "separate them by commas and write decimal points");
        }
        for (const std::string& other : log.names) {
          if (other == name)
            throw decode::InputError(source, {line, starts[i]}, "the column \"" + shown(name) + "\" stands twice",
                                     "name each column once");
        }
        log.names.push_back(name);
      }
      log.columns.resize(log.names.size());
      continue;
    }
    if (cells.size() != log.names.size()) {
      throw decode::InputError(
          source, {line, 1},
          "this row has " + std::to_string(cells.size()) + " cells and the header " + std::to_string(log.names.size()),
          "write one value a column; no decimal commas, no thousands separators");
    }
    for (std::size_t i = 0; i < cells.size(); ++i) {
      double value = std::numeric_limits<double>::quiet_NaN();
      if (!cells[i].empty()) {
        const char* first = cells[i].data() + (cells[i].front() == '+' ? 1 : 0);
        const char* last = cells[i].data() + cells[i].size();
        const auto [stop, code] = std::from_chars(first, last, value);
        if (code != std::errc{} || stop != last) {
          throw decode::InputError(source, {line, starts[i]},
                                   "\"" + shown(cells[i]) + "\" under " + shown(log.names[i]) + " is no number",
                                   "write plain numbers with a decimal point; units belong in the column's name");
        }
        if (!std::isfinite(value)) {
          throw decode::InputError(source, {line, starts[i]},
                                   "\"" + shown(cells[i]) + "\" under " + shown(log.names[i]) + " is not finite",
                                   "leave the row out or write a number");
        }
      }
      log.columns[i].push_back(value);
    }
    log.line.push_back(line);
  }
  if (log.names.empty())
    throw decode::InputError(source, {1, 1}, "the file is empty",
                             "begin with a header such as time_s,voltage_v,current_a");
  if (log.line.empty())
    throw decode::InputError(source, {line, 1}, "there are no rows under the header", "add at least two");
  return log;
}

void require_complete(const CsvLog& log, const std::string& source, const std::vector<std::string>& required) {
  for (const std::string& name : required) {
    const std::vector<double>* column = log.column(name);
    if (column == nullptr) {
      std::string have;
      for (const std::string& other : log.names) have += (have.empty() ? "" : ", ") + shown(other);
      throw decode::InputError(source, {1, 1}, "there is no column " + name, "columns here: " + have);
    }
    for (std::size_t row = 0; row < column->size(); ++row) {
      if (std::isnan((*column)[row]))
        throw decode::InputError(source, {log.line[row], 1}, "nothing is written under " + name,
                                 "fill it or leave the row out");
      if (name == "time_s" && row > 0 && !((*column)[row] > (*column)[row - 1])) {
        throw decode::InputError(source, {log.line[row], 1}, "time does not run forward here",
                                 "sort the rows and leave out doubles");
      }
    }
  }
}

}  // namespace tillwrap::app
