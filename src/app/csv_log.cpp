#include "app/csv_log.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

#include "decode/text_guard.hpp"

namespace tillwrap::app {

namespace {

constexpr const char* kHeaderAdvice = "begin with a header such as time_s,voltage_v,current_a";

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  if (text.size() >= 2 && text.front() == '"' && text.back() == '"') {
    text.remove_prefix(1);
    text.remove_suffix(1);
  }
  return text;
}

bool starts_a_character(char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }

// One row cut at its separators; separators inside quotes are text (RFC 4180).
void cut(std::string_view row, char separator, std::vector<std::string_view>& cells,
         std::vector<std::uint32_t>& starts) {
  cells.clear();
  starts.clear();
  std::size_t start = 0;
  std::uint32_t character = 1;
  std::uint32_t start_character = 1;
  bool quoted = false;
  for (std::size_t k = 0; k <= row.size(); ++k) {
    if (k == row.size() || (row[k] == separator && !quoted)) {
      cells.push_back(trimmed(row.substr(start, k - start)));
      starts.push_back(start_character);
      start = k + 1;
      start_character = character + 1;
    } else if (row[k] == '"') {
      quoted = !quoted;
    }
    if (k < row.size() && starts_a_character(row[k])) ++character;
  }
}

// Of a header line: what stands most often outside quotes.
char separator_of(std::string_view header) {
  char best = ',';
  std::ptrdiff_t most = 0;
  for (const char candidate : {',', ';', '\t'}) {
    std::ptrdiff_t count = 0;
    bool quoted = false;
    for (const char c : header) {
      quoted = quoted != (c == '"');
      count += !quoted && c == candidate ? 1 : 0;
    }
    if (count > most) {
      most = count;
      best = candidate;
    }
  }
  return best;
}

bool stands_for_nothing(std::string_view cell) {
  std::string lower(cell.substr(0, 8));
  for (char& c : lower) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return lower == "nan" || lower == "n/a" || lower == "na" || lower == "null" || lower == "none" || lower == "-" ||
         lower == "--";
}

bool whole_number(std::string_view text, double& value) {
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  const auto [stop, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  return code == std::errc{} && stop == text.data() + text.size();
}

// "1 234.5", "1'234,5", "1,234.5": digits in groups of three.
bool looks_grouped(std::string_view text) {
  std::string digits;
  std::size_t marks = 0;
  for (std::size_t k = 0; k < text.size(); ++k) {
    const char c = text[k];
    if ((c >= '0' && c <= '9') || (k == 0 && (c == '-' || c == '+'))) {
      digits += c;
    } else if (c == ',' || c == '.' || c == ' ' || c == '\'' || !starts_a_character(c) ||
               static_cast<unsigned char>(c) >= 0x80U) {
      ++marks;
    } else {
      return false;
    }
  }
  return marks > 0 && digits.size() >= 4;
}

// What is wrong with a cell that is no number, and what to do.
[[noreturn]] void refuse_cell(const std::string& source, decode::Place place, std::string_view cell,
                              const std::string& name) {
  std::string advice =
      "write plain numbers with a decimal point, units in the column's name; leave out a column of words";
  const bool comma = cell.find(',') != std::string_view::npos;
  if (cell.find(':') != std::string_view::npos) {
    advice = "write the time as seconds from the start";
  } else if (looks_grouped(cell)) {
    advice = comma && cell.find('.') == std::string_view::npos && std::count(cell.begin(), cell.end(), ',') == 1
                 ? "a decimal comma or a thousands separator? write a decimal point and no separators"
                 : "no thousands separators: write 1234.5";
  } else if (comma) {
    advice = "no decimal comma between columns that are separated by commas: write a decimal point";
  }
  throw decode::InputError(source, place, "\"" + shown(cell) + "\" under " + shown(name) + " is no number", advice);
}

class Rows {
 public:
  Rows(const std::string& source, std::vector<std::string>* repairs) : source_(source), repairs_(repairs) {}

  CsvLog read(std::string_view text);

 private:
  void header(std::string_view row);
  void row(std::string_view row);
  double number(std::string_view cell, decode::Place place, const std::string& name);
  void say();

  const std::string& source_;
  std::vector<std::string>* repairs_;
  CsvLog log_;
  char separator_ = ',';
  std::uint32_t line_ = 0;
  std::uint32_t decimal_commas_ = 0;  // line of the first
  std::uint32_t decimal_points_ = 0;
  std::uint32_t nothings_ = 0;
  std::vector<std::string_view> cells_;
  std::vector<std::uint32_t> starts_;
};

void Rows::header(std::string_view row) {
  separator_ = separator_of(row);
  if (separator_ != ',' && repairs_ == nullptr) {
    throw decode::InputError(source_, {line_, 1},
                             std::string("columns are separated by ") + (separator_ == ';' ? "semicolons" : "tabs"),
                             "separate them by commas and write decimal points");
  }
  cut(row, separator_, cells_, starts_);
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    const std::string name(cells_[i]);
    const decode::Place place{line_, starts_[i]};
    const bool digit = !name.empty() && name[0] >= '0' && name[0] <= '9' && !name.starts_with("0x");  // a register's
    if (name.empty() || digit || name[0] == '-' || name[0] == '+') {
      throw decode::InputError(source_, place, "the first line holds no column names", kHeaderAdvice);
    }
    for (const std::string& other : log_.names) {
      if (other == name)
        throw decode::InputError(source_, place, "the column \"" + shown(name) + "\" stands twice",
                                 "name each column once");
    }
    log_.names.push_back(name);
    log_.header.push_back(place);
  }
  log_.columns.resize(log_.names.size());
  log_.at.resize(log_.names.size());
}

double Rows::number(std::string_view cell, decode::Place place, const std::string& name) {
  double value = std::numeric_limits<double>::quiet_NaN();
  if (cell.empty()) return value;
  if (repairs_ != nullptr && stands_for_nothing(cell)) {
    if (nothings_ == 0) nothings_ = line_;
    return value;
  }
  if (!whole_number(cell, value)) {
    // One comma among digits, and the columns are separated by something else.
    const std::size_t comma = cell.find(',');
    if (repairs_ == nullptr || separator_ == ',' || comma == std::string_view::npos) {
      refuse_cell(source_, place, cell, name);
    }
    std::string pointed(cell);
    pointed[comma] = '.';
    if (cell.find('.') != std::string_view::npos || !whole_number(pointed, value))
      refuse_cell(source_, place, cell, name);
    if (decimal_commas_ == 0) decimal_commas_ = line_;
  } else if (cell.find('.') != std::string_view::npos && decimal_points_ == 0) {
    decimal_points_ = line_;
  }
  if (decimal_commas_ != 0 && decimal_points_ != 0) {
    throw decode::InputError(source_, place, "decimal commas and decimal points in one file",
                             "which of them separates thousands? write decimal points only");
  }
  if (!std::isfinite(value)) {
    throw decode::InputError(source_, place, "\"" + shown(cell) + "\" under " + shown(name) + " is not finite",
                             "leave the row out or write a number");
  }
  return value;
}

void Rows::row(std::string_view row) {
  cut(row, separator_, cells_, starts_);
  if (cells_.size() != log_.names.size()) {
    throw decode::InputError(
        source_, {line_, 1},
        "this row has " + std::to_string(cells_.size()) + " cells and the header " + std::to_string(log_.names.size()),
        "write one value a column; no decimal commas, no thousands separators");
  }
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    log_.columns[i].push_back(number(cells_[i], {line_, starts_[i]}, log_.names[i]));
    log_.at[i].push_back(starts_[i]);
  }
  log_.line.push_back(line_);
}

void Rows::say() {
  if (repairs_ == nullptr) return;
  if (separator_ != ',')
    repairs_->push_back(source_ + ": columns are separated by " + (separator_ == ';' ? "semicolons" : "tabs"));
  if (decimal_commas_ != 0)
    repairs_->push_back(source_ + ": numbers are read with decimal commas, the first in line " +
                        std::to_string(decimal_commas_));
  if (nothings_ != 0)
    repairs_->push_back(source_ + ": cells such as NaN are taken as empty, the first in line " +
                        std::to_string(nothings_));
}

CsvLog Rows::read(std::string_view text) {
  while (!text.empty()) {
    const std::size_t end = text.find_first_of("\r\n");
    const std::string_view one = text.substr(0, end);
    const bool both = end != std::string_view::npos && text.substr(end, 2) == "\r\n";
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + (both ? 2 : 1));
    ++line_;
    if (trimmed(one).empty()) continue;
    if (log_.names.empty()) {
      header(one);
    } else {
      row(one);
    }
  }
  if (log_.names.empty()) throw decode::InputError(source_, {1, 1}, "the file is empty", kHeaderAdvice);
  if (log_.line.empty())
    throw decode::InputError(source_, {line_, 1}, "there are no rows under the header", "add at least two");
  say();
  return std::move(log_);
}

}  // namespace

std::string shown(std::string_view text) {
  std::string out;
  std::size_t characters = 0;
  for (const char c : text) {
    if (starts_a_character(c) && ++characters > 40) break;
    out += static_cast<unsigned char>(c) < 0x20 ? '?' : c;
  }
  return out;
}

const std::vector<double>* CsvLog::column(std::string_view name) const {
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (names[i] == name) return &columns[i];
  }
  return nullptr;
}

decode::Place CsvLog::place(std::size_t row, std::string_view name) const {
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (names[i] == name) return {line[row], at[i][row]};
  }
  return {line[row], 1};
}

CsvLog read_csv_log(std::string_view text, const std::string& source, std::vector<std::string>* repairs) {
  const std::string_view whole = decode::utf8_text(text, source);
  if (const std::size_t zero = whole.find('\0'); zero != std::string_view::npos)
    throw decode::InputError(source, decode::place_at(whole, zero), "this is a binary file", "export the log as CSV");
  return Rows(source, repairs).read(whole);
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
        throw decode::InputError(source, log.place(row, name), "nothing is written under " + name,
                                 "fill it or leave the row out");
      if (name == "time_s" && row > 0 && !((*column)[row] > (*column)[row - 1])) {
        throw decode::InputError(source, log.place(row, name), "time does not run forward here",
                                 "sort the rows and leave out doubles");
      }
    }
  }
}

}  // namespace tillwrap::app
