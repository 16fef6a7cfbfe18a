#include "app/cell_columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/fit_columns.hpp"

namespace tillwrap::app {

namespace {

constexpr double kMillivolts = 100.0;  // no cell has so many volts

struct Column {
  int number = 0;
  std::size_t index = 0;
  double factor = 0.0;  // 0: no unit is written
};

// "cell1_v", "Cell 2 [mV]", "CellVoltage3", "cell 4 volts": number and factor to volts. Number 0 is a number.
bool read_name(const std::string& written, Column& out) {
  std::string plain;
  for (const char c : written) {
    if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) plain += c;
    if (c >= 'A' && c <= 'Z') plain += static_cast<char>(c - 'A' + 'a');
  }
  if (!plain.starts_with("cell")) return false;
  plain.erase(0, 4);
  const auto drop = [&](std::string_view word) {
    if (!plain.starts_with(word)) return false;
    plain.erase(0, word.size());
    return true;
  };
  static_cast<void>(drop("voltage") || drop("volts"));
  std::size_t digits = 0;
  while (digits < plain.size() && plain[digits] >= '0' && plain[digits] <= '9') ++digits;
  if (digits == 0 || digits > 2) return false;
  out.number = std::stoi(plain.substr(0, digits));
  plain.erase(0, digits);
  static_cast<void>(drop("voltage") || drop("volts"));
  if (plain == "v") out.factor = 1.0;
  if (plain == "mv") out.factor = 1e-3;
  return plain.empty() || out.factor > 0.0;
}

}  // namespace

std::string cell_column(int number) { return fmt::format("cell{}_v", number); }

std::vector<int> settle_cell_columns(CsvLog& csv, const std::string& source, std::vector<std::string>& notes) {
  std::vector<Column> found;
  for (std::size_t c = 0; c < csv.names.size(); ++c) {
    Column one{.index = c};
    if (!read_name(csv.names[c], one)) continue;
    const std::vector<double>& values = csv.columns[c];
    const bool nothing = std::all_of(values.begin(), values.end(), [](double v) { return std::isnan(v) || v == 0.0; });
    if (nothing) continue;
    const auto same = std::find_if(found.begin(), found.end(), [&](const Column& f) { return f.number == one.number; });
    if (same != found.end())
      throw decode::InputError(source, csv.header[c],
                               fmt::format("\"{}\" and \"{}\" are both of cell {}", shown(csv.names[same->index]),
                                           shown(csv.names[c]), one.number),
                               "keep one of the columns");
    found.push_back(one);
  }
  std::sort(found.begin(), found.end(), [](const Column& a, const Column& b) { return a.number < b.number; });
  if (found.empty()) return {};
  if (found.size() == 1)
    throw decode::InputError(source, csv.header[found.front().index], "one cell alone is set against no other",
                             "give a column for each cell in series, or name this one voltage_v");
  std::vector<int> numbers;
  bool renamed = false;
  for (const Column& one : found) {
    std::vector<double>& values = csv.columns[one.index];
    double factor = one.factor;
    if (factor == 0.0) {
      double most = 0.0;
      for (const double v : values) most = std::isnan(v) ? most : std::max(most, v);
      factor = most > kMillivolts ? 1e-3 : 1.0;
    }
    for (double& v : values) v *= factor;
    renamed = renamed || csv.names[one.index] != cell_column(one.number);
    csv.names[one.index] = cell_column(one.number);
    numbers.push_back(one.number);
  }
  if (renamed) notes.push_back(fmt::format("{}: columns of {} cells are read as their volts", source, found.size()));
  if (!has_column(csv, "voltage_v")) {
    std::vector<double> sum(csv.line.size(), 0.0);
    for (const int number : numbers) {
      const std::vector<double>& values = *csv.column(cell_column(number));
      for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += values[k];
    }
    csv.names.emplace_back("voltage_v");
    csv.columns.push_back(std::move(sum));
    csv.at.push_back(csv.at[found.front().index]);
    csv.header.push_back(csv.header[found.front().index]);
    notes.push_back(source + ": the pack's volts are the sum of its cells'");
  }
  return numbers;
}

}  // namespace tillwrap::app
